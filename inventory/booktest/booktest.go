// Package booktest makes books for tests: of rows that a test writes down, or drawn at random to hold the laws of every answer.
package booktest

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"tarebook/inventory"
	"tarebook/ledger"
)

// A book in a test is a text of one row a line: the file without its .csv, then column=value words. at=N is N hours
// after the start of 2026; a purchase is 1.75 mm PLA unless it says otherwise. Tables that are not written have
// what stands in defaults.

// Start is hour 0 of a test's book.
var Start = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

var defaults = map[string]string{
	ledger.Materials: "material,density_g_cm3,density_u_g_cm3,note\nPLA,1.24,,\nPETG,1.27,,\n",
	ledger.Cores:     "core,tare_g,tare_u_g,note\ncard,180,,\nplastic,240,3,\nunweighed,,,\n",
	// Named after what they do to u: exact reads what is there; coarse has every term.
	ledger.Scales:   "scale,division_g,error_g,repeat_g,note\nexact,0,0,0,\nfine,0.1,0.1,,\ncoarse,2,3,1,\n",
	ledger.Printers: "printer,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm,note\nBench,1,0,0,0,0,0,\nLong,4,0,0,0,0,1000,\n",
}

// headers are made once: a simulation asks for them often.
var headers = sync.OnceValue(func() map[string]string {
	all := map[string]string{}
	for _, file := range slices.Concat(ledger.Tables, ledger.Ledgers) {
		all[file] = ledger.Header(file)
	}
	return all
})

// Lines returns the rows of a text.
func Lines(text string) []string {
	var all []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" {
			all = append(all, line)
		}
	}
	return all
}

// Write makes a book of rows. In a folder that holds one it leaves the tables that no row speaks of.
func Write(t testing.TB, dir string, rows []string) *ledger.Book {
	t.Helper()
	files := map[string][][]string{ledger.SettingsFile: nil, ledger.Purchases: nil, ledger.Weighins: nil, ledger.ConsumptionFile: nil, ledger.Queue: nil}
	for _, row := range rows {
		words := strings.Fields(row)
		file := words[0] + ".csv"
		columns := strings.Split(strings.TrimSpace(headers()[file]), ",")
		record := make([]string, len(columns))
		set := func(column, value string) {
			i := slices.Index(columns, column)
			if i < 0 {
				t.Fatalf("%s: no column %s", row, column)
			}
			record[i] = value
		}
		if file == ledger.Purchases {
			set("material", "PLA")
			set("diameter_mm", "1.75")
		}
		for _, word := range words[1:] {
			column, value, _ := strings.Cut(word, "=")
			if column == "at" || column == "due" {
				if hours, err := strconv.Atoi(value); err == nil {
					value = Start.Add(time.Duration(hours) * time.Hour).Format(time.RFC3339)
				}
			}
			set(column, value)
		}
		files[file] = append(files[file], record)
	}
	for file, text := range defaults {
		if _, ok := files[file]; !ok && !there(dir, file) {
			put(t, dir, file, text)
		}
	}
	for file, records := range files {
		var b strings.Builder
		b.WriteString(headers()[file])
		w := csv.NewWriter(&b)
		if err := w.WriteAll(records); err != nil {
			t.Fatal(err)
		}
		put(t, dir, file, b.String())
	}
	book, err := ledger.Find(dir, "the test", "")
	if err != nil {
		t.Fatal(err)
	}
	return book
}

func there(dir, file string) bool {
	_, err := os.Stat(filepath.Join(dir, file))
	return err == nil
}

func put(t testing.TB, dir, file, text string) {
	t.Helper()
	path := filepath.Join(dir, file)
	os.Remove(path) // to write over a file makes some file systems wait for the disk
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

// View returns a view of a book of such a text.
func View(t testing.TB, text string) *ledger.View {
	t.Helper()
	v, err := Write(t, t.TempDir(), Lines(text)).View(ledger.Time{})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Shelf loads the shelf of a book of such a text.
func Shelf(t testing.TB, text string) *inventory.Shelf {
	t.Helper()
	s, err := inventory.Load(View(t, text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Check checks the queue of a book of such a text.
func Check(t testing.TB, text string) (*inventory.Shelf, []*inventory.Job) {
	t.Helper()
	s, jobs, err := inventory.Check(View(t, text))
	if err != nil {
		t.Fatal(err)
	}
	return s, jobs
}

// Near fails a test where two figures are further apart than a relative difference.
func Near(t testing.TB, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*max(math.Abs(want), 1e-3)) {
		t.Errorf("%s = %.15g, want %.15g", what, got, want)
	}
}

// Printed holds got against a figure as a source prints it: to half a unit of its last digit.
func Printed(t testing.TB, what string, got float64, figure string) {
	t.Helper()
	want, err := strconv.ParseFloat(figure, 64)
	if err != nil {
		t.Fatal(err)
	}
	_, decimals, _ := strings.Cut(figure, ".")
	if half := 0.5 * math.Pow10(-len(decimals)); math.Abs(got-want) > half*(1+1e-9) {
		t.Errorf("%s = %.15g, printed as %s", what, got, figure)
	}
}

// Grams parses grams, which may be below 0.
func Grams(text string) ledger.Grams {
	negative := strings.HasPrefix(text, "-")
	g, err := ledger.ParseGrams(strings.TrimPrefix(text, "-"))
	if err != nil {
		panic(err)
	}
	if negative {
		return -g
	}
	return g
}
