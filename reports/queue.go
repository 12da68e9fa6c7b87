package reports

import (
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Queue is what is queued, in the order in which it will be printed.
type Queue []QueueLine

// QueueLine is what one slot of a job needs.
type QueueLine struct {
	Job      string      `json:"job" csv:"job"`
	Client   string      `json:"client" csv:"client"`
	Printer  string      `json:"printer" csv:"printer"`
	Due      ledger.Time `json:"due" csv:"due"`
	Slot     string      `json:"slot" csv:"slot"`
	Spool    string      `json:"spool" csv:"spool"`
	Material string      `json:"material" csv:"material"`
	Colour   string      `json:"colour" csv:"colour"`
	FinishedGrams
	Entry string `json:"entry" csv:"entry"`
}

// NewQueue returns the view of jobs.
func NewQueue(jobs []*inventory.Job) Queue {
	q := Queue{}
	for _, j := range jobs {
		for _, n := range j.Needs {
			r, colour := n.Row, n.Colour
			if r.Spool == "" && r.Colour == "" { // any colour will do, whichever would be taken now
				colour = ""
			}
			q = append(q, QueueLine{j.Name, j.Client, n.Printer, j.Due, n.Slot, r.Spool, n.Material, colour, FinishedGrams{r.PartG, r.SupportG, r.PrimeG, r.PurgeG}, r.Name()})
		}
	}
	return q
}

// Sheets returns the table for people.
func (q Queue) Sheets() Pages {
	sheet := Sheet{Spare: []string{"support g", "client", "due", "filament", "prime g", "printer"}, Columns: slices.Concat(left("job", "client", "printer", "due", "slot", "spool", "filament"), right("part g", "support g", "prime g", "purge g"))}
	for i, l := range q {
		row := []string{l.Job, dash(l.Client), dash(l.Printer), minute(l.Due)}
		if i > 0 && q[i-1].Job == l.Job {
			row = []string{"", "", "", ""}
		}
		sheet.Rows = append(sheet.Rows, slices.Concat(row, []string{dash(l.Slot), dash(l.Spool), strings.TrimSpace(l.Material + " " + l.Colour)}, l.FinishedGrams.cells()))
	}
	if len(q) == 0 {
		sheet.Notes = []string{"The queue is empty; queue a job with: tarebook queue add"}
	}
	return Pages{sheet}
}
