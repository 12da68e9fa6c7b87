package inventory

import (
	"cmp"
	"math"
	"slices"

	"tarebook/ledger"
)

// Event is one entry of a spool's history, with the change of the book that it made.
type Event struct {
	At     ledger.Time
	Kind   string // bought, weighed, consumed, wound off or moved
	Entry  string
	Change ledger.Grams // of the book
	Net    ledger.Grams // of the book after it

	Reading     *Reading            // of a weigh-in
	Consumption *ledger.Consumption // of a job
	Move        *ledger.Move
	Onto        string // the spool it was wound off onto

	rank int
	id   string
}

// Kinds of events.
const (
	EventBought   = "bought"
	EventWeighed  = "weighed"
	EventConsumed = "consumed"
	EventWoundOff = "wound off"
	EventMoved    = "moved"
)

// History returns the events of the spool in the order in which they count.
func (s *Spool) History(v *ledger.View) ([]Event, error) {
	rows, err := consumptionOf(v, s)
	if err != nil {
		return nil, err
	}
	moves, err1 := v.Moves()
	purchases, err2 := v.Purchases()
	if err := ledger.JoinFaults(err1, err2); err != nil {
		return nil, err
	}
	var events []Event
	for _, p := range purchases {
		if p.From == s.ID && p.Spool != s.ID {
			events = append(events, Event{At: p.At, Kind: EventWoundOff, Entry: p.Name(), Onto: p.Spool, Change: -p.NetG, rank: 0, id: p.Order()})
		}
	}
	for i := range s.Readings {
		w := s.Readings[i].Weighin
		events = append(events, Event{At: w.At, Kind: EventWeighed, Entry: w.Name(), Reading: &s.Readings[i], rank: 1, id: w.Order()})
	}
	for _, row := range rows {
		events = append(events, Event{At: row.At, Kind: EventConsumed, Entry: row.Name(), Consumption: row, Change: -row.Total(), rank: 2, id: row.Order()})
	}
	for _, m := range moves {
		if m.Spool == s.ID {
			events = append(events, Event{At: m.At, Kind: EventMoved, Entry: m.Name(), Move: m, rank: 3, id: m.Order()})
		}
	}
	slices.SortStableFunc(events, func(a, b Event) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.rank, b.rank), cmp.Compare(a.id, b.id))
	})
	p := s.Purchase
	events = append([]Event{{At: p.At, Kind: EventBought, Entry: p.Name(), Change: s.Start()}}, events...)
	var net ledger.Grams
	ended := false
	for i := range events {
		e := &events[i]
		if i > 0 && s.before(e.At) {
			e.Change = 0
		} else if e.Kind == EventWeighed {
			switch w := e.Reading.Weighin; {
			case ended:
			case w.Ends():
				e.Change, ended = -net, true
			case e.Reading.Measured.Given:
				e.Change = e.Reading.Measured.Grams - net
			}
		} else if ended {
			e.Change = 0
		}
		net += e.Change
		e.Net = net
	}
	return events, nil
}

// BookAt returns the spool's book at an instant, as filament wound off it then finds it, and its standard uncertainty in grams.
func (s *Spool) BookAt(v *ledger.View, at ledger.Time) (net ledger.Grams, u float64, err error) {
	events, err := s.History(v)
	if err != nil {
		return 0, 0, err
	}
	net, u = s.bookBefore(events, func(e *Event) bool {
		c := e.At.Compare(at)
		return c > 0 || c == 0 && e.Kind != EventWoundOff
	})
	return net, u, nil
}

// BookBefore returns the spool's book just before one of its events, named by its entry, and its standard uncertainty in grams.
func (s *Spool) BookBefore(events []Event, entry string) (net ledger.Grams, u float64) {
	return s.bookBefore(events, func(e *Event) bool { return e.Entry == entry })
}

// bookBefore returns the book, and its standard uncertainty, before the first event behind the purchase that is reached.
func (s *Spool) bookBefore(events []Event, reached func(*Event) bool) (net ledger.Grams, u float64) {
	net, u = s.Start(), s.startU()
	var others ledger.Grams
	for i := range events[1:] {
		e := &events[1+i]
		if reached(e) {
			break
		}
		net = e.Net
		switch {
		case s.before(e.At):
		case e.Kind == EventWeighed && e.Reading.Weighin.Ends():
			return 0, 0
		case e.Kind == EventWeighed && e.Reading.Measured.Given:
			u, others = e.Reading.U, 0
		case e.Kind == EventConsumed && e.Consumption.Basis != ledger.Weighed:
			others += e.Consumption.Total()
		}
	}
	return net, math.Hypot(u, s.Estimate.booked(others.Float()))
}

// JobsBetween returns the names of the jobs booked on a spool between two weigh-ins, from nil: since its purchase.
func JobsBetween(v *ledger.View, spool *Spool, from, to *ledger.Weighin) ([]string, error) {
	rows, err := consumptionOf(v, spool)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(rows, func(a, b *ledger.Consumption) int { return a.At.Compare(b.At) })
	var jobs []string
	for _, row := range rows {
		if from != nil && row.At.Before(from.At) || !row.At.Before(to.At) || row.Job == "" || slices.Contains(jobs, row.Job) {
			continue
		}
		jobs = append(jobs, row.Job)
	}
	return jobs, nil
}

// spoolRows is a fold that keeps the rows of one spool.
type spoolRows struct {
	spool string
	rows  []*ledger.Consumption
}

func consumptionOf(v *ledger.View, spool *Spool) ([]*ledger.Consumption, error) {
	f := &spoolRows{spool: spool.ID}
	err := v.FoldConsumption(f)
	return f.rows, err
}

func (f *spoolRows) Add(row *ledger.Consumption) {
	if row.Spool == f.spool {
		f.rows = append(f.rows, row.Clone())
	}
}

func (f *spoolRows) Reset() { f.rows = nil }
