package main

import (
	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/inventory/recording"
	"tarebook/reports"
)

type verifyCmd struct{}

func (c *verifyCmd) Run(a *app) error {
	v, err := a.view()
	if err != nil {
		return err
	}
	found, err := inventory.Verify(v, a.now())
	if err != nil {
		return err
	}
	bills, err := cost.VerifyBills(v)
	if err != nil {
		return err
	}
	problems := append(found.Problems, bills...)
	report := reports.NewVerify(found.Entries, problems, found.Seals, recording.Instead(v))
	style := reports.Style{Format: a.Format, Seen: a.terminal}
	if err := reports.Render(a.stdout, report, style); err != nil {
		return err
	}
	if len(problems) > 0 {
		return errFlagged
	}
	return nil
}
