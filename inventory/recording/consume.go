package recording

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tarebook/inventory"
	"tarebook/ledger"
)

// TypedConsumption is what was typed of what a job took. Row has what all its rows share; a blank client and printer are then those
// of the queue, a blank basis that of the masses. Without spools and file the masses are those of the queue.
type TypedConsumption struct {
	Row     ledger.Consumption
	Spools  []string      // SPOOL:MASSES or SLOT=SPOOL:MASSES; or SLOT=SPOOL, which takes the masses of the queue
	File    *File         // instead of spools
	Percent ledger.Number // how far a failed print came, where masses are of the whole; not given: take them whole
	Again   bool          // it is printed again after it was finished; without spools and file the masses are those of its last print
	Late    bool          // it is known to have ended after the last weigh-in, or when
	Now     time.Time
}

// Consume returns what a job took of each spool.
func Consume(v *ledger.View, typed TypedConsumption, bench Bench) (b Booking, err error) {
	shelf, jobs, err := inventory.Check(v)
	if err != nil {
		return b, err
	}
	job, unqueued := inventory.FindJob(jobs, typed.Row.Job)
	last, err := typed.history(v, jobs, unqueued, &b)
	if err != nil {
		return b, err
	}
	if err := fitsReference(typed.Row.File, typed.File, typed.Spools); err != nil {
		return b, err
	}
	shared, err := typed.shared(v, shelf, job, last, bench)
	if err != nil {
		return b, err
	}
	taken, err := typed.taken(v, shelf, job, shared.Printer, last)
	if err != nil {
		return b, err
	}
	past, err := asPrinted(v, shelf, taken, shared.At)
	if err != nil {
		return b, err
	}
	var rows []ledger.Consumption
	var errs []error
	for i := range taken {
		p := &taken[i]
		if typed.Percent.Given && typed.File == nil {
			p.masses = upTo(p.masses, typed.Percent)
		}
		p.basis = cmp.Or(shared.Basis, p.basis, ledger.Sliced)
		divided, err := p.rows(past, shared.Printer)
		errs = append(errs, err)
		b.Warnings = append(b.Warnings, p.ended(past)...)
		for _, d := range divided {
			row := shared
			row.Spool, row.Masses, row.Basis, row.Slot, row.File = d.Spool, d.Masses, d.Basis, d.Slot, d.File
			rows = append(rows, row)
		}
	}
	net := map[*inventory.Spool]ledger.Grams{}
	for _, row := range rows {
		spool := shelf.Spool(row.Spool)
		if r, words := missing(spool, typed.Now); r != nil && !typed.Late {
			errs = append(errs, fmt.Errorf("%s: if this job is what was missing, it ended before; write --at %s, or --after if it ended since", words, justBefore(spool, r)))
		}
		if _, seen := net[spool]; !seen {
			net[spool] = spool.Net
		}
		weighed := weighedSince(spool, row.At)
		if !weighed {
			net[spool] -= row.Total()
		}
		b.Told = append(b.Told, consumed(spool, &row, net[spool], weighed))
		b.Facts = append(b.Facts, nowOn(spool, net[spool]))
		if endedBy(spool, row.At) {
			b.Warnings = append(b.Warnings, fmt.Sprintf("%s ended on %s; what is booked on it now counts in cost alone", spool.ID, spool.End.At.Date()))
		}
	}
	b.Batch = ledger.NewBatch[ledger.Consumption](rows)
	if typed.File != nil {
		errs = append(errs, b.keep(v, typed.File, shared.At))
	}
	return b, errors.Join(errs...)
}

