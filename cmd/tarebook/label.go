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
	Size   string   `group:"How it prints" about:"With --svg or --pitch: width x height of one label in mm; else 62x29, or the pitch." value:"WxH"`
	Pitch  string   `group:"How it prints" about:"Sheets of labels that are cut already: mm from one label to the next, across x down." value:"WxH"`
	Margin string   `group:"How it prints" about:"With --pitch: mm from the paper's edges to the first label, left x top." value:"LxT"`
	Skip   int      `group:"How it prints" about:"Labels of the first sheet that are used already." value:"N"`
	output `group:"How it prints"`
}

func (c *labelCmd) Run(a *app) error {
	values := a.Format != "table"
	sheet, size, err := c.parse(a.Format)
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
		err = c.write(a, func(w io.Writer) error { return labels.WriteSheets(w, sheet) })
	}
	if err != nil {
		return err
	}
	return a.flagConflicts(v)
}

// parse looks at how it is to print before anything is read.
func (c *labelCmd) parse(format string) (sheet reports.LabelSheet, size reports.LabelSize, err error) {
	sheet.Grid, sheet.Skip, size = reports.DefaultLabelGrid, c.Skip, reports.DefaultLabelSize
	if err := c.refuse(format); err != nil {
		return sheet, size, err
	}
	if c.Grid != "" {
		if sheet.Grid, err = reports.ParseLabelGrid(c.Grid); err != nil {
			return sheet, size, fmt.Errorf("--grid %w", err)
		}
	}
	if c.Size != "" {
		if size, err = reports.ParseLabelSize(c.Size); err != nil {
			return sheet, size, fmt.Errorf("--size %w", err)
		}
	}
	if c.Pitch != "" {
		if sheet.Pitch, err = reports.ParseLabelSize(c.Pitch); err != nil {
			return sheet, size, fmt.Errorf("--pitch %w", err)
		}
		if sheet.Margin, err = reports.ParseLabelMargin(c.Margin); err != nil {
			return sheet, size, fmt.Errorf("--margin %w", err)
		}
		if sheet.Size = size; c.Size == "" {
			sheet.Size = sheet.Pitch
		}
	}
	return sheet, size, sheet.Check()
}

// refuse refuses flags that don't go together.
func (c *labelCmd) refuse(format string) error {
	switch {
	case len(c.Spools) == 0 && !c.All:
		return errors.New("name the spools, or write --all")
	case len(c.Spools) > 0 && c.All:
		return fmt.Errorf("--all is every spool on the shelf; leave out %s", strings.Join(c.Spools, ", "))
	case c.SVG && (c.All || len(c.Spools) > 1):
		return errors.New("--svg is one label; name one spool")
	case c.Size != "" && !c.SVG && c.Pitch == "":
		return errors.New("--size goes with --svg or --pitch; a sheet to be cut has --grid")
	case c.Grid != "" && c.SVG:
		return errors.New("--grid is of a sheet; --svg has --size")
	case c.SVG && (c.Pitch != "" || c.Margin != "" || c.Skip != 0):
		return errors.New("--pitch, --margin and --skip are of a sheet; --svg has --size")
	case (c.Pitch == "") != (c.Margin == ""):
		return errors.New("--pitch and --margin go together: how far the labels of a sheet are apart, and where the first one stands, as --pitch 66x33.9 --margin 7.2x12.9")
	}
	for _, f := range []struct {
		flag  string
		given bool
	}{{"--svg", c.SVG}, {"--grid", c.Grid != ""}, {"--pitch", c.Pitch != ""}, {"--skip", c.Skip != 0}, {"--out", c.Out != ""}} {
		if f.given && format != "table" {
			return fmt.Errorf("%s goes without --format %s", f.flag, format)
		}
	}
	return nil
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
