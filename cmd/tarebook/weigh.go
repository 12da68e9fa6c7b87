package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/ledger"
	"tarebook/reports"
)

type weighCmd struct {
	Readings  []string `arg:"" name:"spool gross" about:"Spools, each with what the scale showed in grams (or as 0.8kg); - reads them in a row from standard input."`
	Empty     bool     `group:"One spool" about:"Only the core is on the scale: the spool ends, and its tare is now measured."`
	Discarded bool     `group:"One spool" about:"The spool ends with filament left on it."`
	Dried     bool     `group:"One spool" about:"As loaded, after drying: a variance is water, not a loss. Dry at the maker's temperature, and leave no heated spool alone."`
	Scale     string   `about:"Which scale; else $TAREBOOK_SCALE, else that of the settings." value:"SCALE"`
	ScaleFrom string   `about:"With -: read the grams off this serial or USB line of a scale, whose speed stty sets: help typing." value:"DEVICE"`
	Sure      bool     `about:"Book it though it does not fit what is known of the spool."`
	recordFlags
}

func (c *weighCmd) Run(a *app) error {
	if len(c.Readings) == 1 && c.Readings[0] == "-" {
		return c.row(a)
	}
	if c.ScaleFrom != "" {
		return errors.New("--scale-from reads the scale for spools that are typed or scanned in a row; write: tarebook weigh - --scale-from DEVICE")
	}
	readings, state, err := c.readings()
	if err != nil {
		return err
	}
	at, err := c.at(a)
	if err != nil {
		return err
	}
	return a.record(c.writeFlags, func(v *ledger.View) (b recording.Booking, err error) {
		rows, found, err := recording.Weigh(v, c.typed(at, state, readings), a.bench(), nil)
		if err != nil {
			return b, err
		}
		for _, f := range found {
			var jobs []string
			if f.Reading.Outside {
				if jobs, err = inventory.JobsBetween(v, f.Spool, f.Reading.Before, f.Reading.Weighin); err != nil {
					return b, err
				}
			}
			b.Told = append(b.Told, reports.Weighed(f.Spool, f.Reading, jobs)...)
			b.Facts = append(b.Facts, recording.Fact{Finding: &f})
			b.Warnings = append(b.Warnings, f.Queued...)
		}
		b.Batch = ledger.NewBatch[ledger.Weighin](rows)
		return b, nil
	})
}

// typed is what was typed of spools on the scale.
func (c *weighCmd) typed(at ledger.Time, state string, readings []recording.TypedReading) recording.TypedWeighins {
	return recording.TypedWeighins{Row: ledger.Weighin{Head: ledger.Head{At: at}, Scale: c.Scale, State: state, Note: c.Note}, Readings: readings, Sure: c.Sure}
}

// readings pairs spools with what the scale showed, and returns the state of the spools.
func (c *weighCmd) readings() (readings []recording.TypedReading, state string, err error) {
	c.wordState()
	state = ledger.Loaded
	chosen := 0
	for _, s := range []struct {
		flag  bool
		state string
	}{{c.Empty, ledger.Empty}, {c.Discarded, ledger.Discarded}, {c.Dried, ledger.Dried}} {
		if s.flag {
			state = s.state
			chosen++
		}
	}
	if chosen > 1 {
		return nil, "", errors.New("--empty, --discarded and --dried go one at a time")
	}
	if chosen == 1 && len(c.Readings) > 2 {
		return nil, "", fmt.Errorf("--%s is about one spool", state)
	}
	if len(c.Readings) == 1 && (c.Empty || c.Discarded) {
		return []recording.TypedReading{{Spool: c.Readings[0]}}, state, nil
	}
	if len(c.Readings)%2 == 1 {
		return nil, "", fmt.Errorf("%q has no gross after it; write SPOOL GROSS, as PLA-017 812.5", c.Readings[len(c.Readings)-1])
	}
	for i := 0; i < len(c.Readings); i += 2 {
		on := recording.TypedReading{Spool: c.Readings[i], Gross: c.Readings[i+1]}
		if ledger.Trim(on.Gross) == "" {
			return nil, "", fmt.Errorf("%q has a blank gross after it; write SPOOL GROSS, as PLA-017 812.5", on.Spool)
		}
		readings = append(readings, inOrder(on))
	}
	return readings, state, nil
}

// wordState takes a state that was typed as a word of its own, as in weigh -, for its flag.
func (c *weighCmd) wordState() {
	flags := map[string]*bool{ledger.Empty: &c.Empty, ledger.Discarded: &c.Discarded, ledger.Dried: &c.Dried}
	c.Readings = slices.DeleteFunc(c.Readings, func(word string) bool {
		flag := flags[strings.ToLower(word)]
		if flag != nil {
			*flag = true
		}
		return flag != nil
	})
}

// inOrder turns round a pair whose gross was typed first.
func inOrder(on recording.TypedReading) recording.TypedReading {
	_, first := inventory.ParseMass(on.Spool, nil)
	_, second := inventory.ParseMass(on.Gross, nil)
	if first == nil && second != nil {
		on.Spool, on.Gross = on.Gross, on.Spool
	}
	return on
}
