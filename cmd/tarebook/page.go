package main

import (
	"errors"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/inventory/planning"
	"tarebook/ledger"
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
	var costs [3]*cost.Costing
	var also []inventory.Also
	for i, by := range []string{"client", "month", "printer"} {
		also = append(also, func(s *inventory.Shelf) (_ ledger.ConsumptionFold, err error) {
			costs[i], err = cost.NewCosting(v, s, cost.Query{By: by})
			return costs[i], err
		})
	}
	moved, err := reports.NewMovements(v)
	if err != nil {
		return err
	}
	also = append(also, func(*inventory.Shelf) (ledger.ConsumptionFold, error) { return moved, nil })
	var prints *planning.Finished
	files, broken := v.SlicedFiles()
	if len(files) > 0 { // else no print can be reckoned
		also = append(also, func(*inventory.Shelf) (_ ledger.ConsumptionFold, err error) {
			prints, err = planning.NewFinished(v)
			return prints, err
		})
	}
	shelf, jobs, err := inventory.Check(v, also...)
	if err != nil {
		return err
	}
	if err := a.locate(v, jobs, map[string]*foundFile{}); err != nil {
		return err
	}
	page := reports.NewPage(a.today(v), shelf, jobs, costs[0], costs[1], costs[2], moved).WithVersion(version())
	if broken != nil {
		return broken
	}
	if prints != nil {
		m, err := prints.Reckon(v, planning.Period{}, a.today(v))
		if err != nil {
			return err
		}
		page = page.WithMachines(reports.NewMachines(m, false))
	}
	if err := c.write(a, page.Write); err != nil {
		return err
	}
	return a.flagConflicts(v)
}
