package reports

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Check is the queue compared with the shelf.
type Check struct {
	Jobs []CheckJob `json:"jobs"` // in the order in which they will be printed

	notes [][]string // of each job, in words
}

// CheckJob is one queued job.
type CheckJob struct {
	Job     string      `json:"job"`
	Client  string      `json:"client"`
	Printer string      `json:"printer"`
	Due     ledger.Time `json:"due"`     // by when it is wanted; null where nothing says so
	Verdict string      `json:"verdict"` // the worst of its needs
	Needs   []CheckNeed `json:"needs"`   // a need for each slot
}

// CheckNeed is what a job needs for one slot; figures of a spool are null where none was found.
type CheckNeed struct {
	Slot      string       `json:"slot" csv:"slot"`               // tool of the sliced file, or a short word; may be blank
	Spool     *string      `json:"spool" csv:"spool"`             // the first that serves it; null where none was found
	SpoolFrom string       `json:"spool_from" csv:"spool_from"`   // how it was found: named in the queue, loaded at that slot, chosen as the smallest that is enough, or none
	Material  string       `json:"material" csv:"material"`       // material of the spool, else of the queue
	Colour    string       `json:"colour" csv:"colour"`           // colour of the spool, else of the queue
	NeedG     ledger.Grams `json:"need_g" csv:"need_g"`           // grams as queued
	NeedM     *float64     `json:"need_m" csv:"need_m"`           // length of need_g on that spool; null without a spool
	LikelyG   *float64     `json:"likely_g" csv:"likely_g"`       // what will be on the spools that serve it when this need begins; null without a spool
	TailG     *float64     `json:"tail_g" csv:"tail_g"`           // what never reaches the nozzle at the end of a spool; null without a spool
	AfterG    *float64     `json:"after_g" csv:"after_g"`         // what is likely left then, the margin; null without a spool
	UG        *float64     `json:"u_g" csv:"u_g"`                 // standard uncertainty of after_g; null without a spool
	Odds      float64      `json:"odds" csv:"odds"`               // odds that the filament lasts, from 0 to 1
	Verdict   string       `json:"verdict" csv:"verdict"`         // enough by the odds, else short where after_g is below 0, else marginal
	RunsOutAt *float64     `json:"runs_out_at" csv:"runs_out_at"` // share of the need at which the filament runs out, from 0 to 1; null when it is enough
	Spools    IDs          `json:"spools" csv:"spools"`           // all that serve it, in turn; none where none was found
	HandsOver HandOvers    `json:"hands_over" csv:"hands_over"`   // where one of them is used up and the next begins
	Instead   IDs          `json:"instead" csv:"instead"`         // other spools that would be enough alone; none when the need is enough
	InTurn    IDs          `json:"in_turn" csv:"in_turn"`         // spools that would be enough in turn, its own first; none where one alone is or would be

	RunsOutIn *RunsOutIn `json:"runs_out_in,omitempty" csv:"-"` // where that is in the sliced file; left out where the file is not known
	Barred    string     `json:"barred,omitempty" csv:"barred"` // why no nozzle of the printer takes the material; left out where one does

	needMU *float64 // standard uncertainty of NeedM
}

// RunsOutIn is where in its sliced file a short spool runs out.
type RunsOutIn struct {
	Layer int     `json:"layer"` // layer, counted from 1
	ZMM   float64 `json:"z_mm"`  // height of that layer
	Share float64 `json:"share"` // share of what the file takes of that spool, from 0 to 1
	Line  int     `json:"line"`  // line of the file
}

// A HandOver is where one spool is used up and the next begins.
type HandOver struct {
	Spool string     `json:"spool"`        // the next spool
	At    float64    `json:"at"`           // share of the need at which it takes over, from 0 to 1
	In    *RunsOutIn `json:"in,omitempty"` // where that is in the sliced file; left out where the file is not known
}

// HandOvers are those of one need.
type HandOvers []HandOver

