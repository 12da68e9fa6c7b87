package inventory

import (
	"math"

	"tarebook/ledger"
)

// Tare is the mass of an empty spool, and where it is known from.
type Tare struct {
	Grams ledger.Mass
	U     float64 // standard uncertainty in grams
	From  string  // empty, purchase, core, label or none

	Weighin *ledger.Weighin // that gave it, of TareEmpty and TareLabel
}

// Where a tare comes from, best first.
const (
	TareEmpty    = "empty"    // the spool's own empty weigh-in
	TarePurchase = "purchase" // typed with the purchase
	TareCore     = "core"     // its core in cores.csv
	TareLabel    = "label"    // the first weigh-in less the label's net
	TareNone     = "none"
)

// typedTareU is the standard uncertainty in grams of a tare typed with a purchase; common practice, no source.
const typedTareU = 2

// coreTareU is that of a core for which cores.csv gives none; common practice, no source.
const coreTareU = 5

// settleTare takes the best tare known.
func (s *Spool) settleTare() {
	s.Tare = s.KnownTare()
	for _, w := range s.Weighins {
		if w.State == ledger.Empty && w.GrossG.Given {
			s.Tare = Tare{Grams: w.GrossG, U: s.shelf.scaleU(w), From: TareEmpty, Weighin: w}
		}
	}
}

// KnownTare returns the best tare known without the spool's own empty weigh-ins.
func (s *Spool) KnownTare() Tare {
	if s.Purchase.TareG.Given {
		return Tare{Grams: s.Purchase.TareG, U: typedTareU, From: TarePurchase}
	}
	if core := ledger.Named(s.shelf.Cores, s.Purchase.Core); core != nil && core.TareG.Given {
		u := float64(coreTareU)
		if core.TareUG.Given {
			u = core.TareUG.Float()
		}
		return Tare{Grams: core.TareG, U: u, From: TareCore}
	}
	if w := s.first(); w != nil && w.State != ledger.Empty {
		// It must come before anything went: at one instant it does so before consumption, and a weigh-in does not before a winding-off.
		used := !s.u.first.IsZero() && w.At.After(s.u.first)
		if len(s.windings) > 0 {
			used = used || w.At.After(s.windings[0].at) || w != s.opening && w.At.Compare(s.windings[0].at) == 0
		}
		if tare := w.GrossG.Grams - s.Purchase.NetG; !used && w.GrossG.Given && tare > 0 {
			u := math.Hypot(s.shelf.scaleU(w), s.labelU())
			return Tare{Grams: ledger.Known(tare), U: u, From: TareLabel, Weighin: w}
		}
	}
	return Tare{From: TareNone}
}

// first returns the spool's first weigh-in, nil for none: of an opened spool the reading at its purchase.
func (s *Spool) first() *ledger.Weighin {
	if s.opening == nil && len(s.Weighins) > 0 {
		return s.Weighins[0]
	}
	return s.opening
}

// labelU is the standard uncertainty in grams of the label's net.
func (s *Spool) labelU() float64 { return s.shelf.Settings.LabelU * s.Purchase.NetG.Float() }

// scaleU is the standard uncertainty in grams of one reading: resolution (JCGM 100:2008, F.2.2.1), the largest error
// as a rectangle (4.3.7) and repeatability. A weigh-in that names no scale: division 1 g, error 1 g.
func (s *Shelf) scaleU(w *ledger.Weighin) float64 {
	if s.lastU == 0 || w.Scale != s.lastScale { // no uncertainty is 0 unless a scale has no division and no error
		s.lastScale, s.lastU = w.Scale, s.ScaleU(w.Scale)
	}
	return s.lastU
}

// ScaleU is the standard uncertainty in grams of a reading of the named scale.
func (s *Shelf) ScaleU(scale string) float64 {
	division, largest, repeat := 1.0, 1.0, 0.0
	if sc := ledger.Named(s.Scales, scale); sc != nil {
		if sc.DivisionG.Given {
			division = sc.DivisionG.Float()
		}
		largest = division
		if sc.ErrorG.Given {
			largest = sc.ErrorG.Float()
		}
		repeat = sc.RepeatG.Float()
	}
	return math.Sqrt(division*division/12 + largest*largest/3 + repeat*repeat)
}
