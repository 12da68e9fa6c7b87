package inventory

import (
	"maps"
	"sort"
	"strings"

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
}

// Usage folds consumption into each spool's intervals and notes which of the watched jobs are over. A row at the very
// instant of a weigh-in comes after it.
type Usage struct {
	spools  []*Spool
	bySpool map[string]int
	of      []usage

	names    *names         // spellings of watched names; nil when nobody asks
	spelled  names          // what they were before any row
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

// spell makes the fold note where rows spell known names earlier.
func (u *Usage) spell(n *names) { u.names, u.spelled = n, n.clone() }

// watch makes the fold note when one of the jobs is over.
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
	of.intervals[n].add(add)
	if of.first.IsZero() || row.At.Before(of.first) {
		of.first = row.At
	}
	if u.watched != nil && row.Outcome == ledger.Finished {
		u.finished[u.watched[ledger.Fold(row.Job)]] = true
	}
	if u.names != nil {
		u.names.seeRow(row)
	}
}

// Merge adds what another fold over the same spools and jobs has gathered.
func (u *Usage) Merge(o *Usage) {
	for i := range u.of {
		for n := range u.of[i].intervals {
			u.of[i].intervals[n].add(o.of[i].intervals[n])
		}
		if first := o.of[i].first; u.of[i].first.IsZero() || !first.IsZero() && first.Before(u.of[i].first) {
			u.of[i].first = first
		}
	}
	for i, over := range o.finished {
		u.finished[i] = u.finished[i] || over
	}
	if u.names != nil {
		u.names.merge(o.names)
	}
}

// Reset forgets all rows.
func (u *Usage) Reset() {
	if u.names != nil {
		*u.names = u.spelled.clone()
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
	}
	u.finished = make([]bool, len(u.watched)+1)
}

func (u *Usage) over(job string) bool {
	i, ok := u.watched[ledger.Fold(job)]
	return ok && u.finished[i]
}

// names spells names of one kind as their table has them, else as in their earliest live row.
type names struct {
	kinds [nameKinds]map[string]spelling
}

type nameKind int

const (
	jobName nameKind = iota
	clientName
	printerName
	colourName
	nameKinds
)

type spelling struct {
	text string
	at   ledger.Time
	rank int    // of the ledger at the same instant; below 0 for a table
	id   string // ledger.Head.Order
}

func (s spelling) before(o spelling) bool {
	if s.rank < 0 || o.rank < 0 {
		return s.rank < o.rank
	}
	if c := s.at.Compare(o.at); c != 0 {
		return c < 0
	}
	if s.rank != o.rank {
		return s.rank < o.rank
	}
	return s.id < o.id
}

// Ranks of ledgers at the same instant.
const (
	purchaseRank = iota
	consumptionRank
	queueRank
)

// see notes a spelling; with only set, names that were not seen before are passed over.
func (n *names) see(kind nameKind, s spelling, only bool) {
	if s.text == "" {
		return
	}
	key := ledger.Fold(s.text)
	old, ok := n.kinds[kind][key]
	if !ok && only || ok && !s.before(old) {
		return
	}
	if n.kinds[kind] == nil {
		n.kinds[kind] = map[string]spelling{}
	}
	s.text, s.id = strings.Clone(s.text), strings.Clone(s.id)
	n.kinds[kind][strings.Clone(key)] = s
}

// seeRow looks whether a consumption row spells a queued name earlier than the queue does.
func (n *names) seeRow(row *ledger.Consumption) {
	id := row.Order()
	n.see(jobName, spelling{row.Job, row.At, consumptionRank, id}, true)
	n.see(clientName, spelling{row.Client, row.At, consumptionRank, id}, true)
	n.see(printerName, spelling{row.Printer, row.At, consumptionRank, id}, true)
}

func (n *names) merge(o *names) {
	for kind := range o.kinds {
		for _, s := range o.kinds[kind] {
			n.see(nameKind(kind), s, false)
		}
	}
}

func (n *names) clone() (c names) {
	for kind := range n.kinds {
		c.kinds[kind] = maps.Clone(n.kinds[kind])
	}
	return c
}

func (n *names) spell(kind nameKind, text string) string {
	if s, ok := n.kinds[kind][ledger.Fold(text)]; ok {
		return s.text
	}
	return text
}
