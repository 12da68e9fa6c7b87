package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/planning"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
	"tarebook/reports"
)

// supposed are the flags of a command that takes a sliced file for a job behind the queue.
type supposed struct {
	Printer string `group:"The sliced file"`

	SlicedElsewhere bool `group:"The sliced file"`
	fromFile
}

// read reads the file to its end; nil without --from.
func (c *supposed) read(a *app, known bool) (*inventory.Sliced, error) {
	switch {
	case c.From == "" && c.Printer != "":
		return nil, errors.New("--printer goes with --from; a queued job has its own")
	case c.From == "" && c.SlicedElsewhere:
		return nil, errors.New("--sliced-elsewhere goes with --from")
	}
	c.sequence = c.SlicedElsewhere
	return c.fromFile.read(a, toolpath.Stop{}, known)
}

// suppose puts a sliced file behind the queue, as a job that is not recorded, and returns its name.
func (c *supposed) suppose(a *app, v *ledger.View, file *inventory.Sliced, client string) (string, error) {
	shelf, jobs, err := inventory.Queue(v)
	if err != nil {
		return "", err
	}
	loads, err := c.loads(shelf)
	if err != nil {
		return "", err
	}
	if err := file.Loaded(loads, false); err != nil {
		return "", err
	}
	if len(loads) == 0 {
		return "", fmt.Errorf("%s extrudes nothing", file.Name)
	}
	printer := c.Printer
	if printer == "" {
		printer = a.bench("TAREBOOK_PRINTER", shelf.Settings.Printer)
	}
	if printer, err = a.printer(v, printer); err != nil {
		return "", err
	}
	if client, err = a.client(v, client); err != nil {
		return "", err
	}
	name := strings.ReplaceAll(filepath.Base(file.Name), ":", " ")
	for _, err := jobNamed(jobs, name); err == nil; _, err = jobNamed(jobs, name) {
		name += " (file)"
	}
	rows := file.Needs(loads, file.Reference(file.Name))
	if c.SlicedElsewhere {
		if printer == "" {
			return "", errors.New("--sliced-elsewhere wants to know on which printer it is to be printed; name it with --printer")
		}
		if err := a.replan(v, shelf, file, loads, printer, rows); err != nil {
			return "", err
		}
	}
	for i := range rows {
		rows[i].Job, rows[i].Client, rows[i].Printer, rows[i].At = name, client, printer, ledger.NewTime(a.now())
	}
	return name, v.SupposeNeeds(rows)
}

// replan gives rows that were made of a sliced file the prime and purge of the best assignment to a printer instead of the file's
// own.
func (a *app) replan(v *ledger.View, shelf *inventory.Shelf, file *inventory.Sliced, loads []inventory.OnTool, printer string, rows []ledger.Need) error {
	print := planning.PrintOf(file)
	var slots []planning.SlotLoad
	for _, l := range loads {
		slots = append(slots, planning.SlotLoad{Slot: strconv.Itoa(l.Tool), OnTool: l})
	}
	if err := print.Load(slots); err != nil {
		return err
	}
	purges, err := v.Purges()
	if err != nil {
		return err
	}
	on := ledger.Named(shelf.Printers, printer)
	plans, err := planning.Plan(shelf, print, planning.Options{Printers: []*ledger.Printer{on}, Purges: purges})
	if err != nil {
		return err
	}
	best := plans.Best()
	if best == nil {
		return fmt.Errorf("%s can't be printed on %s: %s", print.Name, on.Printer, plans.Printers[0].Why)
	}
	for i := range rows {
		for _, n := range best.After {
			if n.Slot == rows[i].Slot {
				rows[i].PrimeG, rows[i].PurgeG = n.Row.PrimeG, n.Row.PurgeG
			}
		}
	}
	fmt.Fprintf(a.stderr, "tarebook: on %s it takes %d loads; the file's own prime and purge are set aside\n", reports.Clean(on.Printer), best.Loads)
	return nil
}
