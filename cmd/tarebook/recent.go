package main

import (
	"fmt"

	"tarebook/inventory/recording"
	"tarebook/reports"
)

type recentCmd struct {
	N int `arg:"" optional:"" default:"10" name:"n" about:"How many commands to list; else 10."`
}

func (c *recentCmd) Run(a *app) error {
	if c.N < 1 {
		return fmt.Errorf("recent %d lists nothing; write how many commands, as: tarebook recent 20", c.N)
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	commands, err := recording.Recent(v, c.N)
	if err != nil {
		return err
	}
	return a.show(v, reports.NewRecent(commands))
}
