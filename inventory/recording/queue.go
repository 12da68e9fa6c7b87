package recording

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// TypedNeeds is what was typed of a job to be queued. Row has what all its rows share; a correction keeps the client, printer and
// due time that it does not name.
type TypedNeeds struct {
	Row   ledger.Need
	Slots []string // SLOT=SPOOL:MASSES or SLOT=MATERIAL/COLOUR:MASSES
	File  *File    // instead of slots
}

// Queue returns the needs of a job, or of the slots that are to be corrected.
func Queue(v *ledger.View, typed TypedNeeds, bench Bench) (b Booking, err error) {
	shelf, jobs, err := inventory.Queue(v, typed.Row.Job)
	if err != nil {
		return b, err
	}
	if shelf.Over(typed.Row.Job) {
		return b, fmt.Errorf("job %q is finished already; give the new one another name", typed.Row.Job)
	}
	shared := typed.Row
	job, _ := inventory.FindJob(jobs, typed.Row.Job)
	if job != nil {
		shared.Client, shared.Printer = cmp.Or(shared.Client, job.Client), cmp.Or(shared.Printer, job.Printer)
		if shared.Due.IsZero() {
			shared.Due = job.Due
		}
	}
	var errs [2]error
	shared.Client, errs[0] = Known(v, "client", shared.Client)
	shared.Printer, errs[1] = Known(v, "printer", cmp.Or(shared.Printer, bench.printer(shelf.Settings)))
	if err := errors.Join(errs[:]...); err != nil {
		return b, err
	}
	if err := fitsReference(typed.Row.File, typed.File, typed.Slots); err != nil {
		return b, err
	}
	rows, notes, err := typed.rows(v, shelf, job, shared)
	if err != nil {
		return b, err
	}
	b.Warnings = append(b.Warnings, notes...)
	dated := !typed.Row.Due.IsZero() && job != nil
	for _, r := range rows {
		what := cmp.Or(r.Spool, strings.TrimSpace(r.Material+" "+r.Colour))
		b.Told = append(b.Told, fmt.Sprintf("%s: slot %s: %s g of %s", r.Job, r.Slot, r.Total(), what))
		if r.Spool == "" && !shelf.Has(r.Material, r.Colour) {
			b.Told = append(b.Told, "no spool on the shelf is "+what)
		}
	}
	if dated {
		b.Told = append(b.Told, dueOf(job, rows, shared.Due)...)
	}
	b.Told = append(b.Told, "see whether the spools last with: tarebook check")
	b.Batch = ledger.NewBatch[ledger.Need](rows)
	if typed.File != nil {
		err = b.keep(v, typed.File, shared.At)
	}
	return b, err
}

// dueOf says when a job is due once rows of it that have another date are queued, and how the slots that keep theirs are changed.
func dueOf(job *inventory.Job, rows []ledger.Need, due ledger.Time) (told []string) {
	earliest := due
	var kept []ledger.Need
	for _, n := range job.Needs {
		row := *n.Row
		again := slices.ContainsFunc(rows, func(r ledger.Need) bool { return ledger.Fold(r.Slot) == ledger.Fold(row.Slot) })
		if again || row.Due.IsZero() || !row.Due.Before(due) {
			continue
		}
		if row.Due.Before(earliest) {
			earliest = row.Due
		}
		row.Due, row.At = due, ledger.Time{}
		kept = append(kept, row)
	}
	const layout = "2006-01-02 15:04"
	if len(kept) == 0 {
		return []string{fmt.Sprintf("%s is now due %s", job.Name, due.Std().Format(layout))}
	}
	told = []string{fmt.Sprintf("%s stays due %s, the earliest date of its slots; to change that too:", job.Name, earliest.Std().Format(layout))}
	for i := range kept {
		told = append(told, "  "+again(&kept[i]))
	}
	return told
}

// rows returns a need for each tool of the file, or for each slot typed, and what is to be said of the file.
func (t *TypedNeeds) rows(v *ledger.View, shelf *inventory.Shelf, job *inventory.Job, shared ledger.Need) (rows []ledger.Need, notes []string, err error) {
	if t.File != nil {
		loads, err := t.File.onTools(v, shelf, nil, shared.Printer)
		if err != nil {
			return nil, nil, err
		}
		rows := t.File.needs(loads, shared)
		return rows, Stops(t.File.Sliced, loads), servesOnce(job, rows)
	}
	var errs []error
	slots, serves := map[string]bool{}, map[string]string{}
	for _, text := range t.Slots {
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
		if err := fillNeed(v, shelf, &row, target, masses, serves); err != nil {
			errs = append(errs, fmt.Errorf("slot %s: %w", slot, err))
			continue
		}
		rows = append(rows, row)
	}
	return rows, nil, errors.Join(append(errs, servesOnce(job, rows))...)
}

// fillNeed gives a need its filament and masses. serves notes which slot each spool serves.
func fillNeed(v *ledger.View, shelf *inventory.Shelf, row *ledger.Need, target, masses string, serves map[string]string) error {
	spools, material, colour, err := findTarget(v, shelf, target)
	if err != nil {
		return err
	}
	row.Material, row.Colour = material, colour
	if spools == nil {
		row.Masses, err = parseMasses(masses, nil)
		return err
	}
	for _, spool := range spools {
		if other, twice := serves[spool.ID]; twice {
			return fmt.Errorf("%s cannot serve the slots %s and %s", spool.ID, other, row.Slot)
		}
		serves[spool.ID] = row.Slot
	}
	row.Spool = inventory.IDs(spools)
	row.Masses, err = parseMasses(masses, &spools[0].Filament)
	return err
}

// servesOnce refuses rows whose spool serves another slot of the job already.
func servesOnce(job *inventory.Job, rows []ledger.Need) error {
	if job == nil {
		return nil
	}
	slots, serves := map[string]bool{}, map[string]string{}
	for _, r := range rows {
		slots[ledger.Fold(r.Slot)] = true
		for _, id := range r.Turn() {
			serves[id] = r.Slot
		}
	}
	var errs []error
	for _, n := range job.Needs {
		for _, id := range n.Row.Turn() {
			if slot, twice := serves[id]; twice && !slots[ledger.Fold(n.Slot)] {
				errs = append(errs, fmt.Errorf("%s serves slot %s of %s already, so it cannot serve slot %s", id, n.Slot, job.Name, slot))
			}
		}
	}
	return errors.Join(errs...)
}

// Drop cancels the rows of a queued job.
func Drop(v *ledger.View, job string, at ledger.Time, why string) (b Booking, err error) {
	_, jobs, err := inventory.Queue(v)
	if err != nil {
		return b, err
	}
	if _, err := inventory.FindJob(jobs, job); err != nil {
		return b, err
	}
	needs, err := v.Needs()
	if err != nil {
		return b, err
	}
	var voids []ledger.Void
	var facts []Fact
	for _, n := range needs {
		if ledger.Fold(n.Job) == ledger.Fold(job) {
			voids = append(voids, ledger.Void{Head: ledger.Head{At: at}, Target: n.Name(), Why: why})
			facts = append(facts, voided(ledger.Queue, n))
		}
	}
	return Booking{Batch: ledger.NewBatch[ledger.Void](voids), Told: []string{job + " is off the queue"}, Facts: facts}, nil
}
