package hands

import (
	"encoding/csv"
	"errors"
	"fmt"
	"maps"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

const (
	purchases   = "purchases.csv"
	weighins    = "weighins.csv"
	consumption = "consumption.csv"
	queue       = "queue.csv"
	moves       = "moves.csv"
	voids       = "voids.csv"
	seals       = "seals.csv"
)

var ledgers = []string{purchases, weighins, consumption, queue, moves, voids, seals}

// newBook starts a book with a client and spools to weigh (W-) and to print from (C-).
func newBook(t *testing.T, p *program, dir string, spools int) {
	t.Helper()
	p.must(t, "init", dir)
	addLine(t, filepath.Join(dir, "clients.csv"), "pellam,Pellam puppet stage,1,0,,")
	for _, prefix := range []string{"W", "C"} {
		p.must(t, "--book", dir, "buy", prefix, "--count", strconv.Itoa(spools), "--total", "240.10", "--material", "PLA", "--colour", "ash",
			"--net", "1kg", "--core", "card 1 kg")
	}
}

// ids are the spools that newBook buys.
func ids(prefix string, spools int) []string {
	var list []string
	for n := range spools {
		list = append(list, fmt.Sprintf("%s-%03d", prefix, n+1))
	}
	return list
}

func addLine(t *testing.T, path, line string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	_, err = f.WriteString(line + "\n")
	if err := errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
}

// contents are the files of a book; .tarebook is no part of it.
func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil || len(names) == 0 {
		t.Fatalf("no files in %s: %v", dir, err)
	}
	files := map[string]string{}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		files[filepath.Base(name)] = string(text)
	}
	return files
}

// changed names the files that differ.
func changed(before, after map[string]string) []string {
	var list []string
	for name, text := range after {
		if old, ok := before[name]; !ok || old != text {
			list = append(list, fmt.Sprintf("%s: %d bytes, were %d", name, len(text), len(old)))
		}
	}
	for name := range before {
		if _, ok := after[name]; !ok {
			list = append(list, name+" is gone")
		}
	}
	slices.Sort(list)
	return list
}

// row is one row of a ledger by column.
type row map[string]string

// readRows reads a ledger the strict way: whole lines, each with as many fields as the header, each value of its kind.
// What is wrong with a line does not hide the others.
func readRows(path string) (rows []row, faults []string) {
	file := filepath.Base(path)
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, []string{err.Error()}
	}
	var header []string
	line := 0
	bad := func(format string, args ...any) {
		faults = append(faults, fmt.Sprintf("%s:%d: %s", file, line, fmt.Sprintf(format, args...)))
	}
	for l := range strings.Lines(string(text)) {
		line++
		fields, err := csv.NewReader(strings.NewReader(l)).Read() // no field of the program's has a line end in it
		switch {
		case !strings.HasSuffix(l, "\n"):
			bad("the last line is torn: %q", l)
			continue
		case err != nil:
			bad("%v", err)
			continue
		case header == nil:
			header = fields
			continue
		case len(fields) != len(header):
			bad("%d fields, want %d: %q", len(fields), len(header), l)
			continue
		}
		r := row{}
		for i, column := range header {
			r[column] = fields[i]
			if strings.HasSuffix(column, "_g") && fields[i] != "" {
				if _, err := strconv.ParseFloat(fields[i], 64); err != nil {
					bad("%s: %v", column, err)
				}
			}
		}
		if _, err := time.Parse(time.RFC3339Nano, r["at"]); err != nil {
			bad("%v", err)
		}
		if ulid(r["entry"]) == nil {
			bad("entry %q", r["entry"])
		}
		rows = append(rows, r)
	}
	return rows, faults
}

// ulid is the number that an entry writes in Crockford's base 32, nil when it is none.
func ulid(entry string) *big.Int {
	n := new(big.Int)
	for _, c := range entry {
		digit := strings.IndexRune("0123456789ABCDEFGHJKMNPQRSTVWXYZ", c)
		if digit < 0 {
			return nil
		}
		n.Add(n.Lsh(n, 5), big.NewInt(int64(digit)))
	}
	if len(entry) != 26 || n.BitLen() > 128 {
		return nil
	}
	return n
}

// consecutive tells whether entry b was made right after a, by the same command.
func consecutive(a, b string) bool {
	x, y := ulid(a), ulid(b)
	return x != nil && y != nil && a[:10] == b[:10] && x.Add(x, big.NewInt(1)).Cmp(y) == 0
}

// holds tells why a row is not what was recorded.
func (r row) holds(want row) error {
	for _, column := range slices.Sorted(maps.Keys(want)) {
		if got := r[column]; !sameValue(got, want[column]) {
			return fmt.Errorf("%s %q, want %q", column, got, want[column])
		}
	}
	return nil
}

func sameValue(a, b string) bool {
	if a == b {
		return true
	}
	x, err1 := strconv.ParseFloat(a, 64)
	y, err2 := strconv.ParseFloat(b, 64)
	return err1 == nil && err2 == nil && x == y
}

// audit is what was found in a book of the commands that were run on it.
type audit struct {
	rows        int // of these commands, in all ledgers
	whole, none int // commands not acknowledged, with all their rows and with none
}

// hold reads every ledger and requires of each command all of its rows or none, all when it was acknowledged, and no
// row that nobody recorded.
func hold(t *testing.T, dir string, commands []*command) audit {
	t.Helper()
	wrong := &faults{t: t}
	defer wrong.tell()
	found := map[string][]row{}
	known := map[string]string{} // mark to file
	for _, c := range commands {
		known[c.mark] = c.file
	}
	var a audit
	entries := map[string]bool{}
	for _, file := range ledgers {
		rows, bad := readRows(filepath.Join(dir, file))
		for _, b := range bad {
			wrong.add("a line that is no row", b)
		}
		for _, r := range rows {
			if entries[r["entry"]] {
				wrong.add("an entry twice", file+" "+r["entry"])
			}
			entries[r["entry"]] = true
			if file == purchases {
				continue
			}
			mark := r[markColumns[file]]
			if known[mark] != file {
				wrong.add("a row that nobody recorded", fmt.Sprint(file, " ", r))
			}
			found[mark] = append(found[mark], r)
			a.rows++
		}
	}
	for _, c := range commands {
		rows := found[c.mark]
		told := fmt.Sprintf("%s: %d of %d rows: tarebook %s", c.mark, len(rows), len(c.rows), strings.Join(c.args, " "))
		switch {
		case len(rows) != len(c.rows) && c.acknowledged:
			wrong.add("acknowledged and not there", told)
			continue
		case len(rows) == 0:
			a.none++
		case len(rows) != len(c.rows):
			wrong.add("a part of a batch", told)
			continue
		case !c.acknowledged:
			a.whole++
		}
		for i, r := range rows {
			if err := r.holds(c.rows[i]); err != nil {
				wrong.add("another row than was recorded", fmt.Sprintf("%s: row %d: %v", c.mark, i+1, err))
			}
			if i > 0 && !consecutive(rows[i-1]["entry"], r["entry"]) {
				wrong.add("entries that do not follow each other", c.mark+" "+rows[i-1]["entry"]+" "+r["entry"])
			}
		}
	}
	return a
}
