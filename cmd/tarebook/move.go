package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

type moveCmd struct {
	Spool string `arg:""`
	Place string `arg:""`
	recordFlags
}

func (c *moveCmd) Run(a *app) error {
	at, err := c.at(a)
	if err != nil {
		return err
	}
	return a.record(c.writeFlags, func(v *ledger.View) (ledger.Batch, []string, error) {
		shelf, err := inventory.LoadSpools(v)
		if err != nil {
			return nil, nil, err
		}
		spool, err := shelf.Find(c.Spool)
		if err != nil {
			return nil, nil, err
		}
		if spool.Ended {
			return nil, nil, fmt.Errorf("%s has ended", spool.ID)
		}
		place := ledger.Trim(c.Place)
		if place == "" {
			return nil, nil, errors.New("no place; write PRINTER/SLOT, or where on the shelf it is")
		}
		lines := []string{fmt.Sprintf("%s is at %s", spool.ID, place)}
		if p := ledger.Named(shelf.Printers, place); p != nil {
			lines = append(lines, fmt.Sprintf("a spool that is loaded there is at %s/SLOT, as %s/0", p.Printer, p.Printer))
		}
		if i := strings.LastIndexByte(place, '/'); i > 0 {
			p := ledger.Named(shelf.Printers, ledger.Trim(place[:i]))
			if p == nil {
				var names []string
				for _, p := range shelf.Printers {
					names = append(names, p.Printer)
				}
				if near := ledger.Nearest(ledger.Trim(place[:i]), slices.Sorted(slices.Values(names))); near != "" {
					lines = append(lines, fmt.Sprintf("no printer has that name, so it is not loaded; did you mean %s/%s?", near, ledger.Trim(place[i+1:])))
				}
			} else {
				place = p.Printer + "/" + ledger.Trim(place[i+1:])
				lines[0] = fmt.Sprintf("%s is at %s", spool.ID, place)
				if there := shelf.At(place); there != nil && there != spool {
					lines = append(lines, fmt.Sprintf("%s is there no longer; say where it went with: tarebook move %s PLACE", there.ID, there.ID))
				}
			}
		}
		row := ledger.Move{Head: ledger.Head{At: at}, Spool: spool.ID, Place: place, Note: c.Note}
		return ledger.NewBatch[ledger.Move]([]ledger.Move{row}), lines, nil
	})
}