// MarshalCSV writes SPOOL=SHARE, parted by blanks.
func (h HandOvers) MarshalCSV() (string, error) {
	var words []string
	for _, over := range h {
		words = append(words, over.Spool+"="+strconv.FormatFloat(over.At, 'f', -1, 64))
	}
	return strings.Join(words, " "), nil
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
			if n.Barred != "" {
				notes = append(notes, barred(n))
			}
			if turn := inTurn(n); turn != "" {
				notes = append(notes, needName(n)+": "+turn)
			}
			if n.Verdict != inventory.Enough {
				notes = append(notes, lacking(shelf, n))
			}
		}
		c.Jobs = append(c.Jobs, row)
		c.notes = append(c.notes, notes)
	}
	return c
}

// barred says in words that no nozzle takes the material of a need.
func barred(n *inventory.Need) string {
	return fmt.Sprintf("%s: no nozzle of %s takes %s: %s", needName(n), n.Printer, n.Material, n.Barred)
}

func checkNeed(n *inventory.Need) CheckNeed {
	row := CheckNeed{Slot: n.Slot, SpoolFrom: n.From, Material: n.Material, Colour: n.Colour, NeedG: n.Row.Total(), Odds: n.Odds,
		Verdict: n.Verdict, Barred: n.Barred, Spools: idsOf(n.Spools()), HandsOver: handOvers(n), Instead: idsOf(n.Instead), InTurn: idsOf(n.InTurn)}
	if s := n.Spool; s != nil {
		row.Spool = &s.ID
		need := n.Row.Total().Float()
		row.NeedM, row.needMU = number(s.Filament.Length(need)), number(s.Filament.LengthU(need, 0))
		row.LikelyG, row.TailG, row.AfterG, row.UG = number(n.Likely), number(n.Tail), number(n.Margin), number(n.U)
	}
	if n.Verdict != inventory.Enough {
		row.RunsOutAt = number(n.RunsOut)
	}
	row.RunsOutIn = runsOutIn(n.Where)
	return row
}

func handOvers(n *inventory.Need) HandOvers {
	all := HandOvers{}
	for i, at := range n.HandsOver {
		over := HandOver{Spool: n.Turn[i+1].ID, At: at}
		if n.Handed != nil {
			over.In = runsOutIn(n.Handed[i])
		}
		all = append(all, over)
	}
	return all
}

func idsOf(spools []*inventory.Spool) IDs {
	ids := IDs{}
	for _, s := range spools {
		ids = append(ids, s.ID)
	}
	return ids
}

func runsOutIn(w *inventory.RunOut) *RunsOutIn {
	if w == nil {
		return nil
	}
	return &RunsOutIn{w.Layer, w.ZMM, w.Share, w.Line}
}

// place says in words where in the file something happens; blank where that is not known.
func place(w *inventory.RunOut) string {
	if w == nil {
		return ""
	}
	return fmt.Sprintf(", in layer %d (%.2f mm up), line %d of the file", w.Layer, w.ZMM, w.Line)
}

// inTurn says in words where spools hand over that are used in turn, and how those differ that meet; blank for one spool alone, and for a
// need of nothing.
func inTurn(n *inventory.Need) string {
	if n.Turn == nil || n.Row.Total() == 0 {
		return ""
	}
	var parts []string
	var meet []*inventory.Spool // of which some is likely used
	before := 0.0
	for i, at := range n.HandsOver {
		switch spool := n.Turn[i]; {
		case before >= 1:
			parts = append(parts, spool.ID+" is likely not reached")
		case at <= before:
			parts = append(parts, "nothing of "+spool.ID+" will be left by then")
		default:
			meet = append(meet, spool)
			if at < 1 {
				parts = append(parts, handsOver(n, i))
			}
		}
		before = at
	}
	if last := n.Turn[len(n.Turn)-1]; before < 1 {
		meet = append(meet, last)
	} else {
		parts = append(parts, last.ID+" is likely not reached")
	}
	s := strings.Join(parts, "; ")
	if what := differ(meet); what != "" {
		s += "; they differ in " + what + ", so the join may show"
	}
	return s
}

