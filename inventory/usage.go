package inventory

import (
	"sort"

	"tarebook/ledger"
)

// interval is what was consumed off one spool between two successive weigh-ins.
type interval struct {
	other   ledger.Grams // sliced and path grams, failed jobs too
	weighed ledger.Grams // grams by two weighings, wound-off ones too
	count   int          // rows
	exact   int          // rows of weighed grams, and windings-off
}

func (i *interval) add(o interval) {
	i.other += o.other
	i.weighed += o.weighed
	i.count += o.count
	i.exact += o.exact
}

// usage is one spool's consumption, by the interval between weigh-ins it falls into.
type usage struct {
	intervals []interval // one before each weigh-in, and one after the last
	first     ledger.Time
	most      ledger.Grams // that one row can take
	beyond    beyond
}

// Usage folds consumption into each spool's intervals and notes which of the watched jobs are over. A row at the very
// instant of a weigh-in comes after it.
type Usage struct {
	spools  []*Spool
	bySpool map[string]int
	of      []usage
	path    pathGrams

	names    *Spellings     // spellings of watched names; nil when none are wanted
	spelled  Spellings      // what they were before any row
	watched  map[string]int // folded job name
	finished []bool
}

func newUsage(spools []*Spool) *Usage {
	u := &Usage{spools: spools, bySpool: make(map[string]int, len(spools))}
	for i, s := range spools {
		u.bySpool[s.ID] = i
	}
	u.Reset()
	return u
}

// spell has the fold note rows that spell known names earlier.
func (u *Usage) spell(n *Spellings) { u.names, u.spelled = n, n.Clone() }

// watch has the fold note which of the jobs are over.
func (u *Usage) watch(jobs []string) {
	u.watched = map[string]int{}
	for _, job := range jobs {
		if key := ledger.Fold(job); u.watched[key] == 0 {
			u.watched[key] = len(u.watched) + 1
		}
	}
	u.finished = make([]bool, len(u.watched)+1)
}

// Add adds one row; one about a spool without a purchase that counts is left out.
func (u *Usage) Add(row *ledger.Consumption) {
	i, ok := u.bySpool[row.Spool]
	if !ok {
		return
	}
	weighins := u.spools[i].Weighins
	n := 0
	if len(weighins) > 0 {
		n = sort.Search(len(weighins), func(n int) bool { return weighins[n].At.After(row.At) })
	}
	add := interval{count: 1}
	if row.Basis == ledger.Weighed {
		add.weighed, add.exact = row.Total(), 1
	} else {
		add.other = row.Total()
	}
	of := &u.of[i]
	if !u.spools[i].before(row.At) { // else it counts in cost alone
		of.intervals[n].add(add)
	}
	if of.first.IsZero() || row.At.Before(of.first) {
		of.first = row.At
	}
	if row.Total() > of.most {
		of.beyond.add(row)
	}
	if row.Basis == ledger.Path {
		u.path.add(row.PartG, row.SupportG, row.PrimeG, row.PurgeG)
	}
	if u.watched != nil && row.Outcome == ledger.Finished {
		u.finished[u.watched[ledger.Fold(row.Job)]] = true
	}
	if u.names != nil {
		u.names.seeKnown(row)
	}
}

// Merge adds what another fold over the same spools and jobs has gathered.
func (u *Usage) Merge(o *Usage) {
	for i := range u.of {
		for n := range u.of[i].intervals {
			u.of[i].intervals[n].add(o.of[i].intervals[n])
		}
		u.of[i].beyond.merge(o.of[i].beyond)
		if first := o.of[i].first; u.of[i].first.IsZero() || !first.IsZero() && first.Before(u.of[i].first) {
			u.of[i].first = first
		}
	}
	u.path.merge(&o.path)
	for i, over := range o.finished {
		u.finished[i] = u.finished[i] || over
	}
	if u.names != nil {
		u.names.Merge(o.names)
	}
}

// Reset forgets all rows.
func (u *Usage) Reset() {
	if u.names != nil {
		*u.names = u.spelled.Clone()
	}
	all := 0
	for _, s := range u.spools {
		all += len(s.Weighins) + 1
	}
	u.of = make([]usage, len(u.spools))
	intervals := make([]interval, all)
	for i, s := range u.spools {
		n := len(s.Weighins) + 1
		u.of[i].intervals, intervals = intervals[:n:n], intervals[n:]
		u.of[i].most = s.mostOf()
	}
	u.path = pathGrams{}
	u.finished = make([]bool, len(u.watched)+1)
}

func (u *Usage) over(job string) bool {
	i, ok := u.watched[ledger.Fold(job)]
	return ok && u.finished[i]
}
