package main

import (
	"errors"
	"fmt"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type buyCmd struct {
	Spool    string `arg:"" optional:""`
	Material string `group:"The spool"`
	Colour   string `group:"The spool"`
	Net      string `group:"The spool"`
	Diameter string `default:"1.75" group:"The spool"`
	Core     string `group:"The spool"`
	Tare     string `group:"The spool"`
	Swatch   string `group:"The spool"`
	Maker    string `group:"The spool"`
	Lot      string `group:"The spool"`
	Place    string `group:"The spool"`
	Off      string `group:"The spool"`

	Opened bool   `group:"An opened spool"`
	Gross  string `group:"An opened spool"`
	Label  string `group:"An opened spool"`

	Price    string `group:"Price"`
	Total    string `group:"Price"`
	Currency string `group:"Price"`
	Supplier string `group:"Price"`
	Count    int    `default:"1"`
	recordFlags
}

func (c *buyCmd) Run(a *app) error {
	at, err := c.at(a)
	if err != nil {
		return err
	}
	if err := c.fits(); err != nil {
		return err
	}
	typed := recording.TypedPurchase{
		Row: ledger.Purchase{Head: ledger.Head{At: at}, Spool: c.Spool, Material: c.Material, Colour: c.Colour, Swatch: c.Swatch, Maker: c.Maker, Lot: c.Lot,
			Core: c.Core, Currency: c.Currency, Supplier: c.Supplier, Place: c.Place, From: c.Off, Note: c.Note},
		Net: c.Net, Diameter: c.Diameter, Tare: c.Tare, Gross: c.Gross, Label: c.Label, Price: c.Price, Total: c.Total, Opened: c.Opened, Count: c.Count}
	return a.record(c.writeFlags, func(v *ledger.View) (recording.Booking, error) { return recording.Buy(v, typed, a.bench()) })
}

// fits refuses flags that don't go together.
func (c *buyCmd) fits() error {
	switch {
	case c.Count < 1 || c.Count > 1000:
		return fmt.Errorf("--count %d is no number of spools; write 1 to 1000", c.Count)
	case c.Price != "" && c.Total != "":
		return errors.New("--price goes without --total")
	case !c.Opened && (c.Gross != "" || c.Label != ""):
		return errors.New("--gross and --label go with --opened")
	case !c.Opened:
		return nil
	case c.Count > 1 || c.Total != "":
		return errors.New("--opened is about one spool, so it goes without --count and --total")
	case c.Net != "":
		return errors.New("--opened goes without --net; write --label, and --gross for what the scale shows")
	case c.Off != "":
		return errors.New("--opened goes without --off; write --net for what was wound off")
	case c.Gross == "":
		return errors.New("--gross is missing; write what the scale shows of the spool, as 612")
	case c.Label == "":
		return errors.New("--label is missing; write the grams of filament that the spool held when it was full, as 1000")
	}
	return nil
}
