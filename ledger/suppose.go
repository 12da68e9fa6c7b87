package ledger

import (
	"fmt"
	"slices"
)

// Rows that a command is about to record are added to its view first, so that they can be judged as part of the book.

// Suppose adds weigh-ins that are not recorded yet to the view. They have no entries of their own yet, so they sort, in this
// order, after every entry of their instant.
func (v *View) Suppose(rows ...*Weighin) error {
	if _, err := v.Weighins(); err != nil {
		return err
	}
	for i, row := range rows {
		row.suppose(i)
	}
	v.weighins.live = append(v.weighins.live, rows...)
	sortRows(v.weighins.live)
	return nil
}

// SupposeNeeds adds rows of the queue that are not recorded yet to the view, after all others.
func (v *View) SupposeNeeds(rows []Need) error {
	if _, err := v.Needs(); err != nil {
		return err
	}
	for i := range rows {
		rows[i].suppose(i)
		v.needs.live = append(v.needs.live, &rows[i])
	}
	return nil
}

// SupposePurchases adds purchases that are not recorded yet, each of a spool of its own, to the view, so that what is wound off can be
// checked.
func (v *View) SupposePurchases(rows []Purchase) error {
	if _, err := v.Purchases(); err != nil {
		return err
	}
	for i := range rows {
		rows[i].suppose(i)
		v.purchases.live = append(v.purchases.live, &rows[i])
	}
	slices.SortStableFunc(v.purchases.live, func(a, b *Purchase) int { return a.compare(&b.Head) })
	return nil
}

// suppose gives the nth of the supposed rows an entry that sorts after every real one: ~ is greater than every digit of a ULID.
func (h *Head) suppose(n int) {
	h.ID = fmt.Sprintf("~%09d", n)
	h.Entry = h.ID
}
