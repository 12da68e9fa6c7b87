package recording

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tarebook/ledger"
)

// Void cancels the rows of some entries, or of the last command if there are no entries. It tells how to record each again.
func Void(v *ledger.View, entries []string, at ledger.Time, why string) (b Booking, err error) {
	var found []ledger.Located
	if len(entries) == 0 {
		found, err = v.LastCommand()
	} else {
		found, err = rowsOf(v, entries)
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
	}
	b.Batch = ledger.NewBatch[ledger.Void](voids)
	return b, nil
}

// rowsOf finds the rows of entries; an entry in conflict names no row, but can be cancelled too.
func rowsOf(v *ledger.View, entries []string) ([]ledger.Located, error) {
	wanted := map[string]bool{}
	for _, e := range entries {
		wanted[strings.ToUpper(ledger.Trim(e))] = true
	}
	found, err := v.Lookup(func(h *ledger.Head) bool { return wanted[h.ID] })
	if err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	found = slices.DeleteFunc(found, func(l ledger.Located) bool {
		id := ledger.HeadOf(l.Row).ID
		twice := seen[id]
		seen[id] = true
		return twice
	})
	var errs []error
	for _, e := range entries {
		id := strings.ToUpper(ledger.Trim(e))
		if v.Hidden(id) {
			errs = append(errs, fmt.Errorf("entry %s is cancelled already", e))
		} else if !seen[id] {
			errs = append(errs, fmt.Errorf("no entry %q in this book; find it with: tarebook card SPOOL", e))
		}
	}
	return found, errors.Join(errs...)
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
