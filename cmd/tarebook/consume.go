package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"

	"tarebook/inventory"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

type consumeCmd struct {
	Job       string   `arg:""`
	Spools    []string `arg:"" optional:"" name:"spool"`
	Client    string
	Printer   string
	Failed    bool
	ToPercent string
	ToLayer   int
	Basis     string
	After     bool
	fromFile
	recordFlags
}

func (c *consumeCmd) Run(a *app) error {
	at, err := c.at(a)
	if err != nil {
		return err
	}
	percent, err := c.percent()
	if err != nil {
		return err
	}
	file, err := c.sliced(a, percent)
	if err != nil {
		return err
	}
	if file != nil {
		percent = ledger.Number{} // the file tells what was taken up to there
	}
	return a.record(c.writeFlags, func(v *ledger.View) (ledger.Batch, []string, error) {
		shelf, jobs, err := inventory.Check(v)
		if err != nil {
			return nil, nil, err
		}
		job, missing := jobNamed(jobs, c.Job)
		if missing != nil && len(c.Spools) == 0 && file == nil {
			return nil, nil, fmt.Errorf("%w, or write what it took, as SPOOL:part=182.4,purge=14.9", missing)
		}
		if near := nearestJob(jobs, c.Job); missing != nil && near != "" {
			fmt.Fprintf(a.stderr, "tarebook: %s is not in the queue, where %s is; if that was meant, cancel and book it again\n", c.Job, near)
		}
		rows, err := c.rows(shelf, job)
		if file != nil {
			rows, err = c.taken(shelf, job, file)
		}
		if err != nil {
			return nil, nil, err
		}
		shared, err := c.shared(a, v, shelf, job)
		if err != nil {
			return nil, nil, err
		}
		var lines []string
		var errs []error
		net := map[*inventory.Spool]ledger.Grams{}
		for i := range rows {
			row := &rows[i]
			basis := row.Basis
			spool, masses := row.Spool, amounts{row.PartG, row.SupportG, row.PrimeG, row.PurgeG, row.Changes}
			if percent.Given {
				masses = masses.share(percent)
			}
			*row = shared
			row.At, row.Spool = at, spool
			row.PartG, row.SupportG, row.PrimeG, row.PurgeG, row.Changes = masses.part, masses.support, masses.prime, masses.purge, masses.changes
			if row.Basis == "" {
				row.Basis = basis
			}
			if row.Basis == "" {
				row.Basis = ledger.Sliced
			}
			s := shelf.Spool(spool)
			if err := c.late(a, s); err != nil {
				errs = append(errs, err)
			}
			if _, seen := net[s]; !seen {
				net[s] = s.Net
			}
			weighed := weighedSince(s, at)
			if !weighed {
				net[s] -= row.Total()
			}
			lines = append(lines, c.told(s, row, net[s], weighed))
			if s.Ended && !at.Before(s.End.At) {
				fmt.Fprintf(a.stderr, "tarebook: %s ended on %s; what is booked on it now counts in cost alone\n", s.ID, s.End.At.Date())
			}
		}
		return ledger.NewBatch[ledger.Consumption](rows), lines, errors.Join(errs...)
	})
}

func (c *consumeCmd) percent() (ledger.Number, error) {
	if c.ToPercent == "" {
		return ledger.Number{}, nil
	}
	if !c.Failed {
		return ledger.Number{}, errors.New("--to-percent goes with --failed")
	}
	n, err := ledger.ParseNumber(c.ToPercent)
	if err != nil || n.Float(0) > 100 {
		return n, fmt.Errorf("--to-percent %q is not between 0 and 100", c.ToPercent)
	}
	return n, nil
}

