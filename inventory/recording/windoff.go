package recording

import (
	"fmt"

	"tarebook/inventory"
	"tarebook/ledger"
)

// windOff refuses to wind more off a spool than is there, book + 2 u, unless sure; and any of a spool whose book is 0 or less. It
// returns what is then left on that spool, and says it in words. row is one of so many equal spools. The shelf has no consumption yet.
func windOff(v *ledger.View, shelf *inventory.Shelf, row *ledger.Purchase, count int, sure bool) (left *Source, said string, err error) {
	if err := shelf.ReadConsumption(v); err != nil {
		return nil, "", err
	}
	old := shelf.Spool(row.From)
	book, u, err := old.BookAt(v, row.At)
	if err != nil {
		return nil, "", err
	}
	off := row.NetG * ledger.Grams(count)
	ended := endedBy(old, row.At)
	if what, mend := tooMuch(old, row.At, book, off, u); what != "" && !sure {
		return nil, "", fmt.Errorf("%s; look at --off and --net, %s, or write --sure", what, mend)
	}
	if ended {
		return &Source{}, fmt.Sprintf("wound off %s, which had ended: nothing moves on it", old.ID), nil
	}
	left = &Source{Net: ledger.Known(book - off), U: u}
	return left, fmt.Sprintf("wound off %s: %s g are left on it by the book (2u %.1f g)", old.ID, left.Net.Grams, 2*u), nil
}

// tooMuch says why that much can't have been wound off a spool whose book was so then, and how to find out; both blank if it can.
func tooMuch(old *inventory.Spool, at ledger.Time, book, off ledger.Grams, u float64) (what, mend string) {
	mend = "weigh it with: tarebook weigh " + old.ID + " GROSS"
	switch {
	case endedBy(old, at):
		return fmt.Sprintf("%s ended on %s, so nothing can be wound off it", old.ID, old.End.At), "cancel that weigh-in, if it is wrong, with: tarebook void --only " + old.End.Name()
	case book <= 0:
		return fmt.Sprintf("%s holds %s g by the book, so nothing can be wound off it", old.ID, book), mend
	case (off - book).Float() > 2*u:
		return fmt.Sprintf("%s holds %s g by the book (2u %.1f g), and %s g are more than that", old.ID, book, 2*u, off), mend
	}
	return "", ""
}

// woundOff refuses rows of a sheet that wind more off a spool than is there, of the book or of the sheet itself. all have been checked
// for all else.
func (in *Import) woundOff(v *ledger.View, all []*line[ledger.Purchase]) error {
	var rows []ledger.Purchase
	var from []*line[ledger.Purchase] // of each of rows
	off := false
	for _, l := range all {
		if l.faults == nil && !l.there {
			rows, from = append(rows, l.row), append(from, l)
			off = off || l.row.From != ""
		}
	}
	if !off || in.Sure {
		return nil
	}
	if err := v.SupposePurchases(rows); err != nil {
		return err
	}
	shelf, err := inventory.LoadSpools(v)
	if err == nil {
		err = shelf.ReadConsumption(v)
	}
	if err != nil {
		return err
	}
	histories := map[*inventory.Spool][]inventory.Event{}
	for i := range rows {
		old := shelf.Spool(rows[i].From)
		if old == nil || old.ID == rows[i].Spool {
			continue
		}
		if histories[old] == nil {
			if histories[old], err = old.History(v); err != nil {
				return err
			}
		}
		book, u := old.BookBefore(histories[old], rows[i].Name())
		if what, mend := tooMuch(old, rows[i].At, book, rows[i].NetG, u); what != "" {
			from[i].refuse(what, mend+", or write --sure")
		}
	}
	return nil
}
