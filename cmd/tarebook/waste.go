package main

import (
	"strings"

	"tarebook/inventory/cost"
	"tarebook/reports"
)

type wasteCmd struct {
	By string `default:"client" about:"What a row is: client, printer, material, spool, job or month." value:"KEY"`
	period
}

func (c *wasteCmd) Run(a *app) error {
	from, to, err := c.days()
	if err != nil {
		return err
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	costing, err := cost.Load(v, strings.ToLower(c.By), from, to)
	if err != nil {
		return err
	}
	return a.show(v, reports.NewWaste(strings.ToLower(c.By), costing))
}
