package planning

import (
	"math"
	"math/big"
	"slices"
	"time"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Period says which prints are reckoned: those of the queue, or the finished ones between two days, both included. Blank days are open.
type Period struct {
	Queue    bool
	From, To string
}

// Machines is what the prints of a period would have wasted on each machine.
type Machines struct {
	From, To string // the days that are reckoned with; blank for the queue, and where there is no print
	Prints   int    // of the period
	Priced   int    // of those that are counted
	Days     int    // from the first to the last; 0 for the queue
	Currency string
	Counted  []*CountedPrint
	Left     []LeftPrint
	Machines []*MachineUse
	Unboxed  int      // counted prints whose file has no boxes, where nozzles.csv has bounds: reach is not looked at
	Lacking  []string // of the columns slot and file, those that consumption.csv lacks
}

// A LeftPrint is a print that can't be counted, and why.
type LeftPrint struct {
	Job, Day, Printer string
	Reason            LeftReason
	Why               string // in full
}

// A LeftReason tells why prints can't be counted.
type LeftReason int

// The reasons, in the order in which they are looked for.
const (
	NoFile      LeftReason = iota // no sliced file is named
	FileUnknown                   // sliced.csv does not have it
	NoPrinter                     // none is named, or not one of printers.csv
	NoSlot                        // a row names no slot
	NoSpool                       // a tool of the file has no spool, several, or one of another tool
	NotTaken                      // its own machine does not take it
)

// A CountedPrint is a print whose file, spools and machine are known.
type CountedPrint struct {
	Job    string
	Day    string // blank for the queue
	Own    *ledger.Printer
	Priced bool
	Uses   []PrintUse // by machine

	byCost bool         // waste is compared in money: every spool has a price, all in one currency
	booked ledger.Grams // of purge
	slots  []PrintSlot
	spools []*inventory.Spool
}

// A PrintUse is a print on one machine, beside what it is held against, reckoned alike.
type PrintUse struct {
	Here    *Reckoning // nil where the machine does not take it
	Why     string     // why not
	Today   *Reckoning // on its own machine
	Against *Reckoning // of a candidate: the cheapest of the shop's machines that take it, nil for none; else Today
}

// A Reckoning is what a print comes to on a machine.
type Reckoning struct {
	PurgeG, PrimeG, Waste, Seconds *big.Rat // grams, money of prime and purge, seconds of changes
	Cost                           *big.Rat // with the machine's hours, where they count
}

// ReckonMachines reckons the prints of a period on every machine of the book. asOf is today.
func ReckonMachines(v *ledger.View, period Period, asOf ledger.Time) (*Machines, error) {
	r, err := newReckoner(v)
	if err != nil {
		return nil, err
	}
	if period.Queue {
		shelf, jobs, err := inventory.Check(v)
		if err != nil {
			return nil, err
		}
		return r.reckon(v, period, asOf, shelf, queuedPrints(jobs))
	}
	found, err := NewFinished(v)
	if err != nil {
		return nil, err
	}
	if err := v.FoldConsumption(found); err != nil {
		return nil, err
	}
	return r.reckon(v, period, asOf, found.shelf, found.between(period.From, period.To))
}

// Reckon is ReckonMachines for the finished prints that were gathered of the view.
func (f *Finished) Reckon(v *ledger.View, period Period, asOf ledger.Time) (*Machines, error) {
	r, err := newReckoner(v)
	if err != nil {
		return nil, err
	}
	return r.reckon(v, period, asOf, f.shelf, f.between(period.From, period.To))
}

func newReckoner(v *ledger.View) (r *reckoner, err error) {
	r = &reckoner{}
	if r.printers, err = v.PrintersInOrder(); err != nil {
		return nil, err
	}
	if r.tables, err = TablesOf(v); err != nil {
		return nil, err
	}
	r.files, err = filesOf(v)
	return r, err
}

func (r *reckoner) reckon(v *ledger.View, period Period, asOf ledger.Time, shelf *inventory.Shelf, prints []*printed) (m *Machines, err error) {
	r.Shelf, r.weights = shelf, weights(shelf, nil)
	m = &Machines{Prints: len(prints), Currency: shelf.Settings.Currency}
	m.Days = m.days(prints, period, asOf)
	m.Counted, m.Left = r.count(prints)
	for _, c := range m.Counted {
		if len(r.tables.Nozzles) > 0 && !slices.ContainsFunc(c.slots, func(s PrintSlot) bool { return s.Box != nil }) {
			m.Unboxed++
		}
	}
	m.sum(r, period.Queue)
	m.Lacking, err = v.Lacking(ledger.ConsumptionFile, "slot", "file")
	return m, err
}

// days returns how many days the period has, and sets its ends: a missing one is the first or last print's, and none lies behind today.
func (m *Machines) days(prints []*printed, period Period, asOf ledger.Time) int {
	if period.Queue {
		return 0
	}
	m.From, m.To = period.From, period.To
	for _, p := range prints {
		if period.From == "" && (m.From == "" || p.day < m.From) {
			m.From = p.day
		}
		if period.To == "" && p.day > m.To {
			m.To = p.day
		}
	}
	if today := asOf.Date(); m.To > today {
		m.To = today
	}
	from, e1 := time.Parse(time.DateOnly, m.From)
	to, e2 := time.Parse(time.DateOnly, m.To)
	if e1 != nil || e2 != nil {
		return 0
	}
	return int(math.Round(to.Sub(from).Hours()/24)) + 1
}
