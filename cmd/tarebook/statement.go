package main

import (
	"errors"
	"fmt"
	"io"

	"tarebook/inventory/cost"
	"tarebook/ledger"
	"tarebook/reports"
)

type statementCmd struct {
	Client string `arg:"" optional:"" about:"The client, as in clients.csv."`
	House  bool   `about:"What no client pays: shares that are not billed, jobs of nobody, losses of spools."`
	period
	HTML   bool `name:"html" group:"A page to print" about:"Write the client's statement as a page to print."`
	output `group:"A page to print"`
}

func (c *statementCmd) Run(a *app) error {
	switch {
	case c.House && c.Client != "":
		return fmt.Errorf("--house is nobody's statement; leave out %q", c.Client)
	case !c.House && ledger.Trim(c.Client) == "":
		return errors.New("name a client, or write --house for what no client pays; see the clients with: tarebook waste --by client")
	case c.HTML && c.House:
		return errors.New("--html is for a client's statement; the house's is a table, csv, json or md")
	case c.HTML && a.Format != "table":
		return fmt.Errorf("--html goes without --format %s", a.Format)
	case c.Out != "" && !c.HTML:
		return errors.New("--out goes with --html")
	}
	from, to, err := c.days()
	if err != nil {
		return err
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	if c.House {
		house, err := cost.NewHouse(v, from, to)
		if err != nil {
			return err
		}
		return a.show(v, reports.NewHouse(house))
	}
	bill, err := cost.NewStatement(v, c.Client, from, to)
	if err != nil {
		return err
	}
	statement := reports.NewStatement(bill)
	statement.At = reports.Date(a.today(v).Date())
	if !c.HTML {
		return a.show(v, statement)
	}
	if err := c.write(a, func(w io.Writer) error { return statement.WriteHTML(w, false) }); err != nil {
		return err
	}
	return a.flagConflicts(v)
}
