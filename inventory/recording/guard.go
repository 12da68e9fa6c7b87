package recording

import (
	"fmt"
	"math"
	"time"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Guards at the bench: what does not fit is refused before it is booked.

// emptySlack is how far in grams, beyond 3 u, an empty spool may weigh from the tare that was known; common practice,
// no source.
const emptySlack = 20

// misfit refuses a gross that cannot be of this spool by the tare that is known without its own empty weigh-ins: an empty one more
// than 3 u + 20 g away from it, or any below it by more than 3 u.
func misfit(shelf *inventory.Shelf, spool *inventory.Spool, w *ledger.Weighin) error {
	tare := spool.KnownTare()
	if !w.GrossG.Given || !tare.Grams.Given || tare.Weighin == w {
		return nil
	}
	const mend = "look at the spool and its core, or write --sure"
	u := math.Hypot(shelf.ScaleU(w.Scale), tare.U)
	off := (w.GrossG.Grams - tare.Grams.Grams).Float()
	switch {
	case w.State == ledger.Empty && math.Abs(off) > 3*u+emptySlack:
		return fmt.Errorf("%s: gross %s g is %.1f g off its tare of %s g (from: %s), so it may not be empty, or not this spool; %s",
			spool.ID, w.GrossG.Grams, math.Abs(off), tare.Grams.Grams, tare.From, mend)
	case w.State != ledger.Empty && off < -3*u:
		return fmt.Errorf("%s: gross %s g is less than the spool alone weighs, %s g (from: %s); %s", spool.ID, w.GrossG.Grams, tare.Grams.Grams, tare.From, mend)
	}
	return nil
}

// afterEnd refuses filament on a spool that ended before: the book would leave it at 0.
func afterEnd(spool *inventory.Spool, w *ledger.Weighin) error {
	if !spool.Ended || w.Ends() || spool.End.At.After(w.At) {
		return nil
	}
	return fmt.Errorf("%s ended on %s, so a weigh-in changes nothing; if it has not, cancel that with: tarebook void %s, else look at the spool's label, or write --sure",
		spool.ID, spool.End.At, spool.End.Name())
}

// missing returns a weigh-in of the last 24 h that found less than was booked, outside its uncertainty: a job that is booked only
// now is likely what was missing. It says so in words, without a mend, and is nil and blank if there is none.
func missing(spool *inventory.Spool, now time.Time) (r *inventory.Reading, words string) {
	for i := len(spool.Readings) - 1; i >= 0; i-- {
		r := &spool.Readings[i]
		if age := now.Sub(r.Weighin.At.Std()); age >= 0 && age <= 24*time.Hour && r.Outside && r.Variance < 0 {
			return r, fmt.Sprintf("%s was weighed on %s and %s g were missing", spool.ID, r.Weighin.At, -r.Variance)
		}
	}
	return nil, ""
}

// justBefore returns an instant before a weigh-in and after the one that came before it.
func justBefore(spool *inventory.Spool, r *inventory.Reading) ledger.Time {
	at := r.Weighin.At.Std()
	before := at.Add(-time.Second)
	for _, w := range spool.Weighins {
		if earlier := w.At.Std(); earlier.Before(at) && !earlier.Before(before) {
			before = earlier.Add(at.Sub(earlier) / 2)
		}
	}
	return ledger.NewTime(before)
}

// endedBy reports whether a spool had ended by then, so that what is booked on it counts in cost alone.
func endedBy(spool *inventory.Spool, at ledger.Time) bool {
	return spool.Ended && !at.Before(spool.End.At)
}
