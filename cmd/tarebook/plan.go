package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math/big"
	"os"
	"strconv"
	"strings"
	"time"

	"tarebook/inventory"
	"tarebook/inventory/planning"
	"tarebook/inventory/recording"
	"tarebook/ledger"
	"tarebook/reports"
)

type planCmd struct {
	File         string   `arg:"" optional:"" about:"A sliced file (G-code): text, gzip, a zip container or binary blocks; - is standard input."`
	Printer      []string `sep:"none" about:"Only on these printers; else on all of the book." value:"PRINTER"`
	BaseTime     string   `about:"How long the print takes without its changes, as 2h48m." value:"TIME"`
	SequenceFile string   `group:"The sliced file" about:"Instead of a sliced file: a CSV with the columns slot and grams, a line for each use in order." value:"CSV"`
	Pin          []string `sep:"none" group:"The choice" about:"Hold a slot to a nozzle, counted from 1; once for each." value:"SLOT=NOZZLE"`
	Weight       []string `sep:"none" group:"The choice" about:"Let what is wasted of a spool count so many times; beside the setting purge_weight." value:"SPOOL=NUMBER"`
	TrySpools    bool     `group:"The choice" about:"Also try other spools for slots loaded as MATERIAL/COLOUR, so that remnants are finished first."`
	AsItLies     bool     `group:"The choice" about:"Print it where it lies on the plate; else it may be shifted so that the nozzles reach."`
	slicing
}

func (c *planCmd) Run(a *app) error {
	base, err := c.base()
	if err != nil {
		return err
	}
	v, err := a.view()
	if err != nil {
		return err
	}
	shelf, costing, err := planning.Load(v)
	if err != nil {
		return err
	}
	o, err := c.choice(a, v, shelf)
	if err != nil {
		return err
	}
	print, err := c.print(a, v, shelf)
	if err != nil {
		return err
	}
	plans, err := planning.Plan(shelf, *print, o)
	if err != nil {
		return err
	}
	plan := reports.NewPlan(plans, costing.Learned(o.Printers, o.Tables), base)
	if err := a.show(v, plan); err != nil {
		return err
	}
	if plan.Flagged() {
		return errFlagged
	}
	return nil
}

// base reads --base-time; 0 when it is not given.
func (c *planCmd) base() (time.Duration, error) {
	if c.BaseTime == "" {
		return 0, nil
	}
	base, err := time.ParseDuration(c.BaseTime)
	if err != nil || base <= 0 {
		return 0, fmt.Errorf("--base-time %q is no time; write it as 2h48m", c.BaseTime)
	}
	return base, nil
}

// print reads the print, and puts what is loaded on its slots.
func (c *planCmd) print(a *app, v *ledger.View, shelf *inventory.Shelf) (*planning.Print, error) {
	var print planning.Print
	var err error
	switch {
	case (c.File == "") == (c.SequenceFile == ""):
		return nil, errors.New("name a sliced file, or a CSV with --sequence-file")
	case c.File != "":
		o, err := c.options(shelf.Settings)
		if err != nil {
			return nil, err
		}
		o.Sequence = true
		file, err := a.readSliced(c.File, o, false)
		if err != nil {
			return nil, err
		}
		a.stops(file, nil)
		print = planning.PrintOf(file)
	case c.readFlags.given() != "":
		return nil, fmt.Errorf("%s goes with a sliced file, not with --sequence-file", c.readFlags.given())
	default:
		if print, err = c.sequence(a); err != nil {
			return nil, err
		}
	}
	if len(print.Slots) == 0 {
		return nil, fmt.Errorf("%s extrudes nothing", print.Name)
	}
	loads, err := c.loads().Slots(v, shelf, print.Names(), c.standing(a, shelf))
	if err != nil {
		return nil, err
	}
	return &print, print.Load(loads)
}

// standing returns the printer whose spools stand on the slots of which --load says nothing: the only one of --printer, else the bench's.
func (c *planCmd) standing(a *app, shelf *inventory.Shelf) string {
	if len(c.Printer) == 1 {
		return c.Printer[0]
	}
	return cmp.Or(a.bench().Printer, shelf.Settings.Printer)
}

func (c *planCmd) sequence(a *app) (print planning.Print, err error) {
	if c.SequenceFile == "-" {
		return planning.ReadSequence(a.stdin, "standard input")
	}
	f, err := os.Open(a.path(c.SequenceFile))
	if err != nil {
		return print, err
	}
	defer func(f io.Closer) { err = errors.Join(err, f.Close()) }(f)
	return planning.ReadSequence(f, c.SequenceFile)
}

// choice gathers what plans are made of.
func (c *planCmd) choice(a *app, v *ledger.View, shelf *inventory.Shelf) (o planning.Options, err error) {
	o = planning.Options{TrySpools: c.TrySpools, AsItLies: c.AsItLies, Pins: map[string]int{}, Weights: map[*inventory.Spool]*big.Rat{}}
	all, e1 := v.PrintersInOrder()
	o.Tables, err = planning.TablesOf(v)
	if err := ledger.JoinFaults(e1, err); err != nil {
		return o, err
	}
	wanted := map[string]bool{}
	var errs []error
	for _, name := range c.Printer {
		name, err := recording.Known(v, "printer", name)
		wanted[name] = true
		errs = append(errs, err)
	}
	for _, p := range all {
		if len(wanted) == 0 && p.IsOwned() || wanted[p.Printer] {
			o.Printers = append(o.Printers, p)
		}
	}
	if len(all) == 0 {
		errs = append(errs, fmt.Errorf("the book has no printer; define one with: tarebook define printer NAME %s", recording.DefineColumns["printer"]))
	}
	for _, text := range c.Pin {
		slot, nozzle, _ := strings.Cut(text, "=")
		n, err := strconv.Atoi(ledger.Trim(nozzle))
		if slot = ledger.Trim(slot); err != nil || n < 1 || slot == "" {
			errs = append(errs, fmt.Errorf("--pin %q does not read SLOT=NOZZLE, as 0=1; nozzles count from 1", text))
			continue
		}
		if _, twice := o.Pins[slot]; twice {
			errs = append(errs, fmt.Errorf("slot %q is pinned twice", slot))
		}
		o.Pins[slot] = n
	}
	for _, text := range c.Weight {
		w, err := ledger.ParsePurgeWeight(text)
		if err != nil {
			errs = append(errs, fmt.Errorf("--weight %w", err))
			continue
		}
		spool, err := shelf.Find(w.Spool)
		if err != nil {
			errs = append(errs, fmt.Errorf("--weight %q: %w", text, err))
			continue
		}
		if o.Weights[spool] != nil {
			errs = append(errs, fmt.Errorf("%s is given two weights", spool.ID))
		}
		o.Weights[spool] = w.Weight.Rat()
	}
	return o, errors.Join(errs...)
}
