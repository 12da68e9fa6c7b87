package main

import (
	"fmt"
	"strings"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type defineCmd struct {
	Kind   string   `arg:"" about:"What it is: material, core, scale, printer, purge, nozzle, limit, client or setting." choices:"material,core,scale,printer,purge,nozzle,limit,client,setting"`
	Name   string   `arg:"" about:"Its name." choices:"of the kind"`
	Values []string `arg:"" optional:"" name:"key=value" about:"Columns of its table, with or without their unit; of a setting its value alone."`
	DryRun bool     `group:"Recording" about:"Show what would be booked; write nothing."`
}

func (c *defineCmd) Run(a *app) error {
	setting := strings.EqualFold(c.Kind, "setting")
	if name, value, ok := strings.Cut(c.Name, "="); ok && setting && len(c.Values) == 0 {
		c.Name, c.Values = name, []string{"value=" + value}
	}
	var values []ledger.Value
	for _, text := range c.Values {
		column, value, ok := strings.Cut(text, "=")
		if setting && len(c.Values) == 1 && !strings.HasPrefix(text, "value=") {
			column, value, ok = "value", text, true
		}
		if !ok {
			return fmt.Errorf("%q is no key=value; see: tarebook define --help", text)
		}
		values = append(values, ledger.Value{Column: strings.ToLower(ledger.Trim(column)), Text: value})
	}
	return a.record(writeFlags{DryRun: c.DryRun}, func(v *ledger.View) (recording.Booking, error) {
		return recording.Define(v, c.Kind, c.Name, values)
	})
}
