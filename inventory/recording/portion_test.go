package recording

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
	"tarebook/ledger"
)

// A print uses up A and goes on with B. What is booked on A leaves so little in its book that the empty core, weighed later, fits within
// 2u: what was booked before may be off, but the book ends where the spool does. The truth is drawn, as in the simulation of whole shops.
func TestUsedUpSpoolsEndWithinTheirDoubt(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(20261128, 7))
	normal := func(mean, u float64) float64 { return mean + u*r.NormFloat64() }
	const shops = 60
	within := 0
	for range shops {
		k, tare, net := normal(1, 0.03), 150+100*r.Float64(), 50+400*r.Float64()
		read := func(grams float64) float64 { return math.Round(grams + 2*r.Float64() - 1) }
		lines := []string{
			fmt.Sprintf("purchases spool=A net_g=500 tare_g=%.3f at=1", normal(tare, 2)), "purchases spool=B net_g=1000 tare_g=200 at=1",
			fmt.Sprintf("weighins spool=A gross_g=%.0f at=2", read(net+tare)),
			fmt.Sprintf("consumption spool=A part_g=%.3f at=3", 30/k), // 30 g went
		}
		shelf := booktest.Shelf(t, strings.Join(lines, "\n"))
		p := portion{spools: []*inventory.Spool{shelf.Spool("A"), shelf.Spool("B")}, masses: ledger.Masses{PartG: 600_000}, basis: ledger.Sliced}
		rows, err := p.rows(shelf, "")
		if err != nil || len(rows) != 2 || rows[0].Spool != "A" {
			t.Fatalf("got %v, %v", rows, err)
		}
		lines = append(lines, fmt.Sprintf("consumption spool=A part_g=%s at=4", rows[0].PartG), fmt.Sprintf("weighins spool=A state=empty gross_g=%.0f at=5", read(tare)))
		a := booktest.Shelf(t, strings.Join(lines, "\n")).Spool("A")
		last := a.Readings[len(a.Readings)-1]
		if math.Abs(last.Variance.Float()) <= 2*last.VarianceU {
			within++
		}
	}
	t.Logf("%d of %d empty cores within 2u", within, shops)
	if within < shops*9/10 {
		t.Errorf("%d of %d empty cores fit the book within 2u, not 90 %%", within, shops)
	}
}

// Whatever is divided, the rows add up to it in every kind, none is below 0, and each but the last has what was to be booked on it.
func TestPortionsAddUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		grams := func(name string) ledger.Grams { return ledger.Grams(rapid.IntRange(0, 300_000).Draw(r, name)) }
		left := ledger.Masses{PartG: grams("part"), SupportG: grams("support"), PrimeG: grams("prime"), PurgeG: grams("purge")}
		g := ledger.Grams(rapid.Int64Range(0, int64(left.Total())).Draw(r, "grams"))
		shares := [4]float64{}
		for i := range shares {
			shares[i] = rapid.Float64Range(0, 1e6).Draw(r, "share")
		}
		take := takeOf(left, shares, g)
		sum := shares[0] + shares[1] + shares[2] + shares[3]
		if sum > 0 && take.Total() != g {
			r.Fatalf("took %s of %s g", take.Total(), g)
		}
		for i, kind := range kindsOf(take) {
			if kind < 0 || kind > kindsOf(left)[i] {
				r.Fatalf("took %s of %s g", kind, kindsOf(left)[i])
			}
		}
	})
}
