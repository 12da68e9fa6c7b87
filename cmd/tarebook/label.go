package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/reports"
)

type labelCmd struct {
	Spools []string `arg:"" optional:"" name:"spool" about:"Spools to label, in this order: ids, or beginnings that fit one alone."`
	All    bool     `about:"Every spool on the shelf, by id; those that have ended are left out."`
	Grid   string   `group:"How it prints" about:"Columns x rows of a sheet, which prints on A4 and Letter; else 3x8." value:"CxR"`
	SVG    bool     `name:"svg" group:"How it prints" about:"One label alone, as a drawing for a label printer."`
	Size   string   `group:"How it prints" about:"With --svg: width x height in mm; else 62x29." value:"WxH"`
	output `group:"How it prints"`
}

func (c *labelCmd) Run(a *app) error {
	values := a.Format != "table"
	grid, size, err := c.parse(a.Format)
	if err != nil {
		return err
	}
	v, shelf, err := a.shelf(inventory.Load)
	if err != nil {
		return err
	}
	spools, err := c.find(shelf)
	if err != nil {
		return err
	}
	labels := reports.NewLabels(spools)
	switch {
	case values:
		return a.show(v, labels)
	case len(labels) == 0:
		return errors.New("no spool is on the shelf; book one with: tarebook buy")
	case c.SVG:
		err = c.write(a, func(w io.Writer) error { return labels.WriteSVG(w, size) })
	default:
		err = c.write(a, func(w io.Writer) error { return labels.WriteSheets(w, grid) })
	}
	if err != nil {
		return err
	}
	return a.flagConflicts(v)
}

// parse looks at how it is to print before anything is read.
func (c *labelCmd) parse(format string) (grid reports.LabelGrid, size reports.LabelSize, err error) {
	grid, size = reports.DefaultLabelGrid, reports.DefaultLabelSize
	fault := func(format string, args ...any) (reports.LabelGrid, reports.LabelSize, error) {
		return grid, size, fmt.Errorf(format, args...)
	}
	switch {
	case len(c.Spools) == 0 && !c.All:
		return fault("name the spools, or write --all")
	case len(c.Spools) > 0 && c.All:
		return fault("--all is every spool on the shelf; leave out %s", strings.Join(c.Spools, ", "))
	case c.SVG && (c.All || len(c.Spools) > 1):
		return fault("--svg is one label; name one spool")
	case c.Size != "" && !c.SVG:
		return fault("--size goes with --svg; a sheet has --grid")
	case c.Grid != "" && c.SVG:
		return fault("--grid is of a sheet; --svg has --size")
	}
	for _, f := range []struct {
		flag  string
		given bool
	}{{"--svg", c.SVG}, {"--grid", c.Grid != ""}, {"--out", c.Out != ""}} {
		if f.given && format != "table" {
			return fault("%s goes without --format %s", f.flag, format)
		}
	}
	if c.Grid != "" {
		if grid, err = reports.ParseLabelGrid(c.Grid); err != nil {
			return fault("--grid %w", err)
		}
	}
	if c.Size != "" {
		if size, err = reports.ParseLabelSize(c.Size); err != nil {
			return fault("--size %w", err)
		}
	}
	return grid, size, nil
}

// find returns the spools to label, each once; every name that no spool has is a fault.
func (c *labelCmd) find(shelf *inventory.Shelf) (spools []*inventory.Spool, err error) {
	if c.All {
		spools = slices.DeleteFunc(slices.Clone(shelf.Spools), func(s *inventory.Spool) bool { return s.Ended })
		slices.SortFunc(spools, func(a, b *inventory.Spool) int { return cmp.Compare(a.ID, b.ID) })
		return spools, nil
	}
	var errs []error
	for _, id := range c.Spools {
		s, err := shelf.Find(id)
		if err != nil {
			errs = append(errs, err)
		} else if !slices.Contains(spools, s) {
			spools = append(spools, s)
		}
	}
	return spools, errors.Join(errs...)
}
