package inventory

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"tarebook/inventory/filament"
	"tarebook/ledger"
)

// enoughOfAll is outlook.enough in its plainest form: it looks at every spool.
func enoughOfAll(s *Shelf, n *Need, material, colour string, used map[*Spool]bool, ahead map[*Spool]ledger.Grams) (fit []*Spool) {
	likely := map[*Spool]float64{}
	for _, spool := range s.Spools {
		if spool.Ended || used[spool] || !spool.Is(material, colour) {
			continue
		}
		trial := Need{Row: n.rowFor(spool), Printer: n.Printer, Spool: spool}
		s.WeighUp(&trial, ahead)
		if trial.Verdict == Enough {
			fit = append(fit, spool)
			likely[spool] = math.Round(trial.Likely * 1e6)
		}
	}
	slices.SortStableFunc(fit, func(a, b *Spool) int { return cmp.Compare(likely[a], likely[b]) })
	return fit
}

// Whatever was used and queued before, the tree finds the spools that looking at each of them finds, in that order.
func TestOffersAreThoseOfLookingAtAll(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := &Shelf{Settings: &ledger.Settings{EnoughOdds: rapid.SampledFrom([]float64{0, 0.3, 0.5, 0.95, 0.999999, 1}).Draw(t, "enough_odds")},
			Printers: map[string]*ledger.Printer{"P": {TailMM: ledger.NewNumber(decimal.New(int64(rapid.IntRange(0, 3000).Draw(t, "tail_mm")), 0))}}}
		byMaterial := map[string]Estimates{"A": {K: 1, UK: 0.03}, "B": {K: 1.04, UK: 0.01, S: 0.5}}
		grams := rapid.Custom(func(t *rapid.T) ledger.Grams { return ledger.Grams(rapid.IntRange(0, 20).Draw(t, "tens")) * 10_000 })
		for i := range rapid.IntRange(1, 30).Draw(t, "spools") {
			material := rapid.SampledFrom([]string{"A", "B"}).Draw(t, "material")
			s.Spools = append(s.Spools, &Spool{ID: fmt.Sprint(i), Material: material, Colour: rapid.SampledFrom([]string{"", "red", "RED", "blue"}).Draw(t, "colour"),
				Base: grams.Draw(t, "base"), BaseU: rapid.SampledFrom([]float64{0, 2, 10}).Draw(t, "u"), Others: grams.Draw(t, "since") / 10, Estimate: byMaterial[material],
				Ended: rapid.IntRange(0, 9).Draw(t, "ended") == 0, Filament: filament.Stock{DiameterMM: rapid.SampledFrom([]float64{1.75, 2.85}).Draw(t, "diameter"), Density: 1.24}})
		}
		o := s.newOutlook()
		for range rapid.IntRange(1, 4).Draw(t, "jobs") {
			job := &Job{}
			for range rapid.IntRange(1, 6).Draw(t, "needs") {
				n := &Need{Row: &ledger.Need{Masses: ledger.Masses{PartG: grams.Draw(t, "part_g") + 1}}, Printer: rapid.SampledFrom([]string{"", "P"}).Draw(t, "printer")}
				material, colour := rapid.SampledFrom([]string{"A", "b", "C"}).Draw(t, "wanted"), rapid.SampledFrom([]string{"", "Red", "blue"}).Draw(t, "of")
				want := enoughOfAll(s, n, material, colour, o.used, o.ahead)
				if got := o.enough(n, material, colour, len(s.Spools)); !slices.Equal(got, want) {
					t.Fatalf("got %d spools, want %d, or in another order", len(got), len(want))
				}
				if first := o.enough(n, material, colour, 1); len(want) > 0 && (len(first) != 1 || first[0] != want[0]) {
					t.Fatal("the first is another")
				}
				if len(want) > 0 {
					n.Spool = rapid.SampledFrom(want).Draw(t, "spool")
					o.use(n.Spool)
				}
				job.Needs = append(job.Needs, n)
			}
			o.next(job)
		}
	})
}
