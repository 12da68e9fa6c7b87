package main

import (
	"errors"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type voidCmd struct {
	Entries []string `arg:"" optional:"" name:"entry" about:"Entries to cancel, as card, reconcile and verify show them."`
	Last    bool     `about:"All rows of the last command that is not cancelled yet."`
	Why     string   `group:"Recording" about:"Why." value:"REASON"`
	At      string   `group:"Recording" about:"When; else now." value:"TIME"`
	writeFlags
}

func (c *voidCmd) Run(a *app) error {
	if c.Last == (len(c.Entries) > 0) {
		return errors.New("write the entries to cancel, or --last alone")
	}
	at, err := (&recordFlags{At: c.At}).at(a)
	if err != nil {
		return err
	}
	return a.record(c.writeFlags, func(v *ledger.View) (recording.Booking, error) { return recording.Void(v, c.Entries, at, c.Why) })
}
