package inventory

import (
	"fmt"
	"math"
	"time"

	"tarebook/ledger"
)

// Guards at the bench: what does not fit is told before it is booked.

// emptySlack is how far in grams, beyond 3 u, an empty spool may weigh from the tare that was known; common practice,
// no source.
const emptySlack = 20

// Misfit tells in words why a gross cannot be of this spool by the tare that is known without its own empty weigh-ins: an
// empty one more than 3 u + 20 g away from it, or any below it by more than 3 u. Empty when it fits.
func (s *Spool) Misfit(w *ledger.Weighin) string {
	tare := s.knownTare()
	if !w.GrossG.Given || !tare.Grams.Given || tare.weighin == w {
		return ""
	}
	u := math.Hypot(s.shelf.scaleU(w), tare.U)
	off := (w.GrossG.Grams - tare.Grams.Grams).Float()
	switch {
	case w.State == ledger.Empty && math.Abs(off) > 3*u+emptySlack:
		return fmt.Sprintf("%s: gross %s g is %.1f g off its tare of %s g (from: %s), so it may not be empty, or not this spool", s.ID, w.GrossG.Grams, math.Abs(off), tare.Grams.Grams, tare.From)
	case w.State != ledger.Empty && off < -3*u:
		return fmt.Sprintf("%s: gross %s g is less than the spool alone weighs, %s g (from: %s)", s.ID, w.GrossG.Grams, tare.Grams.Grams, tare.From)
	}
	return ""
}

// WeighedBefore returns a weigh-in of the last 24 h before now that found less than was booked, outside its uncertainty:
// a job booked only now, after it, is likely what was missing. Nil when there is none.
func (s *Spool) WeighedBefore(now time.Time) *Reading {
	for i := len(s.Readings) - 1; i >= 0; i-- {
		r := &s.Readings[i]
		if age := now.Sub(r.Weighin.At.Std()); age >= 0 && age <= 24*time.Hour && r.Outside && r.Variance < 0 {
			return r
		}
	}
	return nil
}

// JustBefore returns an instant before a weigh-in and after the one that came before it.
func (s *Spool) JustBefore(r *Reading) ledger.Time {
	at := r.Weighin.At.Std()
	before := at.Add(-time.Second)
	for _, w := range s.Weighins {
		if earlier := w.At.Std(); earlier.Before(at) && !earlier.Before(before) {
			before = earlier.Add(at.Sub(earlier) / 2)
		}
	}
	return ledger.NewTime(before)
}
