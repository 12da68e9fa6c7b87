package main

import (
	"tarebook/inventory"
	"tarebook/reports"
)

type cardCmd struct {
	Spool string `arg:"" about:"The spool's id, or an unambiguous beginning of it."`
}

func (c *cardCmd) Run(a *app) error {
	v, shelf, err := a.shelf(inventory.Load)
	if err != nil {
		return err
	}
	spool, err := shelf.Find(c.Spool)
	if err != nil {
		return err
	}
	events, err := spool.History(v)
	if err != nil {
		return err
	}
	var entries []string
	for _, e := range events {
		entries = append(entries, e.Entry)
	}
	handles, err := v.Handles(entries)
	if err != nil {
		return err
	}
	return a.show(v, reports.NewCard(spool, events, handles))
}
