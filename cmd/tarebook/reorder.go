package main

import (
	"fmt"

	"tarebook/inventory"
	"tarebook/reports"
)

type reorderCmd struct {
	Window int `default:"90" about:"How many days of use to look back on, the last of them included." value:"DAYS"`
}

// longestWindow is a hundred years, longer than any book.
const longestWindow = 36500

func (c *reorderCmd) Run(a *app) error {
	if c.Window < inventory.LeastDays || c.Window > longestWindow {
		return fmt.Errorf("--window %d is no window of use; write from %d to %d days, as 90", c.Window, inventory.LeastDays, longestWindow)
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	today := a.today(v)
	r, err := inventory.NewReorder(v, today, c.Window)
	if err != nil {
		return err
	}
	return a.show(v, reports.NewReorder(r, today))
}
