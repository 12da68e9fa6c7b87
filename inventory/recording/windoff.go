package recording

import (
	"fmt"

	"tarebook/inventory"
	"tarebook/ledger"
)

// windOff refuses to wind more off a spool than is there, book + 2 u, unless sure; and any of a spool whose book is 0 or less. It
// returns what is then left on that spool, in words. row is one of so many equal spools. The shelf has no consumption yet.
func windOff(v *ledger.View, shelf *inventory.Shelf, row *ledger.Purchase, count int, sure bool) (left string, err error) {
	if err := shelf.ReadConsumption(v); err != nil {
		return "", err
	}
	old := shelf.Spool(row.From)
	book, u, err := old.BookAt(v, row.At)
	if err != nil {
		return "", err
	}
	off := row.NetG * ledger.Grams(count)
	ended := endedBy(old, row.At)
	switch {
	case sure:
	case ended:
		return "", fmt.Errorf("%s ended on %s, so nothing can be wound off it; look at --off, or write --sure", old.ID, old.End.At)
	case book <= 0:
		return "", fmt.Errorf("%s holds %s g by the book, so nothing can be wound off it; weigh it with: tarebook weigh %s GROSS, or write --sure", old.ID, book, old.ID)
	case (off - book).Float() > 2*u:
		return "", fmt.Errorf("%s holds %s g by the book (2u %.1f g), and %s g are more than that; look at --net, weigh it with: tarebook weigh %s GROSS, or write --sure",
			old.ID, book, 2*u, off, old.ID)
	}
	if ended {
		return fmt.Sprintf("wound off %s, which had ended: nothing moves on it", old.ID), nil
	}
	return fmt.Sprintf("wound off %s: %s g are left on it by the book (2u %.1f g)", old.ID, book-off, 2*u), nil
}
