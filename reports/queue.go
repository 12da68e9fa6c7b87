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
	Due      ledger.Time `json:"due" csv:"due"`           // by when the job is wanted; null where nothing says so
	Slot     string      `json:"slot" csv:"slot"`         // tool of the sliced file, or a short word; may be blank
	Spool    string      `json:"spool" csv:"spool"`       // as queued: an id, several in turn joined by +, or blank
	Material string      `json:"material" csv:"material"` // material of the spool, else as queued
	Colour   string      `json:"colour" csv:"colour"`     // colour of the spool, else as queued
	FinishedGrams
	Entry string `json:"entry" csv:"entry"` // entry of the row; of one typed by hand the first 26 digits of its SHA-256
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

// Sheets returns a block for each job.
func (q Queue) Sheets() Pages {
	sheet := Sheet{Spare: [][]string{{"filament"}, {"part g", "support g", "prime g", "purge g"}},
		Columns: slices.Concat(texts("slot", "spool", "filament"), masses("part g", "support g", "prime g", "purge g", "all g"))}
	for i, l := range q {
		if i == 0 || q[i-1].Job != l.Job {
			head := l.Job
			if what := jobWords(l.Client, l.Printer, l.Due); what != "" {
				head += " (" + what + ")"
			}
			sheet.Blocks = append(sheet.Blocks, Block{Head: head})
		}
		block := &sheet.Blocks[len(sheet.Blocks)-1]
		block.Rows = append(block.Rows, slices.Concat([]string{dash(l.Slot), dash(l.Spool), dash(strings.TrimSpace(l.Material + " " + l.Colour))}, l.FinishedGrams.cells(), []string{gram(l.FinishedGrams.all())}))
	}
	if len(q) == 0 {
		sheet.Notes = []string{emptyQueue}
	}
	return Pages{sheet}
}

// jobWords says whose a job is, where it will be printed and by when.
func jobWords(client, printer string, due ledger.Time) string {
	var words []string
	if client != "" {
		words = append(words, "for "+client)
	}
	if printer != "" {
		words = append(words, "on "+printer)
	}
	if !due.IsZero() {
		words = append(words, "due "+minute(due))
	}
	return strings.Join(words, ", ")
}
