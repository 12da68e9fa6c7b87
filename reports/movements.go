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
	jobs      map[string][]moved
	moves     map[string][]moved
	purchases map[string][]moved
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
	m := &Movements{moves: map[string][]moved{}, purchases: map[string][]moved{}}
	m.Reset()
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

// Add keeps a row if it is among the last of its spool.
func (m *Movements) Add(row *ledger.Consumption) {
	last := m.jobs[row.Spool]
	if len(last) == mostMoved && row.At.Before(last[0].at) {
		return
	}
	job := strings.Clone(row.Job)
	keep(m.jobs, strings.Clone(row.Spool), moved{row.Clone().At, 2, strings.Clone(row.Order()), Movement{What: name(named(job)), Change: minus(gram(-row.Total())) + " g"}})
}

// Reset forgets all rows that were added.
func (m *Movements) Reset() { m.jobs = map[string][]moved{} }

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
	all := slices.Concat(m.jobs[s.ID], m.moves[s.ID], m.purchases[s.ID])
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
