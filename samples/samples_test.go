package samples

import (
	"crypto/sha256"
	"encoding/csv"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/oklog/ulid/v2"
)

// The header lines of the contract, word for word.
var headers = map[string]string{
	"limits.csv":      "printer,nozzle,material,beside,why",
	"nozzles.csv":     "printer,nozzle,x_min_mm,x_max_mm,y_min_mm,y_max_mm,z_max_mm,note",
	"settings.csv":    "setting,value",
	"materials.csv":   "material,density_g_cm3,density_u_g_cm3,note",
	"cores.csv":       "core,tare_g,tare_u_g,note",
	"scales.csv":      "scale,division_g,error_g,repeat_g,note",
	"printers.csv":    "printer,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm,note,price,owned",
	"clients.csv":     "client,name,waste_billed,scrap_billed,from,note",
	"purchases.csv":   "entry,at,spool,material,colour,swatch,maker,lot,diameter_mm,net_g,core,tare_g,price,currency,supplier,place,from,note,gross_g,scale",
	"weighins.csv":    "entry,at,spool,gross_g,scale,state,note",
	"consumption.csv": "entry,at,job,client,printer,spool,part_g,support_g,prime_g,purge_g,changes,outcome,basis,note,slot,file",
	"queue.csv":       "entry,at,job,client,printer,slot,spool,material,colour,part_g,support_g,prime_g,purge_g,changes,due,basis,file,note",
	"moves.csv":       "entry,at,spool,place,note",
	"voids.csv":       "entry,at,target,why",
	"sliced.csv":      "entry,at,file,layers,sequence,boxes,note",
	"seals.csv":       "entry,at,through,ledger,month,rows,sha256",
	"bills.csv":       "entry,at,bill,client,from,to,currency,billed,lines,sha256,note",
}

// book reads every file of a folder, sure that it holds the files of a book, plain LF and no others.
func book(t *testing.T, dir string) map[string][][]string {
	t.Helper()
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	rows := make(map[string][][]string)
	for _, f := range files {
		if filepath.Ext(f.Name()) != ".csv" {
			continue // a sliced file is no part of the book
		}
		text, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		head, _, _ := strings.Cut(string(text), "\n")
		if want, ok := headers[f.Name()]; !ok || head != want && !strings.HasPrefix(want, head+",") { // without late columns
			t.Errorf("%s begins %q, want %q", f.Name(), head, want)
		}
		if strings.Contains(string(text), "\r") || !strings.HasSuffix(string(text), "\n") {
			t.Errorf("%s does not end its lines with LF alone", f.Name())
		}
		all, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
		if err != nil {
			t.Fatalf("%s: %v", f.Name(), err)
		}
		rows[f.Name()] = all[1:]
	}
	return rows
}

// ascending checks a ledger's entries: true ULIDs, each above the one before, made at `at` or at most
// late after it.
func ascending(t *testing.T, rows map[string][][]string, late time.Duration) {
	t.Helper()
	for name, lines := range rows {
		if !strings.HasPrefix(headers[name], "entry,at,") {
			continue
		}
		var last ulid.ULID
		for i, line := range lines {
			id, err := ulid.ParseStrict(line[0])
			if err != nil {
				t.Fatalf("%s:%d: entry %q: %v", name, i+2, line[0], err)
			}
			if id.Compare(last) <= 0 {
				t.Errorf("%s:%d: entry %v does not come after %v", name, i+2, id, last)
			}
			last = id
			at, err := time.Parse(time.RFC3339, line[1])
			if err != nil {
				t.Fatalf("%s:%d: %v", name, i+2, err)
			}
			if d := ulid.Time(id.Time()).Sub(at); d < 0 || d > late {
				t.Errorf("%s:%d: entry made %v after %s", name, i+2, d, line[1])
			}
		}
	}
}

