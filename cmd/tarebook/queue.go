package main

import (
	"errors"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/ledger"
	"tarebook/reports"
)

type queueAddCmd struct {
	Job     string   `arg:"" about:"The job's name."`
	Slots   []string `arg:"" optional:"" name:"slot=spool" about:"SLOT=SPOOL:part=182.4,prime=3.1,purge=14.9,changes=12 or SLOT=MATERIAL/COLOUR:182.4; MATERIAL/ is any colour."`
	Client  string   `about:"Who it is for." value:"CLIENT"`
	Printer string   `about:"Which printer; else $TAREBOOK_PRINTER, else that of the settings." value:"PRINTER"`
	Due     string   `about:"When it is due; a date is the end of that day." value:"TIME"`
	Basis   string   `about:"What the masses rest on: sliced, path or weighed; else sliced." value:"BASIS" choices:"sliced,path,weighed"`
	File    string   `about:"Of typed masses: the sliced file, as the queue names it: NAME LENGTH SHA256." value:"REFERENCE"`
	fromFile
	recordFlags
}

func (c *queueAddCmd) Run(a *app) error {
	at, err := c.at(a)
	if err != nil {
		return err
	}
	if (c.From == "") == (len(c.Slots) == 0) {
		return errors.New("write the slots, as 0=PLA-017:part=182.4, or take them from a sliced file with --from FILE")
	}
	if c.From != "" && c.Basis != "" {
		return errors.New("--from goes without --basis; what it says is of the basis path")
	}
	file, err := c.file(a)
	if err != nil {
		return err
	}
	var due ledger.Time
	if c.Due != "" {
		if due, err = a.time("--due", c.Due, dueDay); err != nil {
			return err
		}
	}
	typed := recording.TypedNeeds{
		Row:   ledger.Need{Head: ledger.Head{At: at}, Job: c.Job, Client: c.Client, Printer: c.Printer, Due: due, Basis: c.Basis, File: c.File, Note: c.Note},
		Slots: c.Slots, File: file}
	return a.record(c.writeFlags, func(v *ledger.View) (recording.Booking, error) { return recording.Queue(v, typed, a.bench()) })
}

// file reads the file of --from; nil without.
func (c *queueAddCmd) file(a *app) (_ *recording.File, err error) {
	f, o, err := c.open(a)
	if err != nil || f == nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	sliced, err := f.readInOrder(o, true)
	if err != nil {
		return nil, err
	}
	reference, err := c.reference(a, sliced)
	return &recording.File{Sliced: sliced, Loads: c.loads(), Reference: reference}, err
}

type queueListCmd struct{}

func (c *queueListCmd) Run(a *app) error {
	v, err := a.view()
	if err != nil {
		return err
	}
	_, jobs, err := inventory.Check(v)
	if err != nil {
		return err
	}
	return a.show(v, reports.NewQueue(jobs))
}

type queueDropCmd struct {
	Job string `arg:"" about:"The job's name."`
	Why string `default:"dropped from the queue" group:"Recording" about:"Why." value:"REASON"`
	At  string `group:"Recording" about:"When; else now." value:"TIME"`
	writeFlags
}

func (c *queueDropCmd) Run(a *app) error {
	at, err := (&recordFlags{At: c.At}).at(a)
	if err != nil {
		return err
	}
	return a.record(c.writeFlags, func(v *ledger.View) (recording.Booking, error) { return recording.Drop(v, c.Job, at, c.Why) })
}
