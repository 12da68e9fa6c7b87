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
func enoughOfAll(s *Shelf, n *Need, material, colour string, used map[*Spool]bool, ahead Ahead) (fit []*Spool) {
	likely := map[*Spool]float64{}
	for _, spool := range s.Spools {
		if ahead.gone(spool) || used[spool] || !spool.Is(material, colour) {
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
			diameter := rapid.SampledFrom([]float64{1.75, 2.85}).Draw(t, "diameter")
			s.Spools = append(s.Spools, &Spool{ID: fmt.Sprint(i), Purchase: &ledger.Purchase{DiameterMM: ledger.NewNumber(decimal.NewFromFloat(diameter))}, Material: material, Colour: rapid.SampledFrom([]string{"", "red", "RED", "blue"}).Draw(t, "colour"),
				Base: grams.Draw(t, "base"), BaseU: rapid.SampledFrom([]float64{0, 2, 10}).Draw(t, "u"), Others: grams.Draw(t, "since") / 10, Estimate: byMaterial[material],
				Ended: rapid.IntRange(0, 9).Draw(t, "ended") == 0, Filament: filament.Stock{DiameterMM: diameter, Density: 1.24}})
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
				n.Material, n.Row.Colour = material, colour
				if len(want) > 0 {
					n.Spool = rapid.SampledFrom(want).Draw(t, "spool")
				} else if turn := o.inTurn(n); len(turn) > 0 {
					n.Spool, n.Turn = turn[0], turn
				}
				for _, spool := range n.Spools() {
					o.use(spool)
				}
				job.Needs = append(job.Needs, n)
			}
			o.next(job)
		}
	})
}

// inTurnOfAll is outlook.inTurn in its plainest form: it weighs every way to take two and three spools.
func inTurnOfAll(o *outlook, n *Need) []*Spool {
	s := o.shelf
	var own []*Spool
	for _, spool := range n.Spools() {
		if !o.ahead.gone(spool) {
			own = append(own, spool)
		}
	}
	likely := func(i int) float64 { return math.Round(o.ahead.likely(s.Spools[i]) * 1e6) }
	var order []int
	for i, spool := range s.Spools {
		if !o.ahead.gone(spool) && !o.used[spool] && ledger.Fold(spool.Material) == ledger.Fold(n.Material) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(likely(a), likely(b)) })
	var best []*Spool
	margin := 0.0
	weigh := func(others ...int) {
		turn := slices.Clone(own)
		for _, i := range others {
			turn = append(turn, s.Spools[i])
		}
		first := turn[0]
		colour := ledger.Fold(first.Colour)
		if n.Spool != nil {
			first, colour = n.Spool, ledger.Fold(n.Spool.Colour)
		} else if n.Row.Colour != "" {
			colour = ledger.Fold(n.Row.Colour)
		}
		for _, spool := range turn[len(own):] {
			if !spool.Follows(first) || ledger.Fold(spool.Colour) != colour {
				return
			}
		}
		trial := Need{Row: n.rowFor(turn[0]), Printer: n.Printer, Spool: turn[0], Turn: turn}
		if s.WeighUp(&trial, o.ahead); trial.Verdict != Enough {
			return
		}
		age := func(a, b *Spool) int { return cmp.Compare(slices.Index(s.Spools, a), slices.Index(s.Spools, b)) }
		tie := math.Abs(trial.Margin-margin) < 1e-9
		if best == nil || !tie && trial.Margin < margin || tie && slices.CompareFunc(turn, best, age) < 0 {
			best, margin = turn, trial.Margin
		}
	}
	for size := max(2, len(own)+1); size <= 3 && best == nil; size++ {
		for a := range order {
			if size-len(own) == 1 {
				weigh(order[a])
				continue
			}
			for b := a + 1; b < len(order); b++ {
				if size-len(own) == 2 {
					weigh(order[a], order[b])
					continue
				}
				for c := b + 1; c < len(order); c++ {
					weigh(order[a], order[b], order[c])
				}
			}
		}
	}
	return best
}

// What is offered in turn is what weighing every way to take two and three spools finds: one that leaves as little, of no more spools, and
// of those the oldest.
func TestInTurnIsThatOfWeighingAll(t *testing.T) {
	t.Parallel()
	offered := 0
	rapid.Check(t, func(t *rapid.T) {
		s := &Shelf{Settings: &ledger.Settings{EnoughOdds: rapid.SampledFrom([]float64{0.3, 0.5, 0.95, 0.999999}).Draw(t, "enough_odds")},
			Printers: map[string]*ledger.Printer{"P": {TailMM: ledger.NewNumber(decimal.New(int64(rapid.IntRange(0, 3000).Draw(t, "tail_mm")), 0))}}}
		grams := func(most int, name string) ledger.Grams {
			return ledger.Grams(rapid.IntRange(0, most).Draw(t, name)) * 10_000
		}
		for i := range rapid.IntRange(2, 14).Draw(t, "spools") {
			diameter := 1.75
			if rapid.IntRange(0, 9).Draw(t, "thick") == 0 {
				diameter = 2.85
			}
			s.Spools = append(s.Spools, &Spool{ID: fmt.Sprint(i), Purchase: &ledger.Purchase{DiameterMM: ledger.NewNumber(decimal.NewFromFloat(diameter))}, Material: "A",
				Colour: rapid.SampledFrom([]string{"red", "RED", "red", "blue", ""}).Draw(t, "colour"), Base: grams(20, "base"), BaseU: rapid.SampledFrom([]float64{0, 2, 10}).Draw(t, "u"),
				Others: grams(2, "since"), Estimate: Estimates{K: 1.04, UK: 0.01, S: 0.5}, Ended: rapid.IntRange(0, 9).Draw(t, "ended") == 0,
				Filament: filament.Stock{DiameterMM: diameter, Density: 1.24}})
		}
		o := s.newOutlook()
		for range rapid.IntRange(1, 4).Draw(t, "jobs") {
			job := &Job{}
			for range rapid.IntRange(1, 3).Draw(t, "needs") {
				n := &Need{Row: &ledger.Need{Colour: rapid.SampledFrom([]string{"", "Red", "blue"}).Draw(t, "of"), Masses: ledger.Masses{PartG: grams(50, "part_g") + 1}},
					Printer: rapid.SampledFrom([]string{"", "P"}).Draw(t, "printer"), Material: "A"}
				for range rapid.IntRange(0, 2).Draw(t, "own") {
					spool := rapid.SampledFrom(s.Spools).Draw(t, "spool")
					if !o.used[spool] && (n.Spool == nil || spool.Follows(n.Spool)) {
						if n.Turn = append(n.Turn, spool); n.Spool == nil {
							n.Spool = spool
						}
						o.use(spool)
					}
				}
				job.Needs = append(job.Needs, n)
				colour := n.Row.Colour
				if n.Spool != nil && colour != "" {
					colour = n.Spool.Colour
				}
				if s.WeighUp(n, o.ahead); n.Verdict == Enough || len(enoughOfAll(s, n, n.Material, colour, o.used, o.ahead)) > 0 {
					continue
				}
				got, want := o.inTurn(n), inTurnOfAll(o, n)
				offered += min(1, len(got))
				if !slices.Equal(got, want) {
					names := func(spools []*Spool) (ids []string) {
						for _, spool := range spools {
							ids = append(ids, spool.ID)
						}
						return ids
					}
					t.Fatalf("got %v, want %v", names(got), names(want))
				}
			}
			o.next(job)
		}
	})
	if offered == 0 {
		t.Error("nothing was offered in turn")
	}
}
