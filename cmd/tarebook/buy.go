package main

import (
	"errors"
	"fmt"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type buyCmd struct {
	Spool    string `arg:"" optional:"" help:"The new spool's id; with --count what the ids begin with, else $TAREBOOK_BENCH."`
	Material string `group:"The spool" help:"Its material, one of materials.csv." placeholder:"NAME"`
	Colour   string `group:"The spool" help:"Its colour." placeholder:"NAME"`
	Net      string `group:"The spool" help:"Filament on it by the label, as 1000, 0.75kg or 330m." placeholder:"MASS"`
	Diameter string `default:"1.75" group:"The spool" help:"Diameter in mm." placeholder:"MM"`
	Core     string `group:"The spool" help:"What it is wound on, one of cores.csv." placeholder:"NAME"`
	Tare     string `group:"The spool" help:"What the empty spool weighs, where that is known." placeholder:"MASS"`
	Swatch   string `group:"The spool" help:"Its colour as #RRGGBB." placeholder:"#RRGGBB"`
	Maker    string `group:"The spool" help:"Who made it." placeholder:"NAME"`
	Lot      string `group:"The spool" help:"Its lot." placeholder:"TEXT"`
	Place    string `group:"The spool" help:"Where it is." placeholder:"PLACE"`
	Off      string `group:"The spool" help:"The spool it was wound off; material, colour and diameter are then that one's." placeholder:"SPOOL"`

	Opened bool   `group:"An opened spool" help:"It was begun already: what is on it, and that share of its price, follow from --gross."`
	Gross  string `group:"An opened spool" help:"What the scale shows now." placeholder:"MASS"`
	Label  string `group:"An opened spool" help:"Filament on it by the label when it was full." placeholder:"MASS"`

	Price    string `group:"Price" help:"What one spool cost in all, with its share of shipping, less taxes you get back." placeholder:"AMOUNT"`
	Total    string `group:"Price" help:"What all spools cost together; shared to the cent." placeholder:"AMOUNT"`
	Currency string `group:"Price" help:"ISO 4217; else that of the settings." placeholder:"CODE"`
	Supplier string `group:"Price" help:"Who sold it." placeholder:"NAME"`
	Count    int    `default:"1" help:"How many equal spools; their ids are numbered." placeholder:"N"`
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
