package main

import (
	"cmp"
	"errors"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
	"tarebook/reports"
)

type toolpathCmd struct {
	Files    []string `arg:"" name:"file" about:"Sliced files (G-code): text, gzip, a zip container or binary blocks; - is standard input."`
	Sequence bool     `about:"List the tools in order of use."`
	ByLayer  bool     `about:"Write a CSV line for each tool of each layer, for plotting."`
	Density  string   `group:"The sliced file" about:"Density in g/cm3 of all tools, where nothing is loaded." value:"G/CM3"`
	slicing
}

func (c *toolpathCmd) Run(a *app) error {
	var v *ledger.View
	o := toolpath.Options{}
	var shelf *inventory.Shelf
	switch found, err := a.view(); {
	case err == nil:
		v = found
		settings, err := v.Settings()
		if err != nil {
			return err
		}
		o = words(settings)
		if len(c.Load) > 0 {
			load := inventory.LoadSpools
			if c.inTurn() { // where they hand over hangs on what is on them
				load = func(v *ledger.View) (*inventory.Shelf, error) { return inventory.Load(v) }
			}
			if shelf, err = load(v); err != nil {
				return err
			}
		}
	case a.Book != "" || a.getenv("TAREBOOK") != "" || len(c.Load) > 0 || !errors.Is(err, ledger.ErrNoBook):
		return err
	default: // the file alone tells millimetres
		v = &ledger.View{}
	}
	if err := c.apply(&o); err != nil {
		return err
	}
	if c.ByLayer {
		return c.byLayer(a, o)
	}
	o.Sequence = c.Sequence
	var all reports.Toolpaths
	for _, name := range c.Files {
		s, err := a.readSliced(name, o, false)
		if err != nil {
			return err
		}
		on, err := c.on(v, shelf, s)
		if err != nil {
			return err
		}
		a.stops(s, on)
		turns, err := c.turns(a, name, shelf, s, on, o)
		if err != nil {
			return err
		}
		all = append(all, reports.NewToolpath(s, on, turns, c.Sequence))
	}
	return a.show(v, all)
}

// on returns what stands on the tools of a file; shelf is nil without --load.
func (c *toolpathCmd) on(v *ledger.View, shelf *inventory.Shelf, s *inventory.Sliced) (loads []inventory.OnTool, err error) {
	switch {
	case shelf != nil && c.Density != "":
		return nil, errors.New("--density goes without --load")
	case shelf != nil:
		if loads, err = c.loads().Tools(v, shelf, s); err != nil {
			return nil, err
		}
		return loads, s.Loaded(loads)
	case c.Density == "":
		return nil, nil
	}
	density, e1 := inventory.TypedNumber(c.Density)
	diameter, e2 := inventory.TypedNumber(c.Diameter)
	if e1 != nil || e2 != nil || !density.IsPositive() || !diameter.IsPositive() {
		return nil, errors.New("--density and --diameter are numbers above 0; write them as 1.24 and 1.75")
	}
	for _, t := range s.Tools {
		l := inventory.OnTool{Tool: t.Tool}
		l.Filament.Density, l.Filament.DiameterMM = density.Float(0), diameter.Float(0)
		loads = append(loads, l)
	}
	return loads, nil
}

// inTurn reports whether a tool is loaded with several spools.
func (c *toolpathCmd) inTurn() bool {
	return slices.ContainsFunc(c.Load, func(text string) bool { return strings.Contains(text, "+") })
}

// turns finds where spools in turn hand over in a file, were it printed now.
func (c *toolpathCmd) turns(a *app, name string, shelf *inventory.Shelf, s *inventory.Sliced, on []inventory.OnTool, o toolpath.Options) (turns []*inventory.Need, err error) {
	for _, l := range on {
		if l.Turn == nil {
			continue
		}
		n := &inventory.Need{Row: &ledger.Need{Masses: inventory.MassesOf(s.Tool(l.Tool), l.Filament)}, Slot: strconv.Itoa(l.Tool), Spool: l.Spool, Turn: l.Turn,
			Printer: cmp.Or(a.bench().Printer, shelf.Settings.Printer)}
		shelf.WeighUp(n, inventory.Ahead{})
		if name != "-" { // standard input was read to its end
			file := foundFile{Sliced: s, path: a.path(name), options: o}
			if err := file.find(n, l.Tool); err != nil {
				return nil, err
			}
		}
		turns = append(turns, n)
	}
	return turns, nil
}

func (c *toolpathCmd) byLayer(a *app, o toolpath.Options) error {
	if len(c.Files) != 1 || a.Format != "table" && a.Format != "csv" {
		return errors.New("--by-layer writes CSV, of one file")
	}
	w, err := reports.NewLayerWriter(a.stdout)
	if err != nil {
		return err
	}
	o.Layer = w.Layer
	if _, err := a.readSliced(c.Files[0], o, false); err != nil {
		return errors.Join(w.Flush(), err)
	}
	return w.Flush()
}
