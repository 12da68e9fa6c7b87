package inventory

import (
	"slices"
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
	intervals []interval    // one before each weigh-in, and one after the last
	weighed   []ledger.Time // of the weigh-ins; side by side, since every row of consumption is searched among them
	last      int           // the interval of the last row: the next one is likely of the same
	opened    ledger.Time   // the opened spool's purchase; the zero Time for another spool
	first     ledger.Time
	most      ledger.Grams // that one row can take
	beyond    *beyond      // nil: no row took more
}

// Usage folds consumption into each spool's intervals and notes which of the watched jobs are over. A row at the very
// instant of a weigh-in comes after it.
type Usage struct {
	spools []*Spool
	index  ledger.SpoolMap[int32] // of each spool, and 1
	of     []usage
	cut    ledger.Time // every interval ends there too; the zero Time: none does
	path   pathGrams

	names    *Spellings           // spellings of watched names; nil when none are wanted
	spelled  Spellings            // what they were before any row
	watched  *ledger.NameMap[int] // numbers of jobs, from 1 on
	finished []bool               // by those numbers
}

func newUsage(spools []*Spool) *Usage {
	index := make(map[string]int32, len(spools))
	for i, s := range spools {
		index[s.ID] = int32(i + 1)
	}
	u := &Usage{spools: spools, index: ledger.NewSpoolMap(index), watched: new(ledger.NameMap[int])}
	u.allot()
	u.Reset()
	return u
}

// spell has the fold note rows that spell known names earlier.
func (u *Usage) spell(n *Spellings) { u.names, u.spelled = n, n.Clone() }

// watch has the fold note which of the jobs are over.
func (u *Usage) watch(jobs []string) {
	for _, job := range jobs {
		if u.watched.Get(job) == 0 {
			u.watched.Set(job, len(u.watched.All())+1)
		}
	}
	u.finished = make([]bool, len(u.watched.All())+1)
}

// intervalOf returns the index of the interval that an instant falls into.
func (o *usage) intervalOf(at ledger.Time) int {
	n := o.last
	if (n > 0 && o.weighed[n-1].After(at)) || (n < len(o.weighed) && !o.weighed[n].After(at)) {
		n = sort.Search(len(o.weighed), func(n int) bool { return o.weighed[n].After(at) })
		o.last = n
	}
	return n
}

// Add adds one row; one about a spool without a purchase that counts is left out.
func (u *Usage) Add(row *ledger.Consumption) {
	i := u.index.Get(row)
	if i == 0 {
		return
	}
	of, total := &u.of[i-1], row.Total()
	if of.opened.IsZero() || !row.At.Before(of.opened) { // else it counts in cost alone
		n := &of.intervals[of.intervalOf(row.At)]
		n.count++
		if row.Basis == ledger.Weighed {
			n.weighed += total
			n.exact++
		} else {
			n.other += total
		}
	}
	if of.first.IsZero() || row.At.Before(of.first) {
		of.first = row.At
	}
	if total > of.most {
		of.beyond = of.beyond.and(beyondOf(row))
	}
	if row.Basis == ledger.Path {
		u.path.add(row.PartG, row.SupportG, row.PrimeG, row.PurgeG)
	}
	if len(u.finished) > 1 && row.Outcome == ledger.Finished {
		u.finished[u.watched.Get(row.Job)] = true
	}
	if u.names != nil {
		u.names.SeeKnown(row)
	}
}

// Split returns a fold over the same spools and jobs without rows.
func (u *Usage) Split() ledger.SharedFold {
	o := &Usage{spools: u.spools, index: u.index, of: slices.Clone(u.of), cut: u.cut, watched: u.watched.Reader(), spelled: u.spelled}
	if u.names != nil {
		o.names = &Spellings{}
	}
	o.Reset()
	return o
}

// Join is Merge with a fold that Split returned.
func (u *Usage) Join(o ledger.SharedFold) { u.Merge(o.(*Usage)) }

// Merge adds what another fold over the same spools and jobs has gathered.
func (u *Usage) Merge(o *Usage) {
	for i := range u.of {
		for n := range u.of[i].intervals {
			u.of[i].intervals[n].add(o.of[i].intervals[n])
		}
		u.of[i].beyond = u.of[i].beyond.and(o.of[i].beyond)
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
	u.index = u.index.Reader()
	u.empty()
	u.path = pathGrams{}
	u.finished = make([]bool, len(u.watched.All())+1)
}

// empty gives each spool intervals without rows.
func (u *Usage) empty() {
	all := 0
	for i := range u.of {
		all += len(u.of[i].weighed) + 1
	}
	intervals := make([]interval, all)
	for i := range u.of {
		of := &u.of[i]
		n := len(of.weighed) + 1
		of.intervals, intervals = intervals[:n:n], intervals[n:]
		of.last, of.first, of.beyond = 0, ledger.Time{}, nil
	}
}

// allot notes of each spool when its intervals end. They have room for rows once they were emptied.
func (u *Usage) allot() {
	all := 0
	for _, s := range u.spools {
		all += len(s.Weighins) + 1
	}
	u.of = make([]usage, len(u.spools))
	times := make([]ledger.Time, 0, all)
	for i, s := range u.spools {
		of := &u.of[i]
		from := len(times)
		for _, w := range s.Weighins {
			times = append(times, w.At)
		}
		if !u.cut.IsZero() {
			n := from + sort.Search(len(times)-from, func(n int) bool { return times[from+n].After(u.cut) })
			times = slices.Insert(times, n, u.cut)
		}
		of.weighed = times[from:]
		of.most = s.mostOf()
		if s.opening != nil {
			of.opened = s.opening.At
		}
	}
}

func (u *Usage) over(job string) bool {
	i := u.watched.Get(job)
	return i > 0 && u.finished[i]
}