func TestDemo(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "new", "demo")
	if err := CopyDemo(dir); err != nil {
		t.Fatal(err)
	}
	rows := book(t, dir)
	if len(rows) != len(headers) {
		t.Errorf("%d files, want %d", len(rows), len(headers))
	}
	ascending(t, rows, 24*time.Hour) // one job was booked the morning after

	asOf, err := time.Parse(time.RFC3339, DemoAsOf)
	if err != nil {
		t.Fatal(err)
	}
	turned := time.Date(2026, time.October, 25, 1, 0, 0, 0, time.UTC) // central Europe leaves summer time
	for name, lines := range rows {
		for i, line := range lines {
			if !strings.HasPrefix(headers[name], "entry,at,") {
				continue
			}
			at, _ := time.Parse(time.RFC3339, line[1])
			if at.After(asOf) {
				t.Errorf("%s:%d: %s is after DemoAsOf", name, i+2, line[1])
			}
			if strings.HasSuffix(line[1], "+02:00") != at.Before(turned) {
				t.Errorf("%s:%d: %s has the wrong offset", name, i+2, line[1])
			}
		}
	}

	// Whatever a row names is in the book.
	known := func(name string, column int) map[string]bool {
		set := map[string]bool{"": true}
		for _, line := range rows[name] {
			set[line[column]] = true
		}
		return set
	}
	for _, ref := range []struct {
		file   string
		column string
		in     map[string]bool
	}{
		{"purchases.csv", "material", known("materials.csv", 0)},
		{"purchases.csv", "core", known("cores.csv", 0)},
		{"purchases.csv", "from", known("purchases.csv", 2)},
		{"weighins.csv", "spool", known("purchases.csv", 2)},
		{"weighins.csv", "scale", known("scales.csv", 0)},
		{"consumption.csv", "spool", known("purchases.csv", 2)},
		{"consumption.csv", "client", known("clients.csv", 0)},
		{"consumption.csv", "printer", known("printers.csv", 0)},
		{"queue.csv", "spool", known("purchases.csv", 2)},
		{"queue.csv", "client", known("clients.csv", 0)},
		{"queue.csv", "printer", known("printers.csv", 0)},
		{"queue.csv", "material", known("materials.csv", 0)},
		{"moves.csv", "spool", known("purchases.csv", 2)},
		{"voids.csv", "target", known("consumption.csv", 0)},
	} {
		column := slices.Index(strings.Split(headers[ref.file], ","), ref.column)
		for i, line := range rows[ref.file] {
			if !ref.in[line[column]] {
				t.Errorf("%s:%d: %s %q is not in the book", ref.file, i+2, ref.column, line[column])
			}
		}
	}
}

