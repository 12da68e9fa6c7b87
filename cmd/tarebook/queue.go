package main

import (
	"errors"
	"fmt"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
	"tarebook/reports"
)

type queueAddCmd struct {
	Job     string   `arg:""`
	Slots   []string `arg:"" optional:"" name:"slot"`
	Client  string
	Printer string
	Due     string
	Basis   string
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
	file, err := c.read(a, toolpath.Stop{}, true)
	if err != nil {
		return err
	}
	var due ledger.Time
	if c.Due != "" {
		if due, err = a.time("--due", c.Due, true); err != nil {
			return err
		}
	}
	return a.record(c.writeFlags, func(v *ledger.View) (ledger.Batch, []string, error) {
		shelf, jobs, err := inventory.Queue(v, c.Job)
		if err != nil {
			return nil, nil, err
		}
		if shelf.Over(c.Job) {
			return nil, nil, fmt.Errorf("job %q is finished already; give the new one another name", c.Job)
		}
		printer := c.Printer
		job, _ := jobNamed(jobs, c.Job)
		client := c.Client
		if job != nil { // a correction keeps what it does not name
			if client == "" {
				client = job.Client
			}
			if printer == "" {
				printer = job.Printer
			}
			if c.Due == "" {
				due = job.Due
			}
		}
		if printer == "" {
			printer = a.bench("TAREBOOK_PRINTER", shelf.Settings.Printer)
		}
		shared := ledger.Need{Job: c.Job, Due: due, Basis: c.Basis, Note: c.Note}
		shared.At = at
		var errs [2]error
		shared.Client, errs[0] = a.client(v, client)
		shared.Printer, errs[1] = a.printer(v, printer)
		if err := errors.Join(errs[:]...); err != nil {
			return nil, nil, err
		}
		rows, err := c.rows(shelf, job, shared)
		if file != nil {
			rows, err = c.sliced(a, shelf, job, shared, file)
		}
		if err != nil {
			return nil, nil, err
		}
		var lines []string
		for _, r := range rows {
			what := r.Spool
			if what == "" {
				what = strings.TrimSpace(r.Material + " " + r.Colour)
			}
			lines = append(lines, fmt.Sprintf("%s: slot %s: %s g of %s", r.Job, r.Slot, r.Total(), what))
			if r.Spool == "" && !shelf.Has(r.Material, r.Colour) {
				lines = append(lines, "no spool on the shelf is "+what)
			}
		}
		return ledger.NewBatch[ledger.Need](rows), append(lines, "see whether the spools last with: tarebook check"), nil
	})
}

// rows returns a need for each slot typed.
func (c *queueAddCmd) rows(shelf *inventory.Shelf, job *inventory.Job, shared ledger.Need) ([]ledger.Need, error) {
	var rows []ledger.Need
	var errs []error
	slots, serves := map[string]bool{}, map[string]string{}
	for _, text := range c.Slots {
		slot, target, masses, err := cutTarget(text)
		switch {
		case err != nil:
		case slot == "":
			err = fmt.Errorf("%q names no slot; write SLOT=SPOOL:MASSES, as 0=PLA-017:part=182.4", text)
		case masses == "":
			err = fmt.Errorf("%q says no mass; write SLOT=SPOOL:MASSES, as 0=PLA-017:part=182.4", text)
		case slots[ledger.Fold(slot)]:
			err = fmt.Errorf("slot %s stands twice", slot)
		}
		if err != nil {
			errs = append(errs, err)
			continue
		}
		slots[ledger.Fold(slot)] = true
		row := shared
		row.Slot = slot
		var m amounts
		spool, material, colour, err := aimed(shelf, target)
		switch {
		case err != nil:
		case spool == nil:
			row.Material, row.Colour = material, colour
			m, err = parseAmounts(masses, nil)
		default:
			if other, twice := serves[spool.ID]; twice {
				err = fmt.Errorf("%s cannot serve the slots %s and %s", spool.ID, other, slot)
			} else {
				serves[spool.ID] = slot
				row.Spool, row.Material, row.Colour = spool.ID, material, colour
				m, err = parseAmounts(masses, &spool.Filament)
			}
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("slot %s: %w", slot, err))
			continue
		}
		row.PartG, row.SupportG, row.PrimeG, row.PurgeG, row.Changes = m.part, m.support, m.prime, m.purge, m.changes
		rows = append(rows, row)
	}
	return rows, errors.Join(append(errs, serving(job, rows))...)
}

// sliced returns a need for each tool of a sliced file.
func (c *queueAddCmd) sliced(a *app, shelf *inventory.Shelf, job *inventory.Job, shared ledger.Need, file *inventory.Sliced) ([]ledger.Need, error) {
	loads, err := c.loads(shelf)
	if err != nil {
		return nil, err
	}
	if err := file.Loaded(loads, false); err != nil {
		return nil, err
	}
	reference, err := c.reference(a, file)
	if err != nil {
		return nil, err
	}
	rows := file.Needs(loads, reference)
	for i := range rows {
		row := &rows[i]
		row.Head, row.Job, row.Client, row.Printer, row.Due, row.Note = shared.Head, shared.Job, shared.Client, shared.Printer, shared.Due, shared.Note
	}
	return rows, serving(job, rows)
}

// serving refuses rows whose spool serves another slot of the job already.
func serving(job *inventory.Job, rows []ledger.Need) error {
	if job == nil {
		return nil
	}
	slots, serves := map[string]bool{}, map[string]string{}
	for _, r := range rows {
		slots[ledger.Fold(r.Slot)] = true
		if r.Spool != "" {
			serves[r.Spool] = r.Slot
		}
	}
	var errs []error
	for _, n := range job.Needs {
		if slot, twice := serves[n.Row.Spool]; twice && !slots[ledger.Fold(n.Slot)] {
			errs = append(errs, fmt.Errorf("%s serves slot %s of %s already, so it cannot serve slot %s", n.Row.Spool, n.Slot, job.Name, slot))
		}
	}
	return errors.Join(errs...)
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
	Job string `arg:""`
	Why string `default:"dropped from the queue" group:"Recording"`
	At  string `group:"Recording"`
	writeFlags
}

func (c *queueDropCmd) Run(a *app) error {
	at, err := (&recordFlags{At: c.At}).at(a)
	if err != nil {
		return err
	}
	return a.record(c.writeFlags, func(v *ledger.View) (ledger.Batch, []string, error) {
		_, jobs, err := inventory.Queue(v)
		if err != nil {
			return nil, nil, err
		}
		if _, err := jobNamed(jobs, c.Job); err != nil {
			return nil, nil, err
		}
		needs, err := v.Needs()
		if err != nil {
			return nil, nil, err
		}
		var voids []ledger.Void
		for _, n := range needs {
			if ledger.Fold(n.Job) == ledger.Fold(c.Job) {
				voids = append(voids, ledger.Void{Head: ledger.Head{At: at}, Target: n.Name(), Why: c.Why})
			}
		}
		return ledger.NewBatch[ledger.Void](voids), []string{c.Job + " is off the queue"}, nil
	})
}
