package inventory

import (
	"math"
	"strings"

	"tarebook/ledger"
)

// A spool that was begun already when it came into the book has its first weigh-in in its purchase: gross_g is what the scale showed
// then. Its book starts at that gross less the best tare known now, and what happened to it before moves no book.

// OpenedNote begins the note of an opened spool's purchase.
const OpenedNote = "opened: gross "

// Opened reports whether a purchase is that of a spool that was begun already; by its gross or, in a book of before, by its note.
func Opened(p *ledger.Purchase) bool {
	return p.GrossG.Given || strings.HasPrefix(p.Note, OpenedNote)
}

// openingOf returns the reading that a purchase holds as a weigh-in, nil for none.
func openingOf(p *ledger.Purchase) *ledger.Weighin {
	if !p.GrossG.Given {
		return nil
	}
	return &ledger.Weighin{Head: p.Head, Spool: p.Spool, GrossG: p.GrossG, Scale: p.Scale, State: ledger.Loaded}
}

// Opening returns the reading at the spool's purchase, nil when it was not opened.
func (s *Spool) Opening() *ledger.Weighin { return s.opening }

// before reports whether an instant lies before an opened spool was booked: what happened then moves no book.
func (s *Spool) before(at ledger.Time) bool { return s.opening != nil && at.Before(s.opening.At) }

// Start returns the grams with which the book starts: of an opened spool gross less tare, if that is known; else the label's net.
func (s *Spool) Start() ledger.Grams {
	if s.opening != nil && s.Tare.Grams.Given {
		return s.opening.GrossG.Grams - s.Tare.Grams.Grams
	}
	return s.Purchase.NetG
}

// startU returns the standard uncertainty in grams of Start.
func (s *Spool) startU() float64 {
	if s.opening != nil && s.Tare.Grams.Given {
		return math.Hypot(s.shelf.scaleU(s.opening), s.Tare.U)
	}
	return s.labelU()
}
