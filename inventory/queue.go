package inventory

import (
	"cmp"
	"fmt"
	"slices"

	"tarebook/ledger"
)

// Job is a queued job with what it needs.
type Job struct {
	Name, Client, Printer string
	Due                   ledger.Time // the earliest of its needs; zero for none
	Needs                 []*Need
	Verdict               string // the worst of its needs

	place int // its earliest live row
}

// Need is what a job needs for one slot, and whether the shelf has it.
type Need struct {
	Row     *ledger.Need
	Printer string // of its own row
	Slot    string

	Spool            *Spool // nil when none was found
	From             string // named, loaded, chosen or none
	Material, Colour string // the spool's, else the row's

	Likely  float64 // grams on the spool when this need begins
	Tail    float64 // grams that never reach the nozzle
	Margin  float64 // grams left after it, but for the tail
	U       float64 // standard uncertainty of Margin
	Odds    float64
	Verdict string
	RunsOut float64 // share of the need done when the spool runs out; only when not enough
	Instead []*Spool
	Where   *RunOut // where in its sliced file the spool runs out; nil when that is not known

	Turn      []*Spool  // the spools that it uses one after another, Spool the first; nil for one alone
	HandsOver []float64 // share of the need done when each but the last of Turn is used up; 1: that is not reached
	Handed    []*RunOut // where in its sliced file that is, for each; nil where that is not known or not reached
	InTurn    []*Spool  // that would be enough one after another, where no other spool is

	Barred string // why no nozzle of its printer takes its material; blank where one does

	ahead taken // of Spool
	gone  bool  // nothing is left on any of its spools

	As func(*Spool) *ledger.Need // returns the row in grams of that spool where lengths are known; nil: Row holds for any spool
}

// Where the spool of a need comes from: the queue names it, it is loaded at that slot, it was chosen as the smallest that is enough, or
// there is none.
const (
	SpoolNamed  = "named"
	SpoolLoaded = "loaded"
	SpoolChosen = "chosen"
	SpoolNone   = "none"
)

// The verdicts on a need.
const (
	Enough   = "enough"
	Marginal = "marginal"
	Short    = "short"
)

// Verdicts lists all verdicts, the best first.
var Verdicts = []string{Enough, Marginal, Short}

// jobs groups the live rows of the queue into jobs. Of rows with the same job and slot the last counts, in the place of the first.
// Jobs are sorted by due time, then by their earliest row.
func (s *Shelf) jobs(rows []*ledger.Need) []*Job {
	type slot struct{ job, slot string }
	var jobs []*Job
	byName := map[string]*Job{}
	bySlot := map[slot]*Need{}
	for i, row := range rows {
		if row.Spool != "" && !slices.ContainsFunc(row.Turn(), func(id string) bool { return s.ByID[id] != nil }) {
			continue // about spools without a purchase that counts
		}
		s.names.Need(JobName, row.Job, row)
		s.names.Need(ColourName, row.Colour, row)
		s.names.Need(ClientName, row.Client, row)
		s.names.Need(PrinterName, row.Printer, row)
		key := ledger.Fold(row.Job)
		job := byName[key]
		if job == nil {
			job = &Job{Name: row.Job, place: i}
			byName[key] = job
			jobs = append(jobs, job)
		}
		at := slot{key, ledger.Fold(row.Slot)}
		if old := bySlot[at]; old != nil && row.Slot != "" {
			old.Row = row
			continue
		}
		need := &Need{Row: row}
		bySlot[at] = need
		job.Needs = append(job.Needs, need)
	}
	for _, job := range jobs {
		job.Client, job.Printer = job.Needs[0].Row.Client, job.Needs[0].Row.Printer
		for _, need := range job.Needs {
			need.Printer, need.Slot = need.Row.Printer, need.Row.Slot
			if due := need.Row.Due; !due.IsZero() && (job.Due.IsZero() || due.Before(job.Due)) {
				job.Due = due
			}
		}
	}
	slices.SortStableFunc(jobs, func(a, b *Job) int {
		if a.Due.IsZero() != b.Due.IsZero() {
			if a.Due.IsZero() {
				return 1
			}
			return -1
		}
		return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.place, b.place))
	})
	return jobs
}

// Assign finds a spool for each need of a job: the named ones first, then those that stand loaded, then the
// smallest that is enough. No spool serves two slots.
func (s *Shelf) Assign(job *Job) { s.assign(job, s.newOutlook()) }

