package main

import (
	"errors"
	"fmt"
	"slices"

	"tarebook/inventory"
	"tarebook/ledger"
	"tarebook/reports"
)

type weighCmd struct {
	Readings  []string `arg:"" name:"spool gross"`
	Empty     bool     `group:"One spool"`
	Discarded bool     `group:"One spool"`
	Dried     bool     `group:"One spool"`
	Scale     string
	ScaleFrom string
	Sure      bool
	recordFlags
}

// reading is one spool on the scale, as typed.
type reading struct{ spool, gross string }

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
	return a.record(c.writeFlags, func(v *ledger.View) (ledger.Batch, []string, error) {
		rows, found, err := c.judge(a, v, readings, state, at)
		if err != nil {
			return nil, nil, err
		}
		var lines []string
		for i := range found {
			told, err := found[i].told(v)
			if err != nil {
				return nil, nil, err
			}
			lines = append(lines, told...)
		}
		return ledger.NewBatch[ledger.Weighin](rows), lines, nil
	})
}

// finding is what a weigh-in that is not booked yet found.
type finding struct {
	spool   *inventory.Spool
	reading *inventory.Reading
}

// told says it in words.
func (f finding) told(v *ledger.View) ([]string, error) {
	if !f.reading.Outside {
		return reports.Weighed(f.spool, f.reading, nil), nil
	}
	jobs, err := inventory.JobsBetween(v, f.spool, f.reading.Before, f.reading.Weighin)
	return reports.Weighed(f.spool, f.reading, jobs), err
}

// judge makes rows of readings, supposes that the book holds them, and returns what they found; what cannot be of its spool
// is refused.
func (c *weighCmd) judge(a *app, v *ledger.View, readings []reading, state string, at ledger.Time) ([]ledger.Weighin, []finding, error) {
	settings, err := v.Settings()
	if err != nil {
		return nil, nil, err
	}
	scale := c.Scale
	if scale == "" {
		scale = a.bench("TAREBOOK_SCALE", settings.Scale)
	}
	if scale, err = a.scale(v, scale); err != nil {
		return nil, nil, err
	}
	known, err := inventory.LoadSpools(v)
	if err != nil {
		return nil, nil, err
	}
	rows := make([]ledger.Weighin, len(readings))
	var supposed []*ledger.Weighin
	var errs []error
	for i, r := range readings {
		row := &rows[i]
		*row = ledger.Weighin{Scale: scale, State: state, Note: c.Note}
		row.At = at
		spool, err := known.Find(r.spool)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		row.Spool = spool.ID
		if r.gross != "" {
			gross, err := inventory.ParseMass(r.gross, nil)
			if err != nil {
				errs = append(errs, fmt.Errorf("%s: gross %w", row.Spool, err))
				continue
			}
			row.GrossG = ledger.Known(gross)
		}
		supposed = append(supposed, row)
	}
	if err := errors.Join(errs...); err != nil {
		return nil, nil, err
	}
	if err := v.Suppose(supposed...); err != nil {
		return nil, nil, err
	}
	shelf, err := inventory.Load(v)
	if err != nil {
		return nil, nil, err
	}
	var found []finding
	for i := range rows {
		spool := shelf.Spool(rows[i].Spool)
		if err := c.fits(spool, &rows[i]); err != nil {
			errs = append(errs, err)
			continue
		}
		n := slices.IndexFunc(spool.Readings, func(r inventory.Reading) bool { return r.Weighin == &rows[i] })
		if n < 0 {
			return nil, nil, fmt.Errorf("%s: the weigh-in was lost on the way", spool.ID)
		}
		found = append(found, finding{spool, &spool.Readings[n]})
	}
	return rows, found, errors.Join(errs...)
}

// readings pairs spools with what the scale showed, and returns the state of the spools.
func (c *weighCmd) readings() (readings []reading, state string, err error) {
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
		return []reading{{c.Readings[0], ""}}, state, nil
	}
	if len(c.Readings)%2 == 1 {
		return nil, "", fmt.Errorf("%q has no gross after it; write SPOOL GROSS, as PLA-017 812.5", c.Readings[len(c.Readings)-1])
	}
	for i := 0; i < len(c.Readings); i += 2 {
		if ledger.Trim(c.Readings[i+1]) == "" {
			return nil, "", fmt.Errorf("%q has a blank gross after it; write SPOOL GROSS, as PLA-017 812.5", c.Readings[i])
		}
		readings = append(readings, reading{c.Readings[i], c.Readings[i+1]})
	}
	return readings, state, nil
}

// fits refuses a gross that cannot be of this spool, unless the person is sure.
func (c *weighCmd) fits(spool *inventory.Spool, w *ledger.Weighin) error {
	if c.Sure {
		return nil
	}
	if misfit := spool.Misfit(w); misfit != "" {
		return fmt.Errorf("%s; look at the spool and its core, or write --sure", misfit)
	}
	return nil
}
