package main

import (
	"errors"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/reports"
)

type pageCmd struct {
	output
}

func (c *pageCmd) Run(a *app) error {
	if a.Format != "table" {
		return errors.New("the page is HTML; leave --format out, or take one of stock, check and waste")
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	shelf, jobs, err := inventory.Check(v)
	if err != nil {
		return err
	}
	if err := a.locate(v, jobs); err != nil {
		return err
	}
	var costs [3]*cost.Costing
	for i, by := range []string{"client", "month", "printer"} {
		if costs[i], err = cost.Load(v, by, "", ""); err != nil {
			return err
		}
	}
	if err := c.write(a, reports.NewPage(a.today(v), shelf, jobs, costs[0], costs[1], costs[2]).Write); err != nil {
		return err
	}
	return a.flagConflicts(v)
}
