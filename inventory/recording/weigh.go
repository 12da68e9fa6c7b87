package recording

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"tarebook/inventory"
	"tarebook/ledger"
)

// TypedReading is one spool on the scale, as typed. A blank gross: nothing was measured.
type TypedReading struct{ Spool, Gross string }

// TypedWeighins is what was typed of spools on one scale. Row has all that their weigh-ins share.
type TypedWeighins struct {
	Row      ledger.Weighin
	Readings []TypedReading
	Sure     bool // take a gross that does not fit its spool
}

// A Finding is what a weigh-in that is not booked yet found.
type Finding struct {
	Spool   *inventory.Spool
	Reading *inventory.Reading
	Needs   []*inventory.Need // of the queue, on that spool
	Queued  []string          // of a spool that ends: in words, what is queued on it and may have used it up
}

// Weigh returns weigh-ins, and what each finds if the book holds them all. One that cannot be of its spool is refused. In a series, all
// of which have the same kept, it also finds what the queue needs of their spools, as it does of a spool that ends.
func Weigh(v *ledger.View, typed TypedWeighins, bench Bench, kept *inventory.KeptUsage) ([]ledger.Weighin, []Finding, error) {
	if kept == nil {
		defer v.ReadAhead()()
	}
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return nil, nil, err
	}
	shelf.Keep(kept)
	scale, err := Known(v, "scale", cmp.Or(typed.Row.Scale, bench.scale(shelf.Settings)))
	if err != nil {
		return nil, nil, err
	}
	rows := make([]ledger.Weighin, len(typed.Readings))
	supposed := make([]*ledger.Weighin, len(rows))
	var errs []error
	for i, reading := range typed.Readings {
		row := &rows[i]
		*row, supposed[i] = typed.Row, row
		row.Scale = scale
		spool, err := shelf.Find(reading.Spool)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		row.Spool = spool.ID
		if reading.Gross == "" {
			continue
		}
		gross, err := inventory.ParseMass(reading.Gross, nil)
		if err != nil {
			errs = append(errs, fmt.Errorf("%s: gross %w", row.Spool, err))
		}
		row.GrossG = ledger.Known(gross)
	}
	if err := errors.Join(errs...); err != nil {
		return nil, nil, err
	}
	if err := shelf.Suppose(v, supposed...); err != nil {
		return nil, nil, err
	}
	var jobs []*inventory.Job
	ends := typed.Row.Ends()
	if kept != nil || ends && soundQueue(v) {
		jobs, err = shelf.Check(v)
	} else {
		err = shelf.ReadConsumption(v)
	}
	if err != nil {
		return nil, nil, err
	}
	var found []Finding
	for _, row := range supposed {
		spool := shelf.Spool(row.Spool)
		if err := cmp.Or(afterEnd(spool, row), misfit(shelf, spool, row)); err != nil && !typed.Sure {
			errs = append(errs, err)
		}
		f := Finding{Spool: spool, Reading: readingOf(spool, row), Needs: needsOf(jobs, spool)}
		if ends {
			f.Queued = waitingFor(jobs, &f)
		}
		found = append(found, f)
	}
	return rows, found, errors.Join(errs...)
}

// soundQueue reports whether the queue can be read. Its faults don't keep a spool from being weighed.
func soundQueue(v *ledger.View) bool {
	_, err := v.Needs()
	_, err2 := v.Limits()
	return err == nil && err2 == nil
}

// waitingFor says which jobs are queued on a spool that ends, and how to book one that used it up.
func waitingFor(jobs []*inventory.Job, f *Finding) (notes []string) {
	for _, job := range jobs {
		for _, need := range job.Needs {
			if slices.Contains(need.Spools(), f.Spool) {
				notes = append(notes, fmt.Sprintf("%s is queued on %s; if it has used %s up, book it by when it ended: tarebook consume %s --at %s",
					job.Name, inventory.IDs(need.Spools()), f.Spool.ID, shellWord(job.Name), justBefore(f.Spool, f.Reading)))
			}
		}
	}
	return notes
}

// readingOf returns what a weigh-in of the spool found.
func readingOf(spool *inventory.Spool, w *ledger.Weighin) *inventory.Reading {
	return &spool.Readings[slices.IndexFunc(spool.Readings, func(r inventory.Reading) bool { return r.Weighin == w })]
}

func needsOf(jobs []*inventory.Job, spool *inventory.Spool) (needs []*inventory.Need) {
	for _, job := range jobs {
		for _, need := range job.Needs {
			if slices.Contains(need.Spools(), spool) {
				needs = append(needs, need)
			}
		}
	}
	return needs
}
