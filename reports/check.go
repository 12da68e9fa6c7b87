package reports

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Check compares the queue with the shelf.
type Check struct {
	Jobs []CheckJob `json:"jobs"`

	notes [][]string // of each job, in words
}

// CheckJob is one queued job.
type CheckJob struct {
	Job     string      `json:"job"`
	Client  string      `json:"client"`
	Printer string      `json:"printer"`
	Due     ledger.Time `json:"due"`
	Verdict string      `json:"verdict"`
	Needs   []CheckNeed `json:"needs"`
}

// CheckNeed is what a job needs for one slot; figures of a spool are null where none was found.
type CheckNeed struct {
	Slot      string       `json:"slot" csv:"slot"`
	Spool     *string      `json:"spool" csv:"spool"`
	SpoolFrom string       `json:"spool_from" csv:"spool_from"`
	Material  string       `json:"material" csv:"material"`
	Colour    string       `json:"colour" csv:"colour"`
	NeedG     ledger.Grams `json:"need_g" csv:"need_g"`
	NeedM     *float64     `json:"need_m" csv:"need_m"`
	LikelyG   *float64     `json:"likely_g" csv:"likely_g"`
	TailG     *float64     `json:"tail_g" csv:"tail_g"`
	AfterG    *float64     `json:"after_g" csv:"after_g"`
	UG        *float64     `json:"u_g" csv:"u_g"`
	Odds      float64      `json:"odds" csv:"odds"`
	Verdict   string       `json:"verdict" csv:"verdict"`
	RunsOutAt *float64     `json:"runs_out_at" csv:"runs_out_at"`
	Instead   IDs          `json:"instead" csv:"instead"`

	RunsOutIn *RunsOutIn `json:"runs_out_in,omitempty" csv:"-"`
}

// RunsOutIn is where in its sliced file a short spool runs out.
type RunsOutIn struct {
	Layer int     `json:"layer"`
	ZMM   float64 `json:"z_mm"`
	Share float64 `json:"share"` // of what the file takes of that spool
	Line  int     `json:"line"`
}

// IDs are spools.
type IDs []string

// MarshalCSV joins the ids by a blank, which none of them holds.
func (s IDs) MarshalCSV() (string, error) { return strings.Join(s, " "), nil }

// NewCheck returns the view of jobs that were checked against a shelf.
func NewCheck(shelf *inventory.Shelf, jobs []*inventory.Job) Check {
	c := Check{Jobs: []CheckJob{}}
	for _, job := range jobs {
		row := CheckJob{Job: job.Name, Client: job.Client, Printer: job.Printer, Due: job.Due, Verdict: job.Verdict, Needs: []CheckNeed{}}
		var notes []string
		for _, n := range job.Needs {
			row.Needs = append(row.Needs, checkNeed(n))
			if n.Verdict != inventory.Enough {
				notes = append(notes, lacking(shelf, job, n))
			}
		}
		c.Jobs = append(c.Jobs, row)
		c.notes = append(c.notes, notes)
	}
	return c
}

func checkNeed(n *inventory.Need) CheckNeed {
	row := CheckNeed{Slot: n.Slot, SpoolFrom: n.From, Material: n.Material, Colour: n.Colour, NeedG: n.Row.Total(), Odds: n.Odds,
		Verdict: n.Verdict, Instead: IDs{}}
	if s := n.Spool; s != nil {
		row.Spool = &s.ID
		row.NeedM = number(s.Filament.Length(n.Row.Total().Float()))
		row.LikelyG, row.TailG, row.AfterG, row.UG = number(n.Likely), number(n.Tail), number(n.Margin), number(n.U)
	}
	if n.Verdict != inventory.Enough {
		row.RunsOutAt = number(n.RunsOut)
	}
	if w := n.Where; w != nil {
		row.RunsOutIn = &RunsOutIn{w.Layer, w.ZMM, w.Share, w.Line}
	}
	for _, s := range n.Instead {
		row.Instead = append(row.Instead, s.ID)
	}
	return row
}