func TestCopyDemoNeverOverwrites(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	mine := filepath.Join(dir, "weighins.csv")
	if err := os.WriteFile(mine, []byte("mine"), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := CopyDemo(dir); !errors.Is(err, fs.ErrExist) {
		t.Errorf("got %v, want fs.ErrExist", err)
	}
	if text, err := os.ReadFile(mine); err != nil || string(text) != "mine" {
		t.Errorf("the file there was changed to %q, %v", text, err)
	}
	if files, _ := os.ReadDir(dir); len(files) != 1 {
		t.Errorf("%d files, want the one that was there", len(files))
	}
}

func TestBig(t *testing.T) {
	t.Parallel()
	for _, b := range []Big{
		{Spools: 40, Rows: 10_000, Seed: 1},
		{Spools: 2, Rows: 3_000, Seed: 2},
		{Spools: 300, Rows: 1_000, Seed: 3},
		{Spools: 30, Rows: 7, Seed: 4},
		{Spools: 1, Rows: 1, Seed: 5},
		{},
	} {
		dir := t.TempDir()
		if err := b.WriteTo(dir); err != nil {
			t.Fatalf("%+v: %v", b, err)
		}
		rows := book(t, dir)
		ascending(t, rows, time.Minute)
		if got := len(rows["consumption.csv"]); got != b.Rows {
			t.Errorf("%+v: %d rows of consumption", b, got)
		}
		if got := len(rows["purchases.csv"]); got != b.Spools {
			t.Errorf("%+v: %d purchases", b, got)
		}
		bought := make(map[string]string)
		for _, line := range rows["purchases.csv"] {
			bought[line[2]] = line[1]
		}
		weighed := make(map[string]int)
		ended := make(map[string]bool)
		for _, line := range rows["weighins.csv"] {
			weighed[line[2]]++
			ended[line[2]] = ended[line[2]] || line[5] == "discarded"
		}
		for spool, n := range weighed {
			if n > bigWeighIns {
				t.Errorf("%+v: %s was weighed %d times", b, spool, n)
			}
		}
		taken := make(map[string]bool)
		entries := make(map[string]bool)
		for _, line := range rows["consumption.csv"] {
			entries[line[0]] = true
			if at, ok := bought[line[5]]; !ok || line[1] < at {
				t.Errorf("%+v: %s is used at %s, bought %q", b, line[5], line[1], at)
			}
			if key := line[2] + " " + line[5]; taken[key] {
				t.Errorf("%+v: job and spool %s stand twice", b, key)
			} else {
				taken[key] = true
			}
		}
		for _, line := range rows["voids.csv"] {
			if !entries[line[2]] {
				t.Errorf("%+v: void of nothing: %s", b, line[2])
			}
		}
		jobs := make(map[string]bool)
		for _, line := range rows["queue.csv"] {
			jobs[line[2]] = true
			if line[6] != "" && ended[line[6]] {
				t.Errorf("%+v: the queue names %s, which has ended", b, line[6])
			}
		}
		if b.Spools > 0 && len(jobs) != bigQueued {
			t.Errorf("%+v: %d jobs queued, want %d", b, len(jobs), bigQueued)
		}
	}
	if err := (Big{Rows: 1}).WriteTo(t.TempDir()); err == nil {
		t.Error("rows without spools were accepted")
	}
}

func TestBigIsDeterministic(t *testing.T) {
	t.Parallel()
	sum := func(b Big) (all [sha256.Size]byte) {
		dir := t.TempDir()
		if err := b.WriteTo(dir); err != nil {
			t.Fatal(err)
		}
		files, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		h := sha256.New()
		for _, f := range files {
			text, err := os.ReadFile(filepath.Join(dir, f.Name()))
			if err != nil {
				t.Fatal(err)
			}
			h.Write(text)
		}
		return [sha256.Size]byte(h.Sum(nil))
	}
	b := Big{Spools: 50, Rows: 5_000, Seed: 7}
	if first, again := sum(b), sum(b); first != again {
		t.Error("the same values gave different books")
	}
	other := b
	other.Seed = 8
	if sum(b) == sum(other) {
		t.Error("another seed gave the same book")
	}
}

func TestBigRowsAreOfRealSize(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	b := Big{Spools: 100, Rows: 20_000, Seed: 9}
	if err := b.WriteTo(dir); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(filepath.Join(dir, "consumption.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if mean := float64(info.Size()) / float64(b.Rows); mean < 98 || mean > 108 {
		t.Errorf("%.1f bytes a row, want about 103", mean)
	}
	rows := book(t, dir)
	jobs := make(map[string]bool)
	quoted := 0
	for _, line := range rows["consumption.csv"] {
		jobs[line[2]] = true
		if strings.Contains(line[13], ",") {
			quoted++
		}
	}
	if mean := float64(b.Rows) / float64(len(jobs)); mean < 3.5 || mean > 4.5 {
		t.Errorf("%.2f rows a job, want about 4", mean)
	}
	if share := float64(quoted) / float64(b.Rows); share < 0.015 || share > 0.025 {
		t.Errorf("%.3f of the notes are quoted, want 0.02", share)
	}
}

func BenchmarkBig(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if err := (Big{Spools: 5_000, Rows: 1_000_000, Seed: 1}).WriteTo(b.TempDir()); err != nil {
			b.Fatal(err)
		}
	}
}
