package main

import (
	"tarebook/inventory"
	"tarebook/reports"
)

type reconcileCmd struct {
	Spools []string `arg:"" optional:"" name:"spool" about:"Spools to show; else all."`
}

func (c *reconcileCmd) Run(a *app) error {
	v, shelf, err := a.shelf(inventory.LoadReadings)
	if err != nil {
		return err
	}
	var spools []*inventory.Spool
	for _, id := range c.Spools {
		s, err := shelf.Find(id)
		if err != nil {
			return err
		}
		spools = append(spools, s)
	}
	return a.show(v, reports.NewReconcile(shelf, spools...))
}