// sliced reads the file of --from, up to where a failed print came; nil without.
func (c *consumeCmd) sliced(a *app, percent ledger.Number) (*inventory.Sliced, error) {
	switch {
	case c.ToLayer != 0 && c.From == "":
		return nil, errors.New("--to-layer goes with --from FILE; without a file write --to-percent")
	case c.ToLayer < 0:
		return nil, fmt.Errorf("--to-layer %d is no layer; they count from 1", c.ToLayer)
	case (c.ToLayer != 0 || percent.Given) && !c.Failed:
		return nil, errors.New("--to-layer and --to-percent go with --failed")
	case c.ToLayer != 0 && percent.Given:
		return nil, errors.New("--to-layer goes without --to-percent")
	case c.From != "" && len(c.Spools) > 0:
		return nil, errors.New("--from says what each tool took, so it goes without masses; say what stood on them with --load TOOL=SPOOL")
	case c.From != "" && c.Basis != "":
		return nil, errors.New("--from goes without --basis; what it says is of the basis path")
	case c.From == "-" && percent.Given:
		return nil, errors.New("--to-percent reads the file twice, so it wants a file and not standard input")
	}
	until := toolpath.Stop{}
	switch {
	case c.ToLayer > 0:
		until = toolpath.AfterLayer(c.ToLayer)
	case percent.Given && c.From != "":
		whole, err := c.read(a, until, false)
		if err != nil {
			return nil, err
		}
		until = toolpath.AtTotal(toolpath.Length(float64(whole.Use().Total()) * percent.Float(0) / 100))
	}
	file, err := c.read(a, until, false)
	if err == nil && file != nil && c.ToLayer > 0 && file.Stopped == nil && file.Layers < c.ToLayer {
		return nil, fmt.Errorf("%s has %d layers, so no print of it came to layer %d", file.Name, file.Layers, c.ToLayer)
	}
	return file, err
}

// taken returns what a sliced file takes of the spools on its tools: those of --load, else those of the queue.
func (c *consumeCmd) taken(shelf *inventory.Shelf, job *inventory.Job, file *inventory.Sliced) ([]ledger.Consumption, error) {
	loads, err := c.loads(shelf)
	if err != nil {
		return nil, err
	}
	if len(loads) == 0 && job != nil {
		for _, n := range job.Needs {
			tool, err := strconv.Atoi(n.Slot)
			if err == nil && n.Spool != nil && (n.From == inventory.Named || n.From == inventory.OnIt) && file.Tool(tool).Total() > 0 {
				loads = append(loads, inventory.OnTool{Tool: tool, Spool: n.Spool, Filament: n.Spool.Filament})
			}
		}
	}
	var rows []ledger.Consumption
	errs := []error{file.Loaded(loads, false)}
	for _, l := range loads {
		if l.Spool == nil {
			errs = append(errs, fmt.Errorf("tool %d is loaded with %s; name the spool that it took", l.Tool, l.Name()))
			continue
		}
		g := inventory.GramsOf(file.Tool(l.Tool), l.Filament)
		rows = append(rows, ledger.Consumption{Spool: l.Spool.ID, Masses: ledger.Masses{PartG: g.Part, SupportG: g.Support, PrimeG: g.Prime, PurgeG: g.Purge,
			Changes: ledger.Count{N: g.Changes, Given: true}}, Basis: ledger.Path})
	}
	return rows, errors.Join(errs...)
}

// shared returns what every row of the job has.
func (c *consumeCmd) shared(a *app, v *ledger.View, shelf *inventory.Shelf, job *inventory.Job) (row ledger.Consumption, err error) {
	row = ledger.Consumption{Job: c.Job, Note: c.Note, Outcome: ledger.Finished, Basis: c.Basis}
	if c.Failed {
		row.Outcome = ledger.Failed
	}
	client, printer := c.Client, c.Printer
	if job != nil {
		row.Job = job.Name
		if client == "" {
			client = job.Client
		}
		if printer == "" {
			printer = job.Printer
		}
	}
	if printer == "" {
		printer = a.bench("TAREBOOK_PRINTER", shelf.Settings.Printer)
	}
	var errs [2]error
	row.Client, errs[0] = a.client(v, client)
	row.Printer, errs[1] = a.printer(v, printer)
	return row, errors.Join(errs[:]...)
}

