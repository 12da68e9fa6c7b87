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
	Printer string `group:"The sliced file" about:"With --from: which printer; else $TAREBOOK_PRINTER, else that of the settings." value:"NAME"`

	SlicedElsewhere bool `group:"The sliced file" about:"The file was sliced for another printer: instead of its own prime and purge count what the best assignment to this one takes, as plan tells it."`
	fromFile
}

// read reads the file to its end, and returns how it was read; nil without --from.
func (c *supposed) read(a *app, known bool) (*inventory.Sliced, toolpath.Options, error) {
	switch {
	case c.From == "" && c.Printer != "":
		return nil, toolpath.Options{}, errors.New("--printer goes with --from; a queued job has its own")
	case c.From == "" && c.SlicedElsewhere:
		return nil, toolpath.Options{}, errors.New("--sliced-elsewhere goes with --from")
	}
	c.sequence = true // for what the best assignment flushes
	return c.fromFile.read(a, known)
}

// suppose puts a sliced file behind the queue, as a job that is not recorded, and returns its name.
func (c *supposed) suppose(a *app, v *ledger.View, file *inventory.Sliced, client string) (string, error) {
	f := recording.File{Sliced: file, Loads: c.loads(), Reference: file.Reference(file.Name)}
	row := ledger.Need{Head: ledger.Head{At: ledger.NewTime(a.now())}, Client: client, Printer: c.Printer}
	name, notes, err := recording.Suppose(v, f, row, a.bench(), c.SlicedElsewhere)
	for _, note := range notes {
		a.warn(note)
	}
	return name, err
}
