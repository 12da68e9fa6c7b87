package main

import (
	"path/filepath"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

type initCmd struct {
	Dir string `arg:"" optional:"" about:"Folder of the new book; else --book, else this one."`
}

func (c *initCmd) Run(a *app) error {
	dir := c.Dir
	if dir == "" {
		dir = a.Book
	}
	if dir == "" {
		dir = a.dir
	}
	files := map[string]string{}
	for _, file := range append(ledger.Tables, ledger.Ledgers...) {
		files[file] = ledger.Header(file)
	}
	for file, rows := range starters {
		files[file] += rows
	}
	if err := a.at(dir).Init(files); err != nil {
		return err
	}
	if abs, err := filepath.Abs(dir); err == nil {
		dir = abs
	}
	a.durable = true
	told := []string{"started a book in " + dir, "edit printers.csv, limits.csv, scales.csv, cores.csv and clients.csv there, then book a spool with: tarebook buy"}
	if a.Format != "table" {
		return a.give(a.receipt(recording.Booking{Told: told}, false))
	}
	return a.say(told...)
}

// starters are the rows that a new book begins with: examples to edit. Densities and their standard uncertainties rest on
// the sources named (half-width taken as rectangular); tares and machine figures are common practice, no source.
var starters = map[string]string{
	ledger.SettingsFile: `currency,EUR
enough_odds,0.95
estimate_u,0.03
label_u,0.01
diameter_tol_mm,0.05
min_intervals,5
`,
	ledger.Materials: `PLA,1.24,0.012,"1.24 by ASTM D792, makers' monofilament data sheets"
PETG,1.27,0.017,"1.20 to 1.30 by copolymer, plastics tables"
ABS,1.04,0.017,"1.04 by ISO 1183 and ASTM D1505, resin data sheets"
ASA,1.07,0.012,"1.07 by ISO 1183, resin data sheet of 2018"
TPU,1.2,0.029,"about 95 Shore A; 1.12 to 1.23 by ISO 1183 and ASTM D792, resin data sheets"
PA6,1.14,0.012,"1.12 to 1.15, plastics tables"
PA12,1.01,0.012,"1.01 to 1.03 by ISO 1183, data sheets"
PC,1.2,0.012,"1.20 at 23 C by ISO 1183, resin data sheet"
PP,0.905,0.009,"0.900 to 0.915, plastics tables"
PVA,1.25,0.035,"1.19 to 1.31, chemical data; no method named"
PA6-GF30,1.36,0.012,"30 % glass; 1.36 by ISO 1183, resin data sheets, from memory"
`,
	ledger.Cores: `card 1 kg,180,10,"example: weigh an empty one of yours"
plastic 1 kg,235,10,"example: weigh an empty one of yours"
plastic 0.75 kg,210,10,"example: weigh an empty one of yours"
`,
	ledger.Scales: `kitchen,1,2,1,"example: read division and largest error off the scale's sheet"
bench,0.1,0.2,0.1,"example: read division and largest error off the scale's sheet"
`,
	ledger.Printers: `SHARED,4,160,30,0,90,600,"example: one nozzle, a four-way feeder"
TWIN,1+4,160,30,8,90,600,"example: two nozzles, one direct, one with a four-way feeder"
CHANGER,1+1+1+1,0,10,11,0,400,"example: a four-head tool changer"
`,
	ledger.Limits: `SHARED,1,TPU,,"example: soft filament buckles in a feeder (common practice, no source)"
TWIN,2,TPU,,"example: soft filament buckles in a feeder (common practice, no source)"
CHANGER,1,PA6-GF30,,"example: filled filament wears a soft nozzle (common practice, no source)"
`,
	// Ledgers of two benches that grew apart merge line by line; the lock and torn bytes are no part of the book.
	".gitattributes": "*.csv -text merge=union\n",
	".gitignore":     ".tarebook/\n",
}
