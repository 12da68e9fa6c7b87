package planning

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Whatever the order of rows, and however they are parted among workers, the prints are the same: named as on their first line, and of the
// day of the row that counts first.
func TestFinishedIsAFold(t *testing.T) {
	t.Parallel()
	sum := strings.Repeat("ab", 32)
	rapid.Check(t, func(t *rapid.T) {
		spools := map[string]*inventory.Spool{"A": {ID: "A"}, "B": {ID: "B"}}
		made := func() *Finished {
			f := &Finished{shelf: &inventory.Shelf{ByID: spools}, files: map[string]*ledger.SlicedFile{sum: {}}}
			f.Reset()
			return f
		}
		var rows []*ledger.Consumption
		for i := range rapid.IntRange(0, 20).Draw(t, "rows") {
			row := &ledger.Consumption{Job: rapid.SampledFrom([]string{"owl", "OWL", "clip"}).Draw(t, "job"), Printer: rapid.SampledFrom([]string{"P1", "p1"}).Draw(t, "printer"),
				Spool: rapid.SampledFrom([]string{"A", "B", "GONE"}).Draw(t, "spool"), Slot: fmt.Sprint(i),
				File: rapid.SampledFrom([]string{"", "owl 1 " + sum, "other 1 " + strings.Repeat("cd", 32)}).Draw(t, "file")}
			row.At = ledger.NewTime(time.Date(2026, 11, 1+i%2, 23, 30, 0, 0, time.UTC).In(time.FixedZone("", 3600*rapid.IntRange(0, 1).Draw(t, "offset"))))
			row.Entry = fmt.Sprintf("01KZZ%021d", rapid.IntRange(0, 9).Draw(t, "entry")*100+i)
			row.ID, row.Line, row.PurgeG = row.Entry, i+2, ledger.Grams(i)
			rows = append(rows, row)
		}
		tell := func(f *Finished) (all []string) {
			for _, p := range f.between("", "") {
				var took []string
				for _, row := range p.rows {
					took = append(took, row.slot+"="+row.spools[0].ID)
				}
				slices.Sort(took)
				all = append(all, fmt.Sprint(p.key, p.name, p.on, p.line, p.day, p.order, took, p.purge))
			}
			return all
		}
		want := made()
		for _, row := range rows {
			want.Add(row)
		}
		got := made()
		folds := []ledger.SharedFold{got}
		for range rapid.IntRange(0, 3).Draw(t, "workers") {
			folds = append(folds, got.Split())
		}
		for i, row := range rapid.Permutation(rows).Draw(t, "order") {
			folds[i%len(folds)].Add(row)
		}
		for _, f := range folds[1:] {
			got.Join(f)
		}
		if got, want := tell(got), tell(want); !slices.Equal(got, want) {
			t.Fatalf("%q, want %q", got, want)
		}
		for key, p := range want.all {
			first, day := "", ""
			for _, row := range rows {
				if ledger.Fold(row.Job) == key.job && row.At.Std().Unix() == key.second && ledger.FileSum(row.File) == key.file && row.Spool != "GONE" && (first == "" || row.Entry < first) {
					first, day = row.Entry, row.At.Date()
				}
			}
			if p.day != day {
				t.Fatalf("%v is of %s, want %s", key, p.day, day)
			}
		}
	})
}
