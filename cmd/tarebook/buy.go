package main

import (
	"errors"
	"fmt"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type buyCmd struct {
	Spool    string   `arg:"" optional:"" name:"id" about:"The new spool's id; with --count what the ids begin with, else $TAREBOOK_BENCH."`
	Material string   `group:"The spool" about:"Its material, one of materials.csv." value:"MATERIAL"`
	Colour   string   `group:"The spool" about:"Its colour." value:"COLOUR"`
	Net      string   `group:"The spool" about:"Filament on it by the label, as 1000, 0.75kg or 330m." value:"MASS"`
	Diameter string   `default:"1.75" group:"The spool" about:"Diameter in mm." value:"MM"`
	Core     string   `group:"The spool" about:"What it is wound on, one of cores.csv." value:"CORE"`
	Tare     string   `group:"The spool" about:"What the empty spool weighs, where that is known." value:"MASS"`
	Swatch   string   `group:"The spool" about:"Its colour as #RRGGBB." value:"#RRGGBB"`
	Maker    string   `group:"The spool" about:"Who made it." value:"MAKER"`
	Lot      string   `group:"The spool" about:"Its lot." value:"LOT"`
	Place    string   `group:"The spool" about:"Where it is." value:"PLACE"`
	Off      []string `sep:"none" group:"The spool" about:"The spool it was wound off; material, colour and diameter are then that one's, and maker, lot, supplier and swatch where they are left out." value:"SPOOL"`

	Opened bool   `group:"An opened spool" about:"It was begun already: what is on it, and that share of its price, follow from --gross."`
	Gross  string `group:"An opened spool" about:"What the scale shows now." value:"MASS"`
	Scale  string `group:"An opened spool" about:"Which scale; else $TAREBOOK_SCALE, else that of the settings." value:"SCALE"`
	Label  string `group:"An opened spool" about:"Filament on it by the label when it was full." value:"MASS"`

	Price    string `group:"Price" about:"What one spool cost in all, with its share of shipping, less taxes you get back." value:"AMOUNT"`
	Total    string `group:"Price" about:"What all spools cost together; shared to the cent." value:"AMOUNT"`
	Currency string `group:"Price" about:"ISO 4217; else that of the settings." value:"CODE"`
	Supplier string `group:"Price" about:"Who sold it." value:"NAME"`
	Sure     bool   `about:"Book it though its gross is below its tare, or more is wound off than there was."`
	Count    *int   `about:"How many equal spools; their ids are numbered. Without, one spool with the id as typed." value:"N"`
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
	count := 0
	if c.Count != nil {
		count = *c.Count
	}
	typed := recording.TypedPurchase{
		Row: ledger.Purchase{Head: ledger.Head{At: at}, Spool: c.Spool, Material: c.Material, Colour: c.Colour, Swatch: c.Swatch, Maker: c.Maker, Lot: c.Lot,
			Core: c.Core, Currency: c.Currency, Supplier: c.Supplier, Place: c.Place, Note: c.Note, Scale: c.Scale},
		Net: c.Net, Diameter: c.Diameter, Tare: c.Tare, Gross: c.Gross, Label: c.Label, Price: c.Price, Total: c.Total, Opened: c.Opened, Sure: c.Sure,
		Count: max(count, 1), Numbered: c.Count != nil}
	if len(c.Off) > 0 {
		typed.Row.From = c.Off[0]
	}
	return a.record(c.writeFlags, func(v *ledger.View) (recording.Booking, error) { return recording.Buy(v, typed, a.bench()) })
}

// fits refuses flags that don't go together.
func (c *buyCmd) fits() error {
	switch {
	case c.Count != nil && (*c.Count < 1 || *c.Count > 1000):
		return fmt.Errorf("--count %d is no number of spools; write 1 to 1000", *c.Count)
	case c.Price != "" && c.Total != "":
		return errors.New("--price goes without --total")
	case len(c.Off) > 1:
		return fmt.Errorf("--off stands %d times, and a spool is wound off one; buy a spool for each, with what was wound off it", len(c.Off))
	case !c.Opened && (c.Gross != "" || c.Label != "" || c.Scale != ""):
		return errors.New("--gross, --label and --scale go with --opened")
	case !c.Opened:
		return nil
	case c.Count != nil || c.Total != "":
		return errors.New("--opened is about one spool, so it goes without --count and --total")
	case c.Net != "":
		return errors.New("--opened goes without --net; write --label, and --gross for what the scale shows")
	case c.Off != nil:
		return errors.New("--opened goes without --off; write --net for what was wound off")
	case c.Gross == "":
		return errors.New("--gross is missing; write what the scale shows of the spool, as 612")
	case c.Label == "":
		return errors.New("--label is missing; write the grams of filament that the spool held when it was full, as 1000")
	}
	return nil
}