// handsOver says in words where a spool hands over to the next that has something left.
func handsOver(n *inventory.Need, i int) string {
	next := i + 1
	for next < len(n.HandsOver) && n.HandsOver[next] <= n.HandsOver[i] {
		next++
	}
	s := fmt.Sprintf("%s hands over to %s at %.0f %%", n.Turn[i].ID, n.Turn[next].ID, math.Floor(100*n.HandsOver[i]))
	if n.Handed != nil {
		s += place(n.Handed[i])
	}
	return s
}

// differ names what spools that meet differ in, which may show in the print; blank for nothing. What is not known differs from nothing.
func differ(spools []*inventory.Spool) string {
	var what []string
	for _, of := range []struct {
		what string
		text func(*inventory.Spool) string
	}{{"colour", func(s *inventory.Spool) string { return s.Colour }}, {"maker", func(s *inventory.Spool) string { return s.Maker }}, {"lot", func(s *inventory.Spool) string { return s.Lot }}} {
		known := ""
		for _, spool := range spools {
			text := ledger.Fold(of.text(spool))
			if known != "" && text != "" && text != known {
				what = append(what, of.what)
				break
			}
			known = cmp.Or(known, text)
		}
	}
	return inventory.List(what, "and")
}

// lacking says in words what a need lacks, and what the scale must show for it to be enough.
func lacking(shelf *inventory.Shelf, n *inventory.Need) string {
	var b strings.Builder
	what := needName(n)
	if n.Spool == nil {
		filament := strings.TrimSpace(n.Material + " " + n.Colour)
		if filament == "" {
			return fmt.Sprintf("%s: names neither spool nor material; name one", what)
		}
		fmt.Fprintf(&b, "%s: no spool of %s has %s g to spare; ", what, filament, n.Row.Total())
		if len(n.InTurn) > 0 {
			b.WriteString("enough in turn would be " + inventory.IDs(n.InTurn) + "; else buy one, or name another")
		} else {
			b.WriteString("buy one, or name another")
		}
		return b.String() + instead(n)
	}
	fmt.Fprintf(&b, "%s: %s ", what, inventory.IDs(n.Spools()))
	switch {
	case n.Gone():
		b.WriteString(hasEnded(n) + "; name another")
		return b.String() + instead(n)
	case n.Verdict == inventory.Short:
		fmt.Fprintf(&b, "is likely %.0f g short and runs out at %.0f %% of its %s g", -n.Margin, math.Floor(100*n.RunsOut), n.Row.Total())
		b.WriteString(place(n.Where))
	default:
		fmt.Fprintf(&b, "likely has %.0f g to spare, but that is known to within %.0f g (2u) only", n.Margin, 2*n.U)
	}
	if n.Turn != nil {
		return b.String() + instead(n)
	}
	net := math.Ceil(shelf.Wanted(n))
	if math.IsInf(net, 1) { // enough_odds is 1
		b.WriteString("; no weighing makes it certain")
	} else if n.Spool.Tare.Grams.Given {
		fmt.Fprintf(&b, "; to finish the job, the scale must show at least %.0f g (%.0f g net)", math.Ceil(net+n.Spool.Tare.Grams.Float()), net)
	} else {
		fmt.Fprintf(&b, "; it must hold at least %.0f g net, and its tare is not known", net)
	}
	return b.String() + instead(n)
}

// hasEnded says that nothing is left on the spools of a need.
func hasEnded(n *inventory.Need) string {
	switch {
	case !n.Spool.Ended:
		return "will be used up by the jobs before"
	case n.Turn != nil:
		return "have ended"
	}
	return "has ended"
}

func instead(n *inventory.Need) string {
	ids := idsOf(n.Instead)
	switch {
	case len(ids) == 0 && n.Spool != nil && len(n.InTurn) > 0:
		return "; enough in turn would be " + inventory.IDs(n.InTurn)
	case len(ids) == 0:
		return ""
	case len(ids) > 4:
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
