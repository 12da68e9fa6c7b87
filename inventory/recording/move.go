package recording

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Move records where spools are; rows have their spools and places as typed.
func Move(v *ledger.View, typed []ledger.Move) (b Booking, err error) {
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return b, err
	}
	var rows []ledger.Move
	var errs []error
	moved := map[*inventory.Spool]bool{}
	for _, row := range typed {
		spool, err := shelf.Find(row.Spool)
		switch {
		case err != nil:
		case spool.Ended:
			err = fmt.Errorf("%s has ended", spool.ID)
		case moved[spool]:
			err = fmt.Errorf("%s stands twice; write where it is now", spool.ID)
		case ledger.Trim(row.Place) == "":
			err = errors.New("no place; write PRINTER/SLOT, or where on the shelf it is")
		default:
			err = noFeed(shelf, row.Place)
		}
		if err != nil {
			errs = append(errs, err)
			continue
		}
		moved[spool] = true
		row.Spool, row.Place = spool.ID, ledger.Trim(row.Place)
		rows = append(rows, row)
	}
	loaded := map[string]string{}
	for i := range rows {
		row := &rows[i]
		place, notes := placeOf(shelf, row, moved)
		if place != nil {
			if other := loaded[ledger.Fold(row.Place)]; other != "" {
				errs = append(errs, fmt.Errorf("%s and %s cannot both be at %s", other, row.Spool, row.Place))
			}
			loaded[ledger.Fold(row.Place)] = row.Spool
		}
		b.Told = append(append(b.Told, fmt.Sprintf("%s is at %s", row.Spool, row.Place)), notes...)
	}
	b.Batch = ledger.NewBatch[ledger.Move](rows)
	return b, errors.Join(errs...)
}

// placeOf spells a row's place as the book does, and returns the printer where the spool is then loaded, nil for none, and what is
// to be said of it. moved are the spools that go elsewhere with the same command.
func placeOf(shelf *inventory.Shelf, row *ledger.Move, moved map[*inventory.Spool]bool) (on *ledger.Printer, notes []string) {
	if p := ledger.Named(shelf.Printers, row.Place); p != nil {
		return nil, []string{fmt.Sprintf("a spool that is loaded there is at %s/SLOT, as %s/0", p.Printer, p.Printer)}
	}
	i := strings.LastIndexByte(row.Place, '/')
	if i <= 0 {
		return nil, nil
	}
	printer, slot := ledger.Trim(row.Place[:i]), ledger.Trim(row.Place[i+1:])
	p := ledger.Named(shelf.Printers, printer)
	if p == nil {
		if near := nearestPrinter(shelf, printer); near != "" {
			notes = append(notes, fmt.Sprintf("no printer has that name, so it is not loaded; did you mean %s/%s?", near, slot))
		}
		return nil, notes
	}
	row.Place = p.Printer + "/" + slot
	if !isNumber(slot) {
		notes = append(notes, fmt.Sprintf("the feeds of %s are %s: only a job whose slot is named %s finds it there", p.Printer, feeds(p), slot))
	}
	if there := shelf.At(row.Place); there != nil && !moved[there] {
		notes = append(notes, fmt.Sprintf("%s is there no longer; say where it went with: tarebook move %s PLACE", there.ID, there.ID))
	}
	return p, notes
}

// noFeed refuses PRINTER/SLOT where the slot is blank, or a number that is none of the printer's feeds. Words stay: slots of the queue may
// be words.
func noFeed(shelf *inventory.Shelf, place string) error {
	i := strings.LastIndexByte(place, '/')
	if i <= 0 {
		return nil
	}
	p, slot := ledger.Named(shelf.Printers, ledger.Trim(place[:i])), ledger.Trim(place[i+1:])
	if p == nil || slot != "" && !isNumber(slot) {
		return nil
	}
	if n, err := strconv.Atoi(slot); err == nil && n >= 0 && n < allFeeds(p) && strconv.Itoa(n) == slot {
		return nil
	}
	what := "has no feed " + slot
	if slot == "" {
		what = "is named without a feed"
	}
	return fmt.Errorf("%s: %s %s; its feeds are %s", ledger.Trim(place), p.Printer, what, feeds(p))
}

// isNumber reports whether a slot is written as a number, whatever its sign.
func isNumber(slot string) bool {
	digits := strings.TrimLeft(slot, "+-")
	return digits != "" && strings.Trim(digits, "0123456789") == ""
}

func allFeeds(p *ledger.Printer) (all int) {
	for _, n := range p.FeedsOf() {
		all += n
	}
	return all
}

// feeds says in words how a printer's feeds are numbered.
func feeds(p *ledger.Printer) string {
	if n := allFeeds(p); n > 1 {
		return fmt.Sprintf("0 to %d", n-1)
	}
	return "0 alone"
}

func nearestPrinter(shelf *inventory.Shelf, name string) string {
	var names []string
	for _, p := range shelf.Printers {
		names = append(names, p.Printer)
	}
	slices.Sort(names)
	return ledger.Nearest(name, names)
}
