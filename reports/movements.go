package reports

import (
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Movements are what moved last on each spool: jobs, weigh-ins, winding off and places. It is a fold over consumption that keeps the last
// few rows of each spool.
type Movements struct {
	index     ledger.SpoolMap[int32] // of each spool, and 1
	jobs      []lastJobs
	moves     map[string][]moved
	purchases map[string][]moved
	numbers   map[string]int32 // as in index
}

// lastJobs are the last rows of consumption of one spool, in order.
type lastJobs struct {
	n    int
	rows [mostMoved]movedJob
}

// movedJob is one of them. Nearly every row of a file is the last of its spool for a while, so its memory is used again.
type movedJob struct {
	at      ledger.Time
	id, job []byte
	grams   ledger.Grams
}

// Movement is one of them as it is shown; Change is blank where nothing was weighed or taken.
type Movement struct{ Day, What, Change string }

// moved is one of them. rank tells them apart at the same instant.
type moved struct {
	at   ledger.Time
	rank int
	id   string
	show Movement
}

// mostMoved is how many a card shows.
const mostMoved = 5

// NewMovements returns movements with those of a view's moves and purchases.
func NewMovements(v *ledger.View) (*Movements, error) {
	moves, err1 := v.Moves()
	purchases, err2 := v.Purchases()
	if err := ledger.JoinFaults(err1, err2); err != nil {
		return nil, err
	}
	m := newMovements(purchases)
	for _, row := range moves {
		keep(m.moves, row.Spool, moved{row.At, 3, row.Order(), Movement{What: "to " + name(dash(row.Place))}})
	}
	for _, row := range purchases {
		if row.From != "" {
			keep(m.purchases, row.From, moved{row.At, 0, row.Order(), Movement{What: "onto " + row.Spool, Change: minus(gram(-row.NetG)) + " g"}})
		}
	}
	return m, nil
}

func newMovements(purchases []*ledger.Purchase) *Movements {
	m := &Movements{moves: map[string][]moved{}, purchases: map[string][]moved{}, numbers: map[string]int32{}}
	for i, row := range purchases {
		m.numbers[row.Spool] = int32(i + 1)
	}
	m.index = ledger.NewSpoolMap(m.numbers)
	m.Reset()
	return m
}

// Add keeps a row if it is among the last of its spool.
func (m *Movements) Add(row *ledger.Consumption) {
	i := m.index.Get(row)
	if i == 0 {
		return
	}
	last := &m.jobs[i-1]
	if last.n < mostMoved || !row.At.Before(last.rows[0].at) {
		last.add(row.At, row.Order(), row.Job, row.Total())
	}
}

// add adds a row, unless as many are there already and none comes before it.
func (l *lastJobs) add(at ledger.Time, id, job string, grams ledger.Grams) {
	place := l.n
	for ; place > 0; place-- {
		before := &l.rows[place-1]
		if c := before.at.Compare(at); c < 0 || c == 0 && string(before.id) <= id {
			break
		}
	}
	var spare movedJob
	if l.n < mostMoved {
		copy(l.rows[place+1:l.n+1], l.rows[place:l.n])
		l.n++
	} else {
		if place == 0 {
			return
		}
		place--
		spare = l.rows[0]
		copy(l.rows[:place], l.rows[1:place+1])
	}
	l.rows[place] = movedJob{at, append(spare.id[:0], id...), append(spare.job[:0], job...), grams}
}

// Reset forgets all rows that were added.
func (m *Movements) Reset() { m.index, m.jobs = m.index.Reader(), make([]lastJobs, len(m.numbers)) }

// Split returns movements without rows, for another worker.
func (m *Movements) Split() ledger.SharedFold {
	o := &Movements{index: m.index, numbers: m.numbers}
	o.Reset()
	return o
}

// Join adds the rows that such a worker kept.
func (m *Movements) Join(o ledger.SharedFold) {
	for i := range o.(*Movements).jobs {
		last := &o.(*Movements).jobs[i]
		for _, x := range last.rows[:last.n] {
			m.jobs[i].add(x.at, string(x.id), string(x.job), x.grams)
		}
	}
}

// jobsOf returns the last rows of consumption of a spool.
func (m *Movements) jobsOf(spool string) (all []moved) {
	i := m.numbers[spool]
	if i == 0 {
		return nil
	}
	last := &m.jobs[i-1]
	for _, x := range last.rows[:last.n] {
		all = append(all, moved{x.at, 2, string(x.id), Movement{What: name(named(string(x.job))), Change: minus(gram(-x.grams)) + " g"}})
	}
	return all
}

// keep adds one of a spool and forgets what is no longer among the last.
func keep(all map[string][]moved, spool string, x moved) {
	last := append(all[spool], x)
	slices.SortStableFunc(last, compareMoved)
	all[spool] = last[max(0, len(last)-mostMoved):]
}

func compareMoved(a, b moved) int {
	if c := a.at.Compare(b.at); c != 0 {
		return c
	}
	if a.rank != b.rank {
		return a.rank - b.rank
	}
	return strings.Compare(a.id, b.id)
}

// of returns the last movements of a spool, the latest first.
func (m *Movements) of(s *inventory.Spool) (shown []Movement) {
	all := slices.Concat(m.jobsOf(s.ID), m.moves[s.ID], m.purchases[s.ID])
	for _, r := range s.Readings {
		w := r.Weighin
		x := moved{w.At, 1, w.Order(), Movement{What: w.State}}
		if w.State == ledger.Loaded {
			x.show.What = "weighed"
		}
		if r.Measured.Given {
			x.show.Change = "= " + minus(gram(r.Measured.Grams)) + " g"
		}
		all = append(all, x)
	}
	slices.SortStableFunc(all, compareMoved)
	slices.Reverse(all)
	for _, x := range all[:min(len(all), mostMoved)] {
		x.show.Day = x.at.Date()
		shown = append(shown, x.show)
	}
	return shown
}