// history returns the rows of the last print of a job that is not queued; none if it is, or never finished. It warns where the job is
// booked once more or may be misspelt, and refuses what neither the queue nor that print can say.
func (t *TypedConsumption) history(v *ledger.View, jobs []*inventory.Job, unqueued error, b *Booking) (last []*ledger.Consumption, err error) {
	if unqueued != nil {
		var words string
		if last, words, err = printed(v, t.Row.Job); err != nil {
			return nil, err
		}
		switch {
		case last == nil || t.Again:
		case t.File == nil && !slices.ContainsFunc(t.Spools, func(text string) bool { return strings.Contains(text, ":") }): // SLOT=SPOOL wants the queue
			return nil, fmt.Errorf("%s; if it was printed once more, write: tarebook consume %s --again", words, shellWord(last[0].Job))
		default:
			b.Warnings = append(b.Warnings, words+"; this books a further print of it, which void --last cancels")
		}
	}
	if t.Again && last == nil {
		return nil, fmt.Errorf("%s was not booked as finished yet, so there is nothing to book again; leave out --again", t.Row.Job)
	}
	if unqueued != nil && last == nil && len(t.Spools) == 0 && t.File == nil {
		return nil, fmt.Errorf("%w, or %w", unqueued, errNotQueued)
	}
	if near := inventory.NearestJob(jobs, t.Row.Job); unqueued != nil && near != "" {
		b.Warnings = append(b.Warnings, fmt.Sprintf("%s is not in the queue, where %s is; if that was meant, cancel and book it again", t.Row.Job, near))
	}
	return last, nil
}

