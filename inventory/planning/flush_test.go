package planning_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"tarebook/inventory/booktest"
	"tarebook/inventory/cost"
	"tarebook/inventory/planning"
)

// What a change flushes goes by the estimator of development factors. The data are column 4 of the mortgage-guarantee triangle
// (D. E. A. Sanders, 1990) in Table 1 of T. Mack, ASTIN Bulletin 29 (1999) 361-366, which prints k 1.276, s.e. 0.051; the full
// figures are that arithmetic redone. Here the column is booked as changes, and the next as thousandths of a gram; at 1 g/cm3
// a thousandth is a mm3. Rows that purged nothing, know no changes or are of another printer must not move it.
func TestFlushed(t *testing.T) {
	t.Parallel()
	const book = `
materials material=PLA density_g_cm3=1
materials material=PETG density_g_cm3=2
purchases at=0 spool=A net_g=90000
purchases at=0 spool=B net_g=90000 material=PETG
consumption at=1 job=a printer=Long spool=A purge_g=1360.489 changes=1027692
consumption at=2 job=b printer=long spool=A purge_g=2961.978 changes=2142656 outcome=failed
consumption at=3 job=c printer=LONG spool=B purge_g=8891.854 changes=3203427 part_g=9
consumption at=4 job=d printer=Long spool=A purge_g=6460.112 changes=4999019
consumption at=5 job=e printer=Long spool=A purge_g=5648.563 changes=4989572
consumption at=6 job=f printer=Long spool=A part_g=100 changes=4000
consumption at=7 job=g printer=Long spool=A part_g=100 purge_g=50
consumption at=8 job=h printer=Bench spool=A purge_g=50 changes=7
`
	v := booktest.View(t, book)
	_, f, err := planning.Load(v)
	if err != nil {
		t.Fatal(err)
	}
	c, err := cost.Load(v, cost.Query{By: "printer"})
	if err != nil {
		t.Fatal(err)
	}
	got, ok := f.Flushed("Long")
	if !ok || got.Rows != 5 || got.Changes != 16362366 || math.Abs(got.MM3/1.275919937251-1) > 1e-12 || math.Abs(got.U/0.051170075072-1) > 1e-9 {
		t.Errorf("got %+v %t, want 1.275919937251 with u 0.051170075072 of 5 rows", got, ok)
	}
	if got, ok := f.Flushed("Bench"); ok {
		t.Errorf("one row tells %+v, want none", got)
	}
	rows, _ := c.Rows()
	for _, r := range rows {
		if r.Key == "Long" && (r.Changes != 16366366 || r.ChangesPurge != 25322996) { // the grams of the rows that know their changes
			t.Errorf("Long: %d changes, %s g, want 16366366 and 25322.996", r.Changes, r.ChangesPurge)
		}
	}
}

// Merging folds equals one fold.
func TestMergedFlushes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		v := booktest.Drawn(r, t, booktest.Draw(r))
		shelf, one, err := planning.Load(v)
		if err != nil {
			r.Fatal(err)
		}
		f := booktest.Split[*planning.Flushes]{Rand: rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "deal"), 0))}
		for range rapid.IntRange(2, 5).Draw(r, "folds") {
			f.Folds = append(f.Folds, planning.NewFlushes(shelf))
		}
		if err := v.FoldConsumption(f); err != nil {
			r.Fatal(err)
		}
		many := f.Merged((*planning.Flushes).Merge)
		for _, printer := range []string{"", "Bench", "Other"} {
			a, okA := one.Flushed(printer)
			b, okB := many.Flushed(printer)
			if a != b || okA != okB {
				r.Fatalf("%q: one fold %+v %t, many %+v %t", printer, a, okA, b, okB)
			}
		}
	})
}
