package ledger

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// gatheredRows is a shared fold that gathers rows in words.
type gatheredRows struct{ rows []string }

func (f *gatheredRows) Add(row *Consumption) {
	f.rows = append(f.rows, fmt.Sprint(strings.ToUpper(row.Entry), row.At, row.Job, row.Client, row.Spool, row.PartG, row.Outcome, row.Note))
}
func (f *gatheredRows) Reset()            { f.rows = nil }
func (f *gatheredRows) Split() SharedFold { return &gatheredRows{} }
func (f *gatheredRows) Join(o SharedFold) { f.rows = append(f.rows, o.(*gatheredRows).rows...) }

// alone hides that a fold can be shared.
type alone struct{ ConsumptionFold }

// gatheredIDs is a shared fold that gathers the IDs of rows.
type gatheredIDs struct{ ids []string }

func (f *gatheredIDs) Add(row *Consumption) { f.ids = append(f.ids, strings.Clone(row.ID)) }
func (f *gatheredIDs) Reset()               { f.ids = nil }
func (f *gatheredIDs) Split() SharedFold    { return &gatheredIDs{} }
func (f *gatheredIDs) Join(o SharedFold)    { f.ids = append(f.ids, o.(*gatheredIDs).ids...) }

// plainly is what FoldConsumption should do, one row after the other with all of them in memory. ids are of all sound rows, each once.
func plainly(v *View, content string) (rows, ids, conflicts []string, faults Faults) {
	var all []*Consumption
	row := &Consumption{}
	scanRows(scanText(content), row, func(int, string) {
		if !v.known[row.Spool] {
			faults = append(faults, &RowError{ConsumptionFile, row.Line, "spool " + row.Spool + " was never bought", ""})
		} else if kept := row.Clone(); v.asOf.IsZero() || !kept.At.After(v.asOf) {
			kept.setID()
			all = append(all, kept)
			ids = append(ids, kept.ID)
		}
	}, func(e *RowError, _ []string) { faults = append(faults, e) })
	faults.sort()
	kept, conflicting := withoutCopies(all)
	f := &gatheredRows{}
	for _, row := range kept {
		if !v.hidden[row.ID] {
			f.Add(row)
		}
	}
	for id := range conflicting {
		if !v.hidden[id] {
			conflicts = append(conflicts, id)
		}
	}
	slices.Sort(f.rows)
	slices.Sort(conflicts)
	slices.Sort(ids)
	return f.rows, slices.Compact(ids), conflicts, faults
}

// However rows are disordered, repeated, voided and broken, and however many workers share the file in blocks of whatever size, a fold
// gets the rows that one look at all of them in turn gives.
func TestFoldIsOneLookAtAllRows(t *testing.T) {
	t.Parallel()
	header := strings.Split(strings.TrimSuffix(headerBefore(ConsumptionFile), "\n"), ",")
	rapid.Check(t, func(rt *rapid.T) {
		var rows []string
		disorder := rapid.IntRange(0, 20).Draw(rt, "disorder")
		odd := func(what string) bool { return rapid.IntRange(0, 100).Draw(rt, what) < disorder }
		broken := rapid.Bool().Draw(rt, "broken")
		for i := range rapid.IntRange(0, 150).Draw(rt, "rows") {
			entry, grams, spool, job := id(100+i), "1", "PLA-1", "vase"
			switch {
			case odd("from the future"):
				entry = id(90000 + i)
			case odd("anywhere"):
				entry = id(rapid.IntRange(50, 250).Draw(rt, "place"))
			case odd("none"):
				entry = ""
			case odd("lower case"):
				entry = strings.ToLower(entry)
			}
			if odd("other grams") {
				grams = "2"
			}
			if odd("other case") {
				spool = "pla-2"
			}
			if odd("quoted") {
				job = "\"left, right\""
			}
			if broken && odd("unknown") {
				spool = "PLA-9"
			}
			if broken && odd("no grams") {
				grams = "x"
			}
			at := fmt.Sprintf("2026-11-%02dT18:30:00Z", 1+rapid.IntRange(0, 9).Draw(rt, "day"))
			rows = append(rows, strings.Join([]string{entry, at, job, "", "", spool, grams, "", "", "", "", "", "", ""}[:len(header)], ","))
			if odd("twice") {
				rows = append(rows, rows[rapid.IntRange(0, len(rows)-1).Draw(rt, "of")])
			}
		}
		var voids []string
		for i := range rapid.IntRange(0, 3).Draw(rt, "voids") {
			voids = append(voids, id(99000+i)+",2026-11-28T18:30:00Z,"+id(100+rapid.IntRange(0, 150).Draw(rt, "target"))+",")
		}
		content := lines(ConsumptionFile, rows...)
		book := newBook(t, map[string]string{ConsumptionFile: content, Voids: lines(Voids, voids...)})
		asOf := rapid.SampledFrom([]string{"", "2026-11-05T18:30:00Z"}).Draw(rt, "as of")
		at, _ := ParseTime(asOf)
		v, err := book.View(at)
		if err != nil {
			rt.Fatal(err)
		}
		fold := &gatheredRows{}
		p, err := v.newPass(fold, 5)
		if err != nil {
			rt.Fatal(err)
		}
		if rapid.Bool().Draw(rt, "alone") {
			p.fold = alone{fold}
		}
		p.block = rapid.SampledFrom([]int{1, 100, 1000, 5000, streamBlock}).Draw(rt, "block")
		p.workers = rapid.IntRange(1, 4).Draw(rt, "workers")
		_, err = p.runAll()
		want, ids, conflicts, faults := plainly(v, content)
		every := &gatheredIDs{}
		q := v.passOf(every, math.MaxInt)
		q.all, q.block, q.workers = true, p.block, p.workers
		noted := v.consumption
		if _, err := q.runAll(); err != nil && faultsOf(err) == nil || len(faultsOf(err)) != len(faults) {
			rt.Fatalf("checked: %v, want %v", err, faults)
		}
		slices.Sort(every.ids)
		if d := cmp.Diff(ids, every.ids); d != "" || len(faults) == 0 && len(v.consumption) != len(noted) {
			rt.Fatalf("%s\n-plainly +checked:\n%s", content, d)
		}
		if len(faults) > 0 {
			if got := faultsOf(err); len(got) == 0 || got[len(got)-1].Line != faults[min(len(faults), 5)-1].Line || len(got) != min(len(faults), 6) {
				rt.Fatalf("faults %v, want those of %v", err, faults)
			}
			return
		}
		if err != nil {
			rt.Fatal(err)
		}
		var found []string
		for _, c := range v.Conflicts() {
			if c.File == ConsumptionFile {
				found = append(found, c.ID)
			}
		}
		slices.Sort(fold.rows)
		if d := cmp.Diff(want, fold.rows) + cmp.Diff(conflicts, found); d != "" {
			rt.Fatalf("%s\n-plainly +fold:\n%s", content, d)
		}
	})
}
