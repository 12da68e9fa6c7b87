package main

import (
	"fmt"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/reports"
)

type stockCmd struct {
	Spools   []string `arg:"" optional:"" name:"spool" about:"Spools, or beginnings of ids; else all."`
	Material string   `group:"Which" about:"Only of this material." value:"MATERIAL"`
	Colour   string   `group:"Which" about:"Only of this colour." value:"COLOUR"`
	Place    string   `group:"Which" about:"Only at this place: PRINTER/SLOT, a printer alone, or where on the shelf." value:"PLACE"`
	Printer  string   `group:"Which" about:"Only what is loaded on this printer, by feed; the empty feeds are told." value:"PRINTER"`
	Low      string   `group:"Which" about:"Only what likely holds no more, as 200g or 60m." value:"MASS"`
	Flag     string   `group:"Which" about:"Only with this flag, as 'no tare'." value:"FLAG"`
	All      bool     `group:"Which" about:"Show the ended spools too, as csv and json always do."`
	Sort     string   `default:"spool" about:"By spool, material, place, net, length, value or weighed; the least or oldest first." value:"KEY" choices:"spool,material,place,net,length,value,weighed"`
}

func (c *stockCmd) Run(a *app) error {
	v, shelf, err := a.shelf(inventory.Load)
	if err != nil {
		return err
	}
	if c.Printer != "" {
		if c.Printer, err = recording.Known(v, "printer", c.Printer); err != nil {
			return err
		}
		c.Sort = "place"
	}
	want := inventory.Selection{IDs: c.Spools, Material: c.Material, Colour: c.Colour, Place: c.Place, Printer: c.Printer, Low: c.Low}
	spools, err := shelf.Select(want)
	if err != nil {
		return err
	}
	stock := reports.NewStock(spools, c.All || len(c.Spools) > 0)
	stock.Some = len(spools) < len(shelf.Spools)
	if c.Flag != "" {
		if stock, err = stock.Flagged(c.Flag); err != nil {
			return err
		}
	}
	if stock, err = stock.Sorted(c.Sort); err != nil {
		return err
	}
	if c.Printer != "" {
		stock.Empty = shelf.EmptyFeeds(c.Printer)
	}
	a.warnImpossible(shelf)
	return a.show(v, stock)
}

// mostImpossible is how many figures that cannot be are noted beside an answer; verify lists all.
const mostImpossible = 5

// warnImpossible says beside an answer which of the figures that it rests on cannot be.
func (a *app) warnImpossible(shelf *inventory.Shelf) {
	problems := shelf.Impossible()
	for _, p := range problems[:min(len(problems), mostImpossible)] {
		a.warn(p.Text())
	}
	if more := len(problems) - mostImpossible; more > 0 {
		a.warn(fmt.Sprintf("%d more figures cannot be; see them with: tarebook verify", more))
	}
}
