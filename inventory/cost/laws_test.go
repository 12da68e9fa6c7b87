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
		c, err := cost.Load(v, by, "", "")
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
		fmt.Fprintln(b, line(r), r.Changes, r.ChangesPurge)
	}
}

// Merging folds equals one fold.
func TestMergedCosting(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		v := booktest.Drawn(r, t, booktest.Draw(r))
		by := rapid.SampledFrom(cost.GroupKeys).Draw(r, "by")
		from := rapid.SampledFrom([]string{"", "2026-01-01", "2026-01-02"}).Draw(r, "from")
		one, err := cost.Load(v, by, from, "")
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
