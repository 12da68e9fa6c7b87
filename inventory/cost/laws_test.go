package cost_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

func TestLaws(t *testing.T) {
	t.Parallel()
	booktest.Laws(t, all)
}

// all tells all costs of a book, and what its queue is quoted at.
func all(t testing.TB, v *ledger.View) string {
	t.Helper()
	var b strings.Builder
	s, jobs, err := inventory.Check(v)
	if err != nil {
		t.Fatal(err)
	}
	for _, job := range jobs {
		b.WriteString(strings.Join(tellQuote(cost.NewQuote(s, job, &cost.Rates{}, "2026-01-01")), "\n") + "\n")
	}
	for _, by := range cost.GroupKeys {
		c, err := cost.Load(v, cost.Query{By: by})
		if err != nil {
			t.Fatal(err)
		}
		tellCosts(&b, c)
	}
	return b.String()
}

func tellCosts(b *strings.Builder, c *cost.Costing) {
	rows, totals := c.Rows()
	for _, r := range append(rows, totals...) {
		fmt.Fprintln(b, line(r), r.Changes, r.ChangesPurge, r.Clients)
	}
}

// A column of waste comes to the same by whatever key, and the rows of each table add up to its totals: over books with three
// currencies of 0, 2 and 3 decimals.
func TestTotalsAreTheSameByEveryKey(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		v := booktest.Drawn(r, t, drawBills(r))
		first := ""
		for _, by := range cost.GroupKeys {
			c, err := cost.Load(v, cost.Query{By: by})
			if err != nil {
				r.Fatal(err)
			}
			rows, totals := c.Rows()
			told := ""
			for _, total := range totals {
				sum := cost.Row{Currency: total.Currency, Jobs: total.Jobs}
				for _, row := range rows {
					if row.Currency != total.Currency {
						continue
					}
					for kind := range row.Costs {
						sum.Grams[kind] += row.Grams[kind]
						sum.Costs[kind] = sum.Costs[kind].Add(row.Costs[kind])
					}
					sum.Unpriced += row.Unpriced
				}
				if line(sum) != line(total) {
					r.Fatalf("by %s: rows add up to %s, total %s", by, line(sum), line(total))
				}
				told += line(total) + "\n"
			}
			if first == "" {
				first = told
			}
			if told != first {
				r.Fatalf("totals by %s\n%sby client\n%s", by, told, first)
			}
		}
	})
}

// Merging folds equals one fold.
func TestMergedCosting(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		v := booktest.Drawn(r, t, booktest.Draw(r))
		by := rapid.SampledFrom(cost.GroupKeys).Draw(r, "by")
		from := rapid.SampledFrom([]string{"", "2026-01-01", "2026-01-02"}).Draw(r, "from")
		one, err := cost.Load(v, cost.Query{By: by, From: from})
		if err != nil {
			r.Fatal(err)
		}
		f := booktest.Split[*cost.Costing]{Rand: rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "deal"), 0))}
		for range rapid.IntRange(2, 5).Draw(r, "folds") {
			f.Folds = append(f.Folds, one.Another())
		}
		if err := v.FoldConsumption(f); err != nil {
			r.Fatal(err)
		}
		var a, b strings.Builder
		tellCosts(&a, one)
		tellCosts(&b, f.Merged((*cost.Costing).Merge))
		if a.String() != b.String() {
			r.Fatalf("one fold\n%s\nmany\n%s", a.String(), b.String())
		}
	})
}
