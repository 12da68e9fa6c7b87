package main

import (
	"errors"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

// supposed are the flags of a command that takes a sliced file for a job behind the queue.
type supposed struct {
	Printer string `group:"The sliced file" about:"With --from: which printer; else $TAREBOOK_PRINTER, else that of the settings." value:"PRINTER"`

	SlicedElsewhere bool `group:"The sliced file" about:"The file was sliced for another printer: instead of its own prime and purge count what the best assignment to this one takes, as plan tells it."`
	fromFile

	ordered *inventory.Sliced // the file with the order of its tools; nil where it is not wanted, or is too long
}

// read reads the file to its end, and returns how it was read; nil without --from.
func (c *supposed) read(a *app, known bool) (*inventory.Sliced, toolpath.Options, error) {
	switch {
	case c.From == "" && c.Printer != "":
		return nil, toolpath.Options{}, errors.New("--printer goes with --from; a queued job has its own")
	case c.From == "" && c.SlicedElsewhere:
		return nil, toolpath.Options{}, errors.New("--sliced-elsewhere goes with --from")
	}
	c.sequence = c.SlicedElsewhere // for what the best assignment flushes
	f, o, err := c.open(a)
	if err != nil || f == nil {
		return nil, o, err
	}
	s, err := f.read(o, known)
	switch {
	case err != nil:
	case c.SlicedElsewhere:
		c.ordered = s
	case recording.LaysNoPurge(s):
		inOrder := o
		inOrder.Sequence = true
		c.ordered, _ = f.again(inOrder) // only a note rests on it
	}
	return s, o, errors.Join(err, f.Close())
}

// suppose puts a sliced file behind the queue, as a job that is not recorded, and returns its name.
func (c *supposed) suppose(a *app, v *ledger.View, file *inventory.Sliced, client string) (string, error) {
	f := recording.File{Sliced: file, Ordered: c.ordered, Loads: c.loads(), Reference: file.Reference(file.Name)}
	row := ledger.Need{Head: ledger.Head{At: ledger.NewTime(a.now())}, Client: client, Printer: c.Printer}
	name, notes, err := recording.Suppose(v, f, row, a.bench(), c.SlicedElsewhere)
	for _, note := range notes {
		a.warn(note)
	}
	return name, err
}
