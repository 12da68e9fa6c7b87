package ledger

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
)

// What the tests of this package share: books of a few rows, and entries.

// headerBefore returns the header of a file as it was before the contract had its late columns.
func headerBefore(file string) string {
	header := Header(file)
	for _, column := range lateColumns[file] {
		header = strings.Replace(header, ","+column, "", 1)
	}
	return header
}

// lines returns a file of the given rows, which have no late columns.
func lines(file string, rows ...string) string {
	if len(rows) == 0 {
		return headerBefore(file)
	}
	return headerBefore(file) + strings.Join(rows, "\n") + "\n"
}

// The spools that every test book has.
var bought = []string{
	id(1) + ",2026-10-01T09:00:00+02:00,PLA-1,PLA,white,,,,1.75,1000,card,,20,,,,,",
	id(2) + ",2026-10-01T09:00:00+02:00,PLA-2,pla,black,,,,1.75,1000,,180,20,,,,,",
}

// write puts files into dir over those that every test book has.
func write(t testing.TB, dir string, files map[string]string) *Book {
	t.Helper()
	all := map[string]string{
		SettingsFile: lines(SettingsFile, "currency,EUR"),
		Materials:    lines(Materials, "PLA,1.24,,"),
		Cores:        lines(Cores, "card,148,,"),
		Scales:       lines(Scales, "bench,0.1,,,"),
		Purchases:    lines(Purchases, bought...),
	}
	maps.Copy(all, files)
	for name, text := range all {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return &Book{Dir: dir}
}

func newBook(t testing.TB, files map[string]string) *Book {
	t.Helper()
	return write(t, t.TempDir(), files)
}

func view(t testing.TB, b *Book) *View {
	t.Helper()
	v, err := b.View(Time{})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func viewAsOf(t testing.TB, b *Book, at string) *View {
	t.Helper()
	v, err := b.View(mustTime(at))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func read(t testing.TB, b *Book, file string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(b.Dir, file))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func mustTime(s string) Time {
	at, err := ParseTime(s)
	if err != nil {
		panic(err)
	}
	return at
}

// id returns the entry number n, in the alphabet of ULIDs.
func id(n int) string { return fmt.Sprintf("01ARZ3NDEKTSV4RRFFQ69%05d", n) }

// ids returns a source of ascending entries from number n on.
func ids(n int64) func() string {
	next := atomic.Int64{}
	next.Store(n)
	return func() string { return id(int(next.Add(1) - 1)) }
}

// names tells which rows count, in their order.
func names[T any, R RowOf[T]](rows []*T) string {
	var all []string
	for _, row := range rows {
		all = append(all, R(row).head().Name())
	}
	return strings.Join(all, " ")
}

// tally is a fold that counts rows and grams by name.
type tally struct {
	rows  map[string]int
	grams Grams
}

func (f *tally) Reset() { f.rows, f.grams = map[string]int{}, 0 }

func (f *tally) Add(row *Consumption) {
	f.rows[strings.Clone(row.Name())]++
	f.grams += row.Total()
}

func consumed(t testing.TB, v *View) *tally {
	t.Helper()
	f := &tally{}
	f.Reset()
	if err := v.FoldConsumption(f); err != nil {
		t.Fatal(err)
	}
	return f
}

// wantError checks that err is there and holds each of the parts.
func wantError(t testing.TB, err error, parts ...string) {
	t.Helper()
	if err == nil {
		t.Errorf("no error, want one with %q", parts)
		return
	}
	for _, part := range parts {
		if !strings.Contains(err.Error(), part) {
			t.Errorf("got error %q, want %q in it", err, part)
		}
	}
}
