package main

import (
	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type moveCmd struct {
	Spool string `arg:"" about:"The spool."`
	Place string `arg:"" about:"Where it now is: PRINTER/SLOT when loaded, else free text."`
	recordFlags
}

func (c *moveCmd) Run(a *app) error {
	at, err := c.at(a)
	if err != nil {
		return err
	}
	row := ledger.Move{Head: ledger.Head{At: at}, Spool: c.Spool, Place: c.Place, Note: c.Note}
	return a.record(c.writeFlags, func(v *ledger.View) (recording.Booking, error) { return recording.Move(v, row) })
}
