package main

import (
	"fmt"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type moveCmd struct {
	Moves []string `arg:"" name:"spool place" about:"Spools, each with where it now is: PRINTER/SLOT when loaded, else free text."`
	recordFlags
}

func (c *moveCmd) Run(a *app) error {
	at, err := c.at(a)
	if err != nil {
		return err
	}
	if len(c.Moves)%2 == 1 {
		return fmt.Errorf("%q has no place after it; write SPOOL PLACE, as PLA-017 DOOR/0, and a place of several words in quotes", c.Moves[len(c.Moves)-1])
	}
	var rows []ledger.Move
	for i := 0; i < len(c.Moves); i += 2 {
		rows = append(rows, ledger.Move{Head: ledger.Head{At: at}, Spool: c.Moves[i], Place: c.Moves[i+1], Note: c.Note})
	}
	return a.record(c.writeFlags, func(v *ledger.View) (recording.Booking, error) { return recording.Move(v, rows) })
}
