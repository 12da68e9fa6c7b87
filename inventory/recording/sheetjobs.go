package recording

import (
	"errors"
	"fmt"
	"slices"

	"tarebook/inventory"
	"tarebook/ledger"
)

// jobRows keeps the consumption of the jobs and spools of a sheet.
type jobRows struct {
	wanted map[string]bool
	found  map[string][]*ledger.Consumption
}

func jobKey(c *ledger.Consumption) string { return c.Spool + ":" + ledger.Fold(c.Job) }

func (j *jobRows) Add(row *ledger.Consumption) {
	if key := jobKey(row); j.wanted[key] {
		row = row.Clone()
		key = jobKey(row)
		j.found[key] = append(j.found[key], row)
	}
}

func (j *jobRows) Reset() { clear(j.found) }

// Jobs returns what the jobs of the sheet took and the book does not know yet.
func (in *Import) Jobs(v *ledger.View) (*Imported[ledger.Consumption], error) {
	_, dated := in.column["at"]
	now := !dated && !in.Timed
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return nil, err
	}
	sealed, err := seal(v, ledger.ConsumptionFile)
	if err != nil {
		return nil, err
	}
	rows := &jobRows{map[string]bool{}, map[string][]*ledger.Consumption{}}
	all := lines(in, v, func(l *line[ledger.Consumption]) {
		c := &l.row
		*c = ledger.Consumption{Job: l.text("job"), Outcome: l.word("outcome"), Basis: l.word("basis"), Note: l.note()}
		c.At = l.when()
		if text, _ := l.cell("job"); text == "" {
			l.refuseCell("job", errors.New("is blank; write the job's name"))
		}
		c.Client = l.name("client")
		c.Printer = l.name("printer")
		spool := l.spool(shelf)
		if spool != nil {
			c.Spool = spool.ID
		}
		given := false
		for _, m := range []struct {
			column string
			to     *ledger.Grams
		}{{"part_g", &c.PartG}, {"support_g", &c.SupportG}, {"prime_g", &c.PrimeG}, {"purge_g", &c.PurgeG}} {
			mass := l.mass(m.column, spool)
			*m.to, given = mass.Grams, given || mass.Given
		}
		c.Changes = l.count("changes")
		if !given && l.faults == nil {
			l.refuse("it says no grams", "write what the job took, 0 where it took nothing")
		}
		if c.Outcome == "" {
			c.Outcome = ledger.Finished
		}
		if c.Basis == "" {
			c.Basis = ledger.Sliced
		}
		rows.wanted[jobKey(c)] = true
	})
	if now { // a weigh-in of today may have found these very jobs missing
		err = shelf.ReadConsumption(v, func(*inventory.Shelf) (ledger.ConsumptionFold, error) { return rows, nil })
	} else {
		err = v.FoldConsumption(rows)
	}
	if err != nil {
		return nil, err
	}
	for _, of := range rows.found { // the fold has no order
		slices.SortFunc(of, func(a, b *ledger.Consumption) int { return ledger.CompareRows(a, b) })
	}
	passOver(all, rows.found, jobKey, jobValues)
	ended := 0
	for _, l := range all {
		check(l, sealed)
		if l.faults != nil || l.there {
			continue
		}
		spool := shelf.Spool(l.row.Spool)
		if endedBy(spool, l.row.At) {
			ended++
		}
		if r, words := missing(spool, in.Now); now && r != nil {
			l.refuse(words+", so this job may be what was missing", "map the column that says when it ended, or write --at TIME")
		}
	}
	t, err := taken(all)
	if err == nil && ended > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("of spools that had ended by then: %d, which count in cost alone", ended))
	}
	return t, err
}

var jobValues = []value[ledger.Consumption]{
	{"client", func(c *ledger.Consumption) string { return c.Client }}, {"printer", func(c *ledger.Consumption) string { return c.Printer }},
	{"part_g", func(c *ledger.Consumption) string { return c.PartG.String() }}, {"support_g", func(c *ledger.Consumption) string { return c.SupportG.String() }},
	{"prime_g", func(c *ledger.Consumption) string { return c.PrimeG.String() }}, {"purge_g", func(c *ledger.Consumption) string { return c.PurgeG.String() }},
	{"changes", func(c *ledger.Consumption) string { text, _ := c.Changes.MarshalCSV(); return text }},
	{"outcome", func(c *ledger.Consumption) string { return c.Outcome }}, {"basis", func(c *ledger.Consumption) string { return c.Basis }},
	{"note", func(c *ledger.Consumption) string { return c.Note }},
}
