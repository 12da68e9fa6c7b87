package recording

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"tarebook/ledger"
)

// Known returns the name of a material, core, scale, printer or client as its table has it; blank is blank. A name that its table
// lacks is refused, with what to type instead.
func Known(v *ledger.View, kind, name string) (string, error) {
	if name == "" {
		return "", nil
	}
	switch kind {
	case "material":
		rows, err := v.Materials()
		return find(kind, name, ledger.Materials, rows, err, func(m *ledger.Material) string { return m.Material })
	case "core":
		rows, err := v.Cores()
		return find(kind, name, ledger.Cores, rows, err, func(c *ledger.Core) string { return c.Core })
	case "scale":
		rows, err := v.Scales()
		return find(kind, name, ledger.Scales, rows, err, func(s *ledger.Scale) string { return s.Scale })
	case "printer":
		rows, err := v.Printers()
		return find(kind, name, ledger.Printers, rows, err, func(p *ledger.Printer) string { return p.Printer })
	case "client":
		rows, err := v.Clients()
		return find(kind, name, ledger.Clients, rows, err, func(c *ledger.Client) string { return c.Client })
	}
	panic("no table of the kind " + kind)
}

func find[T any](kind, name, file string, rows map[string]*T, err error, nameOf func(*T) string) (string, error) {
	if err != nil {
		return "", err
	}
	if row := ledger.Named(rows, name); row != nil {
		return nameOf(row), nil
	}
	var all []string
	for row := range maps.Values(rows) {
		all = append(all, nameOf(row))
	}
	slices.Sort(all)
	near := ledger.Nearest(name, all)
	if near != "" && kind != "material" {
		return "", fmt.Errorf("no %s %q; did you mean %s?", kind, name, near)
	}
	mend := fmt.Sprintf("define it with: tarebook define %s %s %s", kind, shellWord(name), DefineColumns[kind])
	if near != "" { // polymers have names that are near each other: the other one may well be new
		return "", fmt.Errorf("no %s %q; did you mean %s? else %s", kind, name, near, mend)
	}
	if len(all) == 0 {
		return "", fmt.Errorf("no %s %q; %s", kind, name, mend)
	}
	return "", fmt.Errorf("no %s %q in %s, which has: %s; %s", kind, name, file, strings.Join(all, ", "), mend)
}

// DefineColumns are the columns that a new row of a table should not go without, as they are typed.
var DefineColumns = map[string]string{
	"material": "density=G_PER_CM3",
	"core":     "tare=GRAMS",
	"scale":    "division=GRAMS error=GRAMS",
	"printer":  "feeds=FEEDS",
	"client":   "name=NAME",
}

// A Booking is what a command has decided to record: its rows, what is told once they are on disk, and what is told at once.
type Booking struct {
	Batch    ledger.Batch
	Told     []string
	Facts    []Fact // the figures of Told, one for each row of Batch; nil if it tells none
	Warnings []string
}

// Bench are the defaults of one bench, which come before those of the settings. Blank: none.
type Bench struct {
	Scale, Printer string
	Prefix         string // new ids of spools begin with it
}

func (b Bench) scale(s *ledger.Settings) string   { return cmp.Or(b.Scale, s.Scale) }
func (b Bench) printer(s *ledger.Settings) string { return cmp.Or(b.Printer, s.Printer) }
