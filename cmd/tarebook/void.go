package main

import (
	"errors"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type voidCmd struct {
	Entries []string `arg:"" optional:"" name:"entry" about:"Handles of commands to cancel, as recent and card show them, or FILE:LINE as messages print it."`
	Only    bool     `about:"Cancel the rows named alone, not all that was recorded with them."`
	Last    bool     `about:"All rows of the last command that is not cancelled yet."`
	Why     string   `group:"Recording" about:"Why." value:"REASON"`
	At      string   `group:"Recording" about:"When; else now." value:"TIME"`
	writeFlags
}

func (c *voidCmd) Run(a *app) error {
	if c.Last == (len(c.Entries) > 0) {
		return errors.New("write the handles of what to cancel, as tarebook recent shows them, or --last alone")
	}
	if c.Only && c.Last {
		return errors.New("--only is for a row by its handle; --last cancels the last command whole")
	}
	at, err := (&recordFlags{At: c.At}).at(a)
	if err != nil {
		return err
	}
	return a.record(c.writeFlags, func(v *ledger.View) (recording.Booking, error) {
		return recording.Void(v, c.Entries, c.Only, at, c.Why)
	})
}
