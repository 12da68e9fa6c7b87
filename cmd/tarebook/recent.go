package main

import (
	"errors"
	"fmt"

	"tarebook/inventory/recording"
	"tarebook/reports"
)

type recentCmd struct {
	N   *int `arg:"" optional:"" name:"n" about:"How many commands to list; else 10. With --all how many rows; else all."`
	All bool `about:"The whole register: every row that counts, of all ledgers but seals, with its grams and cost."`
	period
	Client string `group:"Which rows (with --all)" about:"Of one client alone." value:"CLIENT"`
	Job    string `group:"Which rows (with --all)" about:"Of one job alone." value:"JOB"`
	Spool  string `group:"Which rows (with --all)" about:"Of one spool alone." value:"SPOOL"`
	Lot    string `group:"Which rows (with --all)" about:"Of the spools of one lot alone." value:"LOT"`
}

func (c *recentCmd) Run(a *app) error {
	if c.N != nil && *c.N < 1 {
		return fmt.Errorf("recent %d lists nothing; write how many commands, as: tarebook recent 20", *c.N)
	}
	from, to, err := c.days()
	if err != nil {
		return err
	}
	query := recording.RegisterQuery{From: from, To: to, Client: c.Client, Job: c.Job, Spool: c.Spool, Lot: c.Lot}
	if !c.All && query != (recording.RegisterQuery{}) {
		return errors.New("recent lists commands; rows by time, client, job, spool or lot are listed with --all")
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	if c.All {
		rows, err := recording.Register(v, query)
		if err != nil {
			return err
		}
		if c.N != nil {
			rows = rows[:min(*c.N, len(rows))]
		}
		return a.show(v, reports.NewRegister(rows))
	}
	n := 10
	if c.N != nil {
		n = *c.N
	}
	commands, err := recording.Recent(v, n)
	if err != nil {
		return err
	}
	return a.show(v, reports.NewRecent(commands))
}
