package recording

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Move records where a spool is; row has its spool and place as typed.
func Move(v *ledger.View, row ledger.Move) (b Booking, err error) {
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return b, err
	}
	spool, err := shelf.Find(row.Spool)
	if err != nil {
		return b, err
	}
	if spool.Ended {
		return b, fmt.Errorf("%s has ended", spool.ID)
	}
	row.Spool, row.Place = spool.ID, ledger.Trim(row.Place)
	if row.Place == "" {
		return b, errors.New("no place; write PRINTER/SLOT, or where on the shelf it is")
	}
	var notes []string
	if p := ledger.Named(shelf.Printers, row.Place); p != nil {
		notes = append(notes, fmt.Sprintf("a spool that is loaded there is at %s/SLOT, as %s/0", p.Printer, p.Printer))
	}
	if i := strings.LastIndexByte(row.Place, '/'); i > 0 {
		printer, slot := ledger.Trim(row.Place[:i]), ledger.Trim(row.Place[i+1:])
		if p := ledger.Named(shelf.Printers, printer); p != nil {
			row.Place = p.Printer + "/" + slot
			if there := shelf.At(row.Place); there != nil && there != spool {
				notes = append(notes, fmt.Sprintf("%s is there no longer; say where it went with: tarebook move %s PLACE", there.ID, there.ID))
			}
		} else if near := nearestPrinter(shelf, printer); near != "" {
			notes = append(notes, fmt.Sprintf("no printer has that name, so it is not loaded; did you mean %s/%s?", near, slot))
		}
	}
	b.Batch = ledger.NewBatch[ledger.Move]([]ledger.Move{row})
	b.Told = append([]string{fmt.Sprintf("%s is at %s", spool.ID, row.Place)}, notes...)
	return b, nil
}

func nearestPrinter(shelf *inventory.Shelf, name string) string {
	var names []string
	for _, p := range shelf.Printers {
		names = append(names, p.Printer)
	}
	slices.Sort(names)
	return ledger.Nearest(name, names)
}
