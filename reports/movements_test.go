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
			all := &Movements{}
			all.Reset()
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
		for spool, last := range want.jobs {
			of := slices.DeleteFunc(slices.Clone(rows), func(r *ledger.Consumption) bool { return r.Spool != spool })
			slices.SortStableFunc(of, func(a, b *ledger.Consumption) int { return ledger.CompareRows(a, b) })
			of = of[max(0, len(of)-mostMoved):]
			for i, x := range last {
				if x.show.What != of[i].Job {
					t.Fatalf("%s: the %d. is %s, want %s", spool, i, x.show.What, of[i].Job)
				}
			}
		}
		if got := fold(rapid.Permutation(rows).Draw(t, "order"), rapid.IntRange(0, 3).Draw(t, "workers")); !reflect.DeepEqual(got.jobs, want.jobs) {
			t.Fatalf("got %v, want %v", got.jobs, want.jobs)
		}
	})
}
