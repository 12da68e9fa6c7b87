package reports

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tarebook/inventory"
)

// Sheets returns a block for each job: what it is, its needs, and what they lack in words. Of the columns that a narrow terminal can spare,
// metres say the same as grams, and where a spool runs out stands in words too.
func (c Check) Sheets() Pages {
	sheet := Sheet{Spare: [][]string{{"need m", "2u m"}, {"out at"}, {"filament"}}, Columns: slices.Concat(texts("slot"), ids("spool"), texts("filament"),
		right("need g", "need m", "2u m", "likely g", "left g", "2u g", "odds"), left("verdict"), right("out at"))}
	var metres []*float64
	for _, j := range c.Jobs {
		for _, n := range j.Needs {
			metres = append(metres, n.needMU)
		}
	}
	dm, dg := known(expanded(metres...)...), c.gramDecimals()
	chosen := false
	for i, j := range c.Jobs {
		block := Block{Head: j.head(), Notes: c.notes[i]}
		for _, n := range j.Needs {
			block.Rows = append(block.Rows, []string{dash(n.Slot), spoolsCell(n.Spool, n.SpoolFrom, n.Spools), dash(strings.TrimSpace(n.Material + " " + n.Colour)), tenthGram(n.NeedG),
				figure(n.NeedM, dm), twice(n.needMU, dm), figure(n.LikelyG, dg), figure(n.AfterG, dg), twice(n.UG, dg), odds(n.Odds), n.Verdict, runsOut(n)})
			chosen = chosen || n.SpoolFrom == inventory.SpoolChosen
		}
		sheet.Blocks = append(sheet.Blocks, block)
	}
	if chosen {
		sheet.Notes = append(sheet.Notes, chosenNote)
	}
	if len(c.Jobs) == 0 {
		sheet.Notes = []string{emptyQueue}
	}
	return Pages{sheet}
}

const (
	emptyQueue = "The queue is empty; queue a job with: tarebook queue add"
	chosenNote = "* chosen here, neither named nor loaded"
)

// head says what a job is and how it stands.
func (j CheckJob) head() string {
	head := j.Job + ": " + j.Verdict
	if what := jobWords(j.Client, j.Printer, j.Due); what != "" {
		head += " (" + what + ")"
	}
	return head
}

// spoolsCell is spoolCell of all spools in turn.
func spoolsCell(spool *string, from string, turn IDs) string {
	if len(turn) > 1 {
		return strings.Join(turn, "+")
	}
	return spoolCell(spool, from)
}

// spoolCell shows the spool of a need, with a mark if it was merely chosen for it.
func spoolCell(spool *string, from string) string {
	switch {
	case spool == nil:
		return "none"
	case from == inventory.SpoolChosen:
		return *spool + "*"
	}
	return *spool
}

// runsOut shows how much of a need is done when its spool runs out; a dash where the spool likely lasts, though that may not be sure.
func runsOut(n CheckNeed) string {
	if n.RunsOutAt == nil || *n.RunsOutAt >= 1 {
		return "-"
	}
	return fmt.Sprintf("%.0f %%", math.Floor(100**n.RunsOutAt))
}
