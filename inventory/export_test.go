package inventory

import (
	"math"
	"time"

	"tarebook/ledger"
)

// What the tests reach inside for: the estimator on bare numbers; folds that are merged by hand.

// EstimatesOf returns how booked grams c run against the scale's w.
func EstimatesOf(w, c []float64) Estimates {
	e := &estimator{}
	for i := range w {
		e.add(pair{thousandths(w[i]), thousandths(c[i])})
	}
	return e.estimates()
}

var Odds = odds

// Unfolded returns the shelf of a view before any consumption was read.
func Unfolded(v *ledger.View) (*Shelf, error) { return LoadSpools(v) }

// NewUsage returns an empty fold over the shelf that watches jobs.
func (s *Shelf) NewUsage(jobs ...string) *Usage {
	u := newUsage(s.Spools)
	u.watch(jobs)
	return u
}

// Reckon derives all from what u has folded.
func (s *Shelf) Reckon(u *Usage) {
	s.usage = u
	s.derive()
}

// First returns the instant of each spool's first row, told in UTC: which of two clocks told it does not matter.
func (u *Usage) First() (first []time.Time) {
	for _, of := range u.of {
		first = append(first, of.first.Std().UTC())
	}
	return first
}

func (u *Usage) Over(job string) bool { return u.over(job) }

// Daily is the mean and spread of daily use on bare numbers.
var Daily = daily

// NewDemand returns an empty fold over the shelf.
func (s *Shelf) NewDemand(first, last int) *Demand {
	keys := map[string]int{}
	for i, spool := range s.Spools {
		keys[spool.ID] = i + 1
	}
	d := &Demand{first: first, last: last, key: ledger.NewSpoolMap(keys)}
	d.uses = make([]dailyUse, len(s.Spools))
	d.Reset()
	return d
}

// Uses returns what was folded.
func (d *Demand) Uses() (began int, uses any) { return d.began, d.uses }

func thousandths(g float64) ledger.Grams { return ledger.Grams(math.Round(1000 * g)) }