// rows returns spools and masses, from what was typed or from the queue.
func (c *consumeCmd) rows(shelf *inventory.Shelf, job *inventory.Job) ([]ledger.Consumption, error) {
	if c.From != "" {
		return nil, nil
	}
	if len(c.Spools) == 0 {
		return queued(job, c.Job, nil)
	}
	var rows []ledger.Consumption
	var errs []error
	slots := map[string]*inventory.Spool{}
	for _, text := range c.Spools {
		slot, id, masses, err := cutTarget(text)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		spool, err := shelf.Find(id)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		if slot != "" {
			if masses != "" || slots[ledger.Fold(slot)] != nil {
				errs = append(errs, fmt.Errorf("%q: SLOT=SPOOL books what the queue says for that slot, once and without masses", text))
			}
			slots[ledger.Fold(slot)] = spool
			continue
		}
		if masses == "" {
			errs = append(errs, fmt.Errorf("%q says no mass; write SPOOL:MASSES, as %s:part=182.4,purge=14.9", text, spool.ID))
			continue
		}
		m, err := parseAmounts(masses, &spool.Filament)
		if err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", spool.ID, err))
			continue
		}
		rows = append(rows, ledger.Consumption{Spool: spool.ID, Masses: ledger.Masses{PartG: m.part, SupportG: m.support, PrimeG: m.prime, PurgeG: m.purge, Changes: m.changes}})
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	if len(slots) > 0 {
		if len(rows) > 0 {
			return nil, errors.New("SLOT=SPOOL, which books what the queue says, goes without SPOOL:MASSES")
		}
		return queued(job, c.Job, slots)
	}
	return rows, nil
}

// queued returns what the queue says of a job, on its named and loaded spools or on those of the slots given.
func queued(job *inventory.Job, name string, slots map[string]*inventory.Spool) ([]ledger.Consumption, error) {
	if job == nil {
		return nil, fmt.Errorf("job %q is not in the queue; write what it took, as SPOOL:part=182.4,purge=14.9", name)
	}
	var rows []ledger.Consumption
	var errs []error
	used := map[string]bool{}
	for _, n := range job.Needs {
		spool := slots[ledger.Fold(n.Slot)]
		delete(slots, ledger.Fold(n.Slot))
		if spool == nil && n.From != inventory.Named && n.From != inventory.OnIt {
			likely := "SPOOL"
			if n.Spool != nil {
				likely = n.Spool.ID
			}
			errs = append(errs, fmt.Errorf("slot %s of %s names no spool, and none of its filament is loaded there; add %s=%s", n.Slot, job.Name, n.Slot, likely))
			continue
		}
		if spool == nil {
			spool = n.Spool
		}
		if used[spool.ID] {
			errs = append(errs, fmt.Errorf("%s cannot serve two slots of %s", spool.ID, job.Name))
		}
		used[spool.ID] = true
		r := n.Row
		rows = append(rows, ledger.Consumption{Spool: spool.ID, Masses: r.Masses, Basis: r.Basis})
	}
	for slot := range slots {
		errs = append(errs, fmt.Errorf("%s has no slot %s in the queue", job.Name, slot))
	}
	return rows, errors.Join(errs...)
}

// late refuses a job that is booked after a weigh-in in which it was likely missing.
func (c *consumeCmd) late(a *app, s *inventory.Spool) error {
	if c.At != "" || c.After {
		return nil
	}
	r := s.WeighedBefore(a.now())
	if r == nil {
		return nil
	}
	return fmt.Errorf("%s was weighed on %s and %s g were missing: if this job is what was missing, it ended before; write --at %s, or --after if it ended since",
		s.ID, r.Weighin.At, -r.Variance, s.JustBefore(r))
}

// weighedSince tells whether the spool was weighed after that time, so that what it took before leaves the book as it is.
func weighedSince(s *inventory.Spool, at ledger.Time) bool {
	return s.Tare.Grams.Given && slices.ContainsFunc(s.Weighins, func(w *ledger.Weighin) bool { return w.GrossG.Given && w.At.After(at) })
}

func (c *consumeCmd) told(s *inventory.Spool, row *ledger.Consumption, net ledger.Grams, weighed bool) string {
	line := fmt.Sprintf("%s: %s g of %s", row.Job, row.Total(), s.ID)
	waste := row.Total() - row.PartG
	switch {
	case row.Outcome == ledger.Failed:
		line += ", all of it scrap"
	case waste > 0:
		line += fmt.Sprintf(", %s g of it waste", waste)
	}
	if s.Ended {
		return line
	}
	if weighed {
		return line + fmt.Sprintf("; it was weighed since, so the book still says %s g", net)
	}
	if net < 0 {
		return line + fmt.Sprintf("; the book now says %s g, so it was not all on this spool, or more was on it than the book knows", net)
	}
	return line + fmt.Sprintf("; the book now says %s g", net)
}
