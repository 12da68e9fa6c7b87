package main

import (
	"errors"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type voidCmd struct {
	Entries []string `arg:"" optional:"" name:"entry"`
	Last    bool
	Why     string `group:"Recording"`
	At      string `group:"Recording"`
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