func (s *Shelf) assign(job *Job, o *outlook) {
	give := func(n *Need, from string, spools ...*Spool) {
		n.Spool, n.From = spools[0], from
		if len(spools) > 1 {
			n.Turn = spools
		}
		n.Row = n.rowFor(n.Spool)
		for _, spool := range spools {
			o.use(spool)
		}
	}
	for _, n := range job.Needs {
		n.From = SpoolNone
		if spools := s.named(n.Row, o.used); len(spools) > 0 {
			give(n, SpoolNamed, spools...)
		} // else earlier rows have them, and this one goes by its material and colour
	}
	for _, n := range job.Needs {
		if n.Spool != nil || n.Row.Material == "" {
			continue
		}
		if spool := s.at(n.Printer, n.Slot, o.ahead); spool != nil && !o.used[spool] && spool.Is(n.Row.Material, n.Row.Colour) {
			give(n, SpoolLoaded, spool)
		}
	}
	for _, n := range job.Needs {
		if n.Spool != nil || n.Row.Material == "" {
			continue
		}
		if fit := o.enough(n, n.Row.Material, n.Row.Colour, 1); len(fit) > 0 {
			give(n, SpoolChosen, fit[0])
		}
	}
	for _, n := range job.Needs {
		n.Material, n.Colour = n.Row.Material, s.names.Spell(ColourName, n.Row.Colour)
		if m := ledger.Named(s.Materials, n.Row.Material); m != nil {
			n.Material = m.Material
		}
		if n.Spool != nil {
			n.Material, n.Colour = n.Spool.Material, n.Spool.Colour
		}
		s.WeighUp(n, o.ahead)
	}
	for _, n := range job.Needs {
		if n.Verdict != Enough && n.Material != "" {
			colour := n.Colour
			if n.Row.Colour == "" {
				colour = ""
			}
			n.Instead = o.enough(n, n.Material, colour, len(s.Spools))
			if len(n.Instead) == 0 {
				n.InTurn = o.inTurn(n)
			}
		}
	}
	for _, n := range job.Needs {
		if slices.Index(Verdicts, n.Verdict) > slices.Index(Verdicts, job.Verdict) {
			job.Verdict = n.Verdict
		}
	}
	o.next(job)
}

// named returns the spools that a row names, in turn, but for those that serve another slot already. They are of the material and the
// diameter of the first that has a purchase.
func (s *Shelf) named(row *ledger.Need, used map[*Spool]bool) (spools []*Spool) {
	var first *Spool
	for _, id := range row.Turn() {
		spool := s.ByID[id]
		if spool == nil {
			continue
		}
		if first == nil {
			first = spool
		}
		if !used[spool] && spool.Follows(first) {
			spools = append(spools, spool)
		}
	}
	return spools
}

// Follows reports whether a spool may be used after another within one slot: both are of one material and one diameter.
func (s *Spool) Follows(first *Spool) bool {
	return ledger.Fold(s.Material) == ledger.Fold(first.Material) && s.Purchase.DiameterMM.Equal(first.Purchase.DiameterMM.Decimal)
}

// Spools returns the spools that the need uses, in turn; one for most, none without a spool.
func (n *Need) Spools() []*Spool {
	if n.Spool == nil {
		return nil
	}
	return n.turn(&[1]*Spool{})
}

// turn is Spools with room for one alone.
func (n *Need) turn(one *[1]*Spool) []*Spool {
	if n.Turn != nil {
		return n.Turn
	}
	one[0] = n.Spool
	return one[:]
}

// rowFor returns the row in grams of a spool.
func (n *Need) rowFor(spool *Spool) *ledger.Need {
	if n.As == nil {
		return n.Row
	}
	return n.As(spool)
}

// Is reports whether the spool is of the material and, unless it is blank, of the colour.
func (s *Spool) Is(material, colour string) bool {
	return ledger.Fold(s.Material) == ledger.Fold(material) && (colour == "" || ledger.Fold(s.Colour) == ledger.Fold(colour))
}

// Has reports whether a spool that has not ended is of that material and, unless it is blank, colour.
func (s *Shelf) Has(material, colour string) bool {
	return slices.ContainsFunc(s.Spools, func(spool *Spool) bool { return !spool.Ended && spool.Is(material, colour) })
}

// FindJob returns the job of that name, whatever its case. If there is none, the error offers the nearest.
func FindJob(jobs []*Job, name string) (*Job, error) {
	for _, job := range jobs {
		if ledger.Fold(job.Name) == ledger.Fold(name) {
			return job, nil
		}
	}
	if near := NearestJob(jobs, name); near != "" {
		return nil, fmt.Errorf("no job %q in the queue; did you mean %s?", name, near)
	}
	return nil, fmt.Errorf("no job %q in the queue; see it with: tarebook queue list", name)
}

// FindJobs returns the jobs of those names, each once, and all jobs if there are no names.
func FindJobs(jobs []*Job, names []string) ([]*Job, error) {
	if len(names) == 0 {
		return jobs, nil
	}
	var found []*Job
	for _, name := range names {
		job, err := FindJob(jobs, name)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(found, job) {
			found = append(found, job)
		}
	}
	return found, nil
}

// NearestJob returns the job's name that is most like a name, "" if none is.
func NearestJob(jobs []*Job, name string) string {
	var names []string
	for _, job := range jobs {
		names = append(names, job.Name)
	}
	return ledger.Nearest(name, names)
}

// Assigned reports whether the need has a spool that the queue names or that is loaded, not one merely chosen for it.
func (n *Need) Assigned() bool {
	return n.Spool != nil && (n.From == SpoolNamed || n.From == SpoolLoaded)
}
