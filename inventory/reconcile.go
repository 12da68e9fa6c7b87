package inventory

import (
	"math"

	"tarebook/ledger"
)

// Reading compares one weigh-in with the book.
type Reading struct {
	Weighin  *ledger.Weighin
	Measured ledger.Mass  // gross less tare; not given without either
	Book     ledger.Grams // the book just before it
	U        float64      // standard uncertainty of Measured

	Judged    bool         // it has a variance
	Variance  ledger.Grams // measured less book; negative: more went than was recorded
	VarianceU float64
	Outside   bool // |variance| > 2 u
	Heavier   bool // measured above what the book started with by more than 2 u

	Before *ledger.Weighin // the weigh-in that last moved the book, nil for none; of an opened spool also the reading at its purchase

	TakenBack ledger.Grams // of a dried variance below 0: not water, but what the spool had gained before by the scale

	AfterEnd bool     // it is of a spool that had ended
	Early    bool     // it came before an opened spool was booked: it is listed only
	since    interval // since Before, or since purchase
}

// walk goes through the spool's entries in order and computes its book, in exact grams.
func (s *Spool) walk() {
	start := s.Start()
	s.Net, s.Base, s.BaseU, s.AfterEnd = start, start, s.startU(), false
	s.Readings = make([]Reading, 0, len(s.Weighins))
	var since interval
	var moved *ledger.Weighin
	if s.opening != nil && s.Tare.Grams.Given {
		moved = s.opening
	}
	ended := false
	var gained gains
	windings := s.windings
	for len(windings) > 0 && s.before(windings[0].at) {
		windings = windings[1:]
	}
	pass := func(i int, until func(winding) bool) {
		used := s.u.intervals[i]
		for len(windings) > 0 && until(windings[0]) {
			used.weighed += windings[0].grams
			used.exact++
			windings = windings[1:]
		}
		if ended { // winding off an ended spool moves nothing, and consumption counts in cost alone
			s.AfterEnd = s.AfterEnd || used.count > 0
			return
		}
		since.add(used)
		s.Net -= used.other + used.weighed
	}
	for i, w := range s.Weighins {
		pass(i, func(o winding) bool { return !o.at.After(w.At) })
		r := Reading{Weighin: w, Book: s.Net, Before: moved, AfterEnd: ended, Early: s.before(w.At), since: since}
		if s.Tare.Grams.Given && w.GrossG.Given {
			r.Measured = ledger.Known(w.GrossG.Grams - s.Tare.Grams.Grams)
			r.U = math.Hypot(s.shelf.scaleU(w), s.Tare.U)
			if !ended && !r.Early {
				r.TakenBack = gained.add(r.Measured.Grams-r.Book, w.State == ledger.Dried)
			}
		}
		s.Readings = append(s.Readings, r)
		switch {
		case ended, r.Early:
		case w.Ends():
			ended, since, s.Net = true, interval{}, 0
		case r.Measured.Given:
			moved, since = w, interval{}
			s.Net, s.Base, s.BaseU = r.Measured.Grams, r.Measured.Grams, r.U
		}
	}
	pass(len(s.Weighins), func(winding) bool { return true })
	s.Weighed, s.Others = since.weighed, since.other
	if ended {
		s.Base, s.BaseU = 0, 0
	}
}

// judge computes the variance of a reading and its standard uncertainty. The tare cancels between two weigh-ins
// (JCGM 100:2008, 5.2); what was estimated between them carries the uncertainty of the prediction (see Estimates).
func (s *Spool) judge(r *Reading) {
	if !r.Measured.Given || r.Early {
		return
	}
	r.Heavier = (r.Measured.Grams - s.Start()).Float() > 2*r.U
	if r.AfterEnd || s.Tare.From == TareLabel && s.Tare.Weighin == r.Weighin {
		return
	}
	now := s.shelf.scaleU(r.Weighin)
	variance := now*now + square(s.Estimate.booked(r.since.other.Float()))
	if r.Before != nil {
		variance += square(s.shelf.scaleU(r.Before))
	} else {
		variance += square(s.Tare.U) + square(s.labelU())
	}
	r.Judged = true
	r.Variance = r.Measured.Grams - r.Book
	r.VarianceU = math.Sqrt(variance)
	r.Outside = math.Abs(r.Variance.Float()) > 2*r.VarianceU
}

// NetU returns the standard uncertainty in grams of the book's net now.
func (s *Spool) NetU() float64 {
	if s.Ended {
		return 0
	}
	return math.Hypot(s.BaseU, s.Estimate.booked(s.Others.Float()))
}

// Likely returns the grams that are likely on the spool now: of estimated grams, k times as many are gone as were booked.
func (s *Spool) Likely() float64 { return s.likely(0) }

// likely returns what Likely will return when so many more grams are booked.
func (s *Spool) likely(booked float64) float64 {
	if s.Ended {
		return 0
	}
	return (s.Base - s.Weighed).Float() - s.Estimate.K*(s.Others.Float()+booked)
}

// gains is what a spool has gained by the scale since its purchase or its last drying: the greatest sum of its last variances, however
// many, and at least 0. Damp filament weighs more, so that drying takes such a gain back before it counts as water.
type gains struct{ most ledger.Grams }

// add adds the variance of the next weigh-in and returns what it takes back, if it was of drying.
func (g *gains) add(variance ledger.Grams, dried bool) (back ledger.Grams) {
	if !dried {
		// The greatest sum of the last j: the last alone with the greatest sum that ended before it.
		g.most = max(0, g.most+variance)
		return 0
	}
	back = max(0, min(-variance, g.most))
	g.most = 0
	return back
}

// LastReading returns what the last weigh-in with a gross found, nil when there is none but that at an opened spool's purchase.
func (s *Spool) LastReading() *Reading {
	for i := len(s.Readings) - 1; i >= 0; i-- {
		if s.Readings[i].Weighin == s.lastGross {
			return &s.Readings[i]
		}
	}
	return nil
}

func square(x float64) float64 { return x * x }
