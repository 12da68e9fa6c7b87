package reports

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tarebook/ledger"
)

// Whatever the order of rows, and however they are parted among workers, the last five of each spool are kept.
func TestMovementsAreAFold(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var rows []*ledger.Consumption
		for i := range rapid.IntRange(0, 30).Draw(t, "rows") {
			row := &ledger.Consumption{Job: fmt.Sprint("job-", i), Spool: rapid.SampledFrom([]string{"A", "B"}).Draw(t, "spool")}
			row.At = ledger.NewTime(time.Date(2026, 11, 1+rapid.IntRange(0, 9).Draw(t, "day"), 9, 0, 0, 0, time.UTC))
			row.Entry = fmt.Sprintf("01KZZ%021d", i)
			row.ID, row.PartG = row.Entry, ledger.Grams(1000*(i+1))
			rows = append(rows, row)
		}
		fold := func(rows []*ledger.Consumption, workers int) *Movements {
			all := newMovements([]*ledger.Purchase{{Spool: "A"}, {Spool: "B"}})
			folds := []ledger.SharedFold{all}
			for range workers {
				folds = append(folds, all.Split())
			}
			for i, row := range rows {
				folds[i%len(folds)].Add(row)
			}
			for _, f := range folds[1:] {
				all.Join(f)
			}
			return all
		}
		want := fold(rows, 0)
		for _, spool := range []string{"A", "B"} {
			last := want.jobsOf(spool)
			of := slices.DeleteFunc(slices.Clone(rows), func(r *ledger.Consumption) bool { return r.Spool != spool })
			slices.SortStableFunc(of, func(a, b *ledger.Consumption) int { return ledger.CompareRows(a, b) })
			of = of[max(0, len(of)-mostMoved):]
			if len(last) != len(of) {
				t.Fatalf("%s: %d are kept, want %d", spool, len(last), len(of))
			}
			for i, x := range last {
				if x.show.What != of[i].Job {
					t.Fatalf("%s: the %d. is %s, want %s", spool, i, x.show.What, of[i].Job)
				}
			}
		}
		got := fold(rapid.Permutation(rows).Draw(t, "order"), rapid.IntRange(0, 3).Draw(t, "workers"))
		for _, spool := range []string{"A", "B"} {
			if got, want := got.jobsOf(spool), want.jobsOf(spool); !reflect.DeepEqual(got, want) {
				t.Fatalf("%s: got %v, want %v", spool, got, want)
			}
		}
	})
}
