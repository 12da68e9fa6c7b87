package main

import (
	"errors"

	"tarebook/inventory/planning"
	"tarebook/reports"
)

type machinesCmd struct {
	period
	Queue  bool `group:"When (by each row's own offset)" about:"The prints of the queue instead of those that are finished."`
	Prints bool `about:"List print by print too."`
}

func (c *machinesCmd) Run(a *app) error {
	from, to, err := c.days()
	if err != nil {
		return err
	}
	if c.Queue && (from != "" || to != "") {
		return errors.New("--queue goes without --month, --from and --to: what is queued has no day yet")
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	m, err := planning.ReckonMachines(v, planning.Period{Queue: c.Queue, From: from, To: to}, a.today(v))
	if err != nil {
		return err
	}
	return a.show(v, reports.NewMachines(m, c.Prints))
}
