package main

import (
	"errors"
	"fmt"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

type consumeCmd struct {
	Job       string   `arg:"" about:"The job's name."`
	Spools    []string `arg:"" optional:"" name:"spool:grams" about:"SPOOL:part=182.4,support=0,prime=3.1,purge=14.9,changes=12 or SPOOL:182.4, with SLOT= before it where the slot is known; SLOT=SPOOL books what the queue says for that slot. Without: what the queue says."`
	Client    string   `about:"Who it was for; else the queue's." value:"CLIENT"`
	Printer   string   `about:"Which printer; else the queue's, else $TAREBOOK_PRINTER, else that of the settings." value:"PRINTER"`
	Failed    bool     `about:"The print failed: all of it is scrap, and the job stays in the queue."`
	ToPercent string   `about:"How far a failed print came; so much of each mass is booked, or with --from what the file takes up to there." value:"N"`
	ToLayer   int      `about:"With --from: the last layer that a failed print came to; so much is booked." value:"N"`
	Basis     string   `about:"What the masses rest on: sliced, path or weighed; else the queue's, else sliced." value:"BASIS" choices:"sliced,path,weighed"`
	Again     bool     `about:"A finished job was printed once more; without spools the masses are those of its last print."`
	After     bool     `about:"The print did end after the weigh-in of its spool."`
	File      string   `about:"Of typed masses: the sliced file, as the ledger names it: NAME LENGTH SHA256." value:"REFERENCE"`
	fromFile
	recordFlags
}

func (c *consumeCmd) Run(a *app) (err error) {
	at, err := c.at(a)
	if err != nil {
		return err
	}
	percent, err := c.percent()
	if err != nil {
		return err
	}
	file, done, err := c.sliced(a, percent)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	row := ledger.Consumption{Head: ledger.Head{At: at}, Job: c.Job, Client: c.Client, Printer: c.Printer, Outcome: ledger.Finished, Basis: c.Basis, File: c.File, Note: c.Note}
	if c.Failed {
		row.Outcome = ledger.Failed
	}
	typed := recording.TypedConsumption{Row: row, Spools: c.Spools, File: file, Percent: percent, Again: c.Again, Late: c.At != "" || c.After, Now: a.now()}
	return a.record(c.writeFlags, func(v *ledger.View) (recording.Booking, error) { return recording.Consume(v, typed, a.bench()) })
}

func (c *consumeCmd) percent() (ledger.Number, error) {
	if c.ToPercent == "" {
		return ledger.Number{}, nil
	}
	if !c.Failed {
		return ledger.Number{}, errors.New("--to-percent goes with --failed")
	}
	n, err := inventory.TypedNumber(c.ToPercent)
	if err != nil || n.Float(0) > 100 {
		return n, fmt.Errorf("--to-percent %q is not between 0 and 100", c.ToPercent)
	}
	return n, nil
}

// sliced reads the file of --from, up to where a failed print came; nil without. It stays open until done, so that it can be read again.
func (c *consumeCmd) sliced(a *app, percent ledger.Number) (f *recording.File, done func() error, err error) {
	done = func() error { return nil }
	if err := c.fits(percent); err != nil {
		return nil, done, err
	}
	file, o, err := c.open(a)
	if err != nil || file == nil {
		return nil, done, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, file.Close())
		}
	}()
	f = &recording.File{Loads: c.loads(), Until: func(stop toolpath.Stop) (*inventory.Sliced, error) {
		o := o
		o.Until = stop
		return file.again(o)
	}}
	// The whole is read also where a print failed: what is odd in a file shows at its end.
	f.Sliced, err = file.readInOrder(o, true)
	if err == nil {
		f.Whole = f.Sliced
		a.stops(f.Sliced, nil)
		f.Reference, err = c.reference(a, f.Sliced)
	}
	switch {
	case err != nil:
	case c.ToLayer > f.Layers:
		err = fmt.Errorf("%s has %d layers, so no print of it came to layer %d", f.Name, f.Layers, c.ToLayer)
	case c.ToLayer > 0:
		f.Sliced, err = f.Until(toolpath.AfterLayer(c.ToLayer))
	case percent.Given:
		f.Sliced, err = f.Until(toolpath.AtTotal(toolpath.Length(float64(f.Use().Total()) * percent.Float(0) / 100)))
	}
	return f, file.Close, err
}

// fits refuses flags that do not go together.
func (c *consumeCmd) fits(percent ledger.Number) error {
	switch {
	case c.ToLayer != 0 && c.From == "":
		return errors.New("--to-layer goes with --from FILE; without a file write --to-percent")
	case c.ToLayer < 0:
		return fmt.Errorf("--to-layer %d is no layer; they count from 1", c.ToLayer)
	case (c.ToLayer != 0 || percent.Given) && !c.Failed:
		return errors.New("--to-layer and --to-percent go with --failed")
	case c.ToLayer != 0 && percent.Given:
		return errors.New("--to-layer goes without --to-percent")
	case c.From != "" && len(c.Spools) > 0:
		return errors.New("--from says what each tool took, so it goes without masses; say what stood on them with --load TOOL=SPOOL")
	case c.From != "" && c.Basis != "":
		return errors.New("--from goes without --basis; what it says is of the basis path")
	}
	return nil
}