// taken returns what was taken for each slot: from the file, from what was typed, from the last print, or from the queue.
func (t *TypedConsumption) taken(v *ledger.View, shelf *inventory.Shelf, job *inventory.Job, printer string, last []*ledger.Consumption) ([]portion, error) {
	switch {
	case t.File != nil:
		return t.File.taken(v, shelf, job, printer)
	case len(t.Spools) == 0 && last != nil:
		return reprint(shelf, last), nil
	case len(t.Spools) == 0:
		return queuedMasses(job, t.Row.Job, nil)
	}
	var portions []portion
	var errs []error
	slots := map[string][]*inventory.Spool{}
	for _, text := range t.Spools {
		p, typed, err := typedMasses(shelf, text)
		slot := p.slot
		switch key := ledger.Fold(slot); {
		case err != nil:
			errs = append(errs, err)
		case slots[key] != nil || slot != "" && slices.ContainsFunc(portions, func(p portion) bool { return ledger.Fold(p.slot) == key }):
			errs = append(errs, fmt.Errorf("slot %s stands twice", slot))
		case typed:
			p.sliced = t.Row.File
			portions = append(portions, p)
		default:
			slots[key] = p.spools
		}
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	if len(slots) == 0 {
		return portions, nil
	}
	if len(portions) > 0 {
		return nil, errors.New("SLOT=SPOOL, which books what the queue says, goes without SPOOL:MASSES")
	}
	return queuedMasses(job, t.Row.Job, slots)
}

// typedMasses reads SPOOL:MASSES, with SLOT= before it or without; or SLOT=SPOOL, of which typed is false.
func typedMasses(shelf *inventory.Shelf, text string) (p portion, typed bool, err error) {
	slot, target, masses, err := cutTarget(text)
	if err != nil {
		return p, false, err
	}
	p.slot = slot
	if p.spools, err = findTurn(shelf, target); err != nil || masses == "" && slot != "" {
		return p, false, err
	}
	if masses == "" {
		return p, false, fmt.Errorf("%q says no mass; write SPOOL:MASSES, as %s:part=182.4,purge=14.9", text, inventory.IDs(p.spools))
	}
	if p.masses, err = parseMasses(masses, &p.spools[0].Filament); err != nil {
		err = fmt.Errorf("%s: %w", inventory.IDs(p.spools), err)
	}
	return p, true, err
}

// queuedMasses returns what the queue says of a job, on its named and loaded spools or on those of the slots given.
func queuedMasses(job *inventory.Job, name string, slots map[string][]*inventory.Spool) ([]portion, error) {
	if job == nil {
		return nil, fmt.Errorf("job %q is not in the queue; %w", name, errNotQueued)
	}
	var portions []portion
	var errs []error
	used := map[*inventory.Spool]bool{}
	for _, n := range job.Needs {
		spools := slots[ledger.Fold(n.Slot)]
		delete(slots, ledger.Fold(n.Slot))
		if spools == nil && !n.Assigned() {
			likely := "SPOOL"
			if n.Spool != nil {
				likely = n.Spool.ID
			}
			errs = append(errs, fmt.Errorf("slot %s of %s names no spool, and none of its filament is loaded there; add %s=%s", n.Slot, job.Name, n.Slot, likely))
			continue
		}
		if spools == nil {
			spools = n.Spools()
		}
		for _, spool := range spools {
			if used[spool] {
				errs = append(errs, fmt.Errorf("%s cannot serve two slots of %s", spool.ID, job.Name))
			}
			used[spool] = true
		}
		portions = append(portions, portion{spools: spools, masses: n.Row.Masses, basis: n.Row.Basis, slot: n.Slot, sliced: n.Row.File})
	}
	for slot := range slots {
		errs = append(errs, fmt.Errorf("%s has no slot %s in the queue", job.Name, slot))
	}
	return portions, errors.Join(errs...)
}

// taken returns what a sliced file takes for each of its tools.
func (f *File) taken(v *ledger.View, shelf *inventory.Shelf, job *inventory.Job, printer string) ([]portion, error) {
	loads, err := f.onTools(v, shelf, job, printer)
	if err != nil {
		return nil, err
	}
	var portions []portion
	var errs []error
	for _, l := range loads {
		if l.Spool == nil {
			errs = append(errs, fmt.Errorf("tool %d is loaded with %s; name the spool that it took", l.Tool, l.Name()))
			continue
		}
		tool := f.Tool(l.Tool)
		portions = append(portions, portion{spools: l.Spools(), masses: inventory.MassesOf(tool, l.Filament), basis: ledger.Path, slot: strconv.Itoa(l.Tool), sliced: f.Reference, file: f, tool: tool})
	}
	return portions, errors.Join(errs...)
}

// shared returns what every row of the job has.
func (t *TypedConsumption) shared(v *ledger.View, shelf *inventory.Shelf, job *inventory.Job, last []*ledger.Consumption, bench Bench) (row ledger.Consumption, err error) {
	row = t.Row
	if job != nil {
		row.Job, row.Client, row.Printer = job.Name, cmp.Or(row.Client, job.Client), cmp.Or(row.Printer, job.Printer)
	}
	if t.Again && last != nil {
		row.Job, row.Client, row.Printer = last[0].Job, cmp.Or(row.Client, last[0].Client), cmp.Or(row.Printer, last[0].Printer)
	}
	var errs [2]error
	row.Client, errs[0] = Known(v, "client", row.Client)
	row.Printer, errs[1] = Known(v, "printer", cmp.Or(row.Printer, bench.printer(shelf.Settings)))
	return row, errors.Join(errs[:]...)
}

// weighedSince reports whether a spool was weighed after a time, so that what it took before leaves the book as it is.
func weighedSince(s *inventory.Spool, at ledger.Time) bool {
	return s.Tare.Grams.Given && slices.ContainsFunc(s.Weighins, func(w *ledger.Weighin) bool { return w.GrossG.Given && w.At.After(at) })
}

// consumed says in words what a row takes, and what the book then has.
func consumed(s *inventory.Spool, row *ledger.Consumption, net ledger.Grams, weighed bool) string {
	line := fmt.Sprintf("%s: %s g of %s", row.Job, row.Total(), s.ID)
	waste := row.Total() - row.PartG
	switch {
	case row.Outcome == ledger.Failed:
		line += ", all of it scrap"
	case waste > 0:
		line += fmt.Sprintf(", %s g of it waste", waste)
	}
	switch {
	case s.Ended:
		return line
	case weighed:
		return line + fmt.Sprintf("; it was weighed since, so the book still says %s g", net)
	case net < 0:
		return line + fmt.Sprintf("; the book now says %s g, so it was not all on this spool, or more was on it than the book knows", net)
	}
	return line + fmt.Sprintf("; the book now says %s g", net)
}