// lacking says in words what a need lacks, and what the scale must show for it to be enough.
func lacking(shelf *inventory.Shelf, job *inventory.Job, n *inventory.Need) string {
	var b strings.Builder
	what := strings.TrimSpace(n.Material + " " + n.Colour)
	if n.Slot != "" {
		what = "slot " + n.Slot
	}
	if n.Spool == nil {
		filament := strings.TrimSpace(n.Material + " " + n.Colour)
		if filament == "" {
			return fmt.Sprintf("%s: %s: names neither spool nor material; name one", job.Name, dash(what))
		}
		fmt.Fprintf(&b, "%s: %s: no spool of %s has %s g to spare; buy one, or name another", job.Name, what, filament, n.Row.Total())
		return b.String() + instead(n)
	}
	fmt.Fprintf(&b, "%s: %s: %s ", job.Name, what, n.Spool.ID)
	switch {
	case n.Spool.Ended:
		b.WriteString("has ended; name another")
		return b.String() + instead(n)
	case n.Verdict == inventory.Short:
		fmt.Fprintf(&b, "is likely %.0f g short and runs out at %.0f %% of its %s g", -n.Margin, math.Floor(100*n.RunsOut), n.Row.Total())
		if w := n.Where; w != nil {
			fmt.Fprintf(&b, ", in layer %d (%.2f mm up), line %d of the file", w.Layer, w.ZMM, w.Line)
		}
	default:
		fmt.Fprintf(&b, "likely has %.0f g to spare, but that is known to within %.0f g (2u) only", n.Margin, 2*n.U)
	}
	net := math.Ceil(shelf.Wanted(n))
	if math.IsInf(net, 1) { // enough_odds is 1
		b.WriteString("; no weighing makes it certain")
	} else if n.Spool.Tare.Grams.Given {
		fmt.Fprintf(&b, "; weighed now it must show at least %.0f g (net %.0f g), if estimates run on as they have", math.Ceil(net+n.Spool.Tare.Grams.Float()), net)
	} else {
		fmt.Fprintf(&b, "; it must hold at least %.0f g net, and its tare is not known", net)
	}
	return b.String() + instead(n)
}

func instead(n *inventory.Need) string {
	var ids []string
	for _, s := range n.Instead {
		ids = append(ids, s.ID)
	}
	if len(ids) == 0 {
		return ""
	}
	if len(ids) > 4 {
		ids = append(ids[:4], "others")
	}
	return "; enough would be " + inventory.List(ids, "or")
}

// Flagged reports whether a job is not enough.
func (c Check) Flagged() bool {
	return slices.ContainsFunc(c.Jobs, func(j CheckJob) bool { return j.Verdict != inventory.Enough })
}

// checkLine is one need with its job, for CSV.
type checkLine struct {
	Job        string      `csv:"job"`
	Client     string      `csv:"client"`
	Printer    string      `csv:"printer"`
	Due        ledger.Time `csv:"due"`
	JobVerdict string      `csv:"job_verdict"`
	CheckNeed
}

// CSV returns a row a need.
func (c Check) CSV() any {
	lines := []checkLine{}
	for _, j := range c.Jobs {
		for _, n := range j.Needs {
			lines = append(lines, checkLine{j.Job, j.Client, j.Printer, j.Due, j.Verdict, n})
		}
	}
	return lines
}

// Sheets returns the table for people, with what each job lacks in words.
func (c Check) Sheets() Pages {
	sheet := Sheet{Spare: []string{"client", "need m", "due", "printer", "odds", "filament", "likely g", "2u g"}, Columns: slices.Concat(left("job", "client", "printer", "due", "slot", "spool", "filament"),
		right("need g", "need m", "likely g", "left g", "2u g", "odds"), left("verdict"), right("out at"))}
	for i, j := range c.Jobs {
		for n, need := range j.Needs {
			row := []string{"", "", "", ""}
			if n == 0 {
				row = []string{j.Job, dash(j.Client), dash(j.Printer), minute(j.Due)}
			}
			cells := append(row, dash(need.Slot), spoolCell(need.Spool, need.SpoolFrom), strings.TrimSpace(need.Material+" "+need.Colour), gram(need.NeedG))
			if need.Spool != nil {
				cells = append(cells, tenth(*need.NeedM), tenth(*need.LikelyG), tenth(*need.AfterG), tenth(2**need.UG))
			} else {
				cells = append(cells, "-", "-", "-", "-")
			}
			sheet.Rows = append(sheet.Rows, append(cells, odds(need.Odds), need.Verdict, runsOut(need)))
		}
		sheet.Notes = append(sheet.Notes, c.notes[i]...)
	}
	if len(c.Jobs) == 0 {
		sheet.Notes = []string{"The queue is empty; queue a job with: tarebook queue add"}
	}
	return Pages{sheet}
}

// spoolCell shows the spool of a need, and whether it was merely chosen for it.
func spoolCell(spool *string, from string) string {
	switch {
	case spool == nil:
		return "none"
	case from == inventory.SpoolChosen:
		return *spool + " (chosen)"
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
