package recording

import (
	"errors"
	"fmt"
	"slices"

	"tarebook/ledger"
)

// Void cancels the commands that recorded some entries, or with only those entries alone; the last command if there are no
// entries. It tells how to record each row again.
func Void(v *ledger.View, entries []string, only bool, at ledger.Time, why string) (b Booking, err error) {
	var found []ledger.Located
	if len(entries) == 0 {
		found, err = v.LastCommand()
	} else {
		found, err = rowsOf(v, entries, only)
	}
	if err != nil {
		return b, err
	}
	if err := keepsBought(v, found); err != nil {
		return b, err
	}
	var voids []ledger.Void
	for _, l := range found {
		head := ledger.HeadOf(l.Row)
		voids = append(voids, ledger.Void{Head: ledger.Head{At: at}, Target: head.Name(), Why: why})
		b.Told = append(b.Told, fmt.Sprintf("cancelled %s:%d; record it again, mended, with:", l.File, head.Line), "  "+again(l.Row))
		b.Facts = append(b.Facts, voided(l.File, l.Row))
	}
	b.Batch = ledger.NewBatch[ledger.Void](voids)
	return b, nil
}

// rowsOf returns the rows of the commands that entries name, those cancelled already left out; with only, the named rows alone.
func rowsOf(v *ledger.View, entries []string, only bool) ([]ledger.Located, error) {
	named, err := v.Named(entries)
	if err != nil {
		return nil, err
	}
	var rows []ledger.Located
	var errs []error
	seen := map[string]bool{}
	for i, l := range named {
		command := []ledger.Located{l}
		if !only {
			if command, err = v.CommandOf(l); err != nil {
				return nil, err
			}
		}
		live := 0
		for _, l := range command {
			id := ledger.HeadOf(l.Row).ID
			if v.Hidden(id) {
				continue
			}
			live++
			if !seen[id] {
				seen[id] = true
				rows = append(rows, l)
			}
		}
		if live == 0 {
			errs = append(errs, fmt.Errorf("entry %s is cancelled already", entries[i]))
		}
	}
	return rows, errors.Join(errs...)
}

// keepsBought refuses to cancel the last purchase of a spool that other rows name.
func keepsBought(v *ledger.View, found []ledger.Located) error {
	live, err := v.Purchases()
	if err != nil {
		return err
	}
	going := map[string]bool{}
	spools := map[string]bool{}
	for _, l := range found {
		going[ledger.HeadOf(l.Row).ID] = true
		// A purchase in conflict does not count: cancelling it takes nothing away.
		if p, ok := l.Row.(*ledger.Purchase); ok && slices.Contains(live, p) && !p.Twice && !v.BoughtTwice(p) {
			spools[p.Spool] = true
		}
	}
	if len(spools) == 0 {
		return nil
	}
	used, err := v.Naming(spools, going)
	if err != nil {
		return err
	}
	var errs []error
	for _, l := range used {
		errs = append(errs, fmt.Errorf("%s:%d names %s, so its purchase cannot be cancelled; cancel that row first", l.File, ledger.HeadOf(l.Row).Line, l.Spool))
	}
	if len(errs) > 5 {
		errs = append(errs[:5], fmt.Errorf("and %d rows more", len(used)-5))
	}
	return errors.Join(errs...)
}
