package planning

import (
	"cmp"
	"fmt"
	"math"
	"math/big"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"tarebook/inventory"
	"tarebook/inventory/assign"
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
	Currency string
	Counted  []*CountedPrint
	Machines []*MachineUse
}

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
	printers, err := v.PrintersInOrder()
	if err != nil {
		return nil, err
	}
	tables, err := TablesOf(v)
	if err != nil {
		return nil, err
	}
	files, err := v.SlicedFiles()
	if err != nil {
		return nil, err
	}
	var shelf *inventory.Shelf
	var prints []*printed
	if period.Queue {
		var jobs []*inventory.Job
		if shelf, jobs, err = inventory.Check(v); err != nil {
			return nil, err
		}
		prints = queuedPrints(jobs)
	} else {
		if shelf, err = inventory.LoadPrices(v); err != nil {
			return nil, err
		}
		found := &finished{shelf: shelf}
		found.Reset()
		if err := v.FoldConsumption(found); err != nil {
			return nil, err
		}
		prints = found.between(period.From, period.To)
	}
	m := &Machines{Prints: len(prints), Currency: shelf.Settings.Currency}
	r := &reckoner{Shelf: shelf, tables: tables, printers: printers, files: map[string]*ledger.SlicedFile{}, weights: weights(shelf, nil)}
	for _, f := range files { // the last counts
		r.files[ledger.FileSum(f.File)] = f
	}
	days := m.days(prints, period, asOf)
	m.Counted = r.count(prints)
	m.sum(r, days, period.Queue)
	return m, nil
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

// reckoner reckons prints on machines.
type reckoner struct {
	*inventory.Shelf
	tables   Tables
	printers []*ledger.Printer
	files    map[string]*ledger.SlicedFile
	weights  map[*inventory.Spool]*big.Rat
	hours    []bool // by machine: the cost of its hours counts
}

// reckonedFile is one file while its prints are reckoned: its order unfolded, and what was solved. Prints of it on filament of one kind
// are one problem.
type reckonedFile struct {
	*reckoner
	row             *ledger.SlicedFile
	sequence, tools []uint8
	solved          map[problem]*solved
}

// solved is one problem's answer for one machine.
type solved struct {
	fits         bool
	purge, prime []*big.Rat // by slot, grams
	seconds      *big.Rat
	why          string // it does not fit
}

// count returns the prints that can be counted, each reckoned on every machine.
func (r *reckoner) count(prints []*printed) (counted []*CountedPrint) {
	all := true
	for _, p := range r.printers {
		all = all && (!p.IsOwned() || p.HourCost.Given)
	}
	for _, p := range r.printers {
		r.hours = append(r.hours, all && p.HourCost.Given)
	}
	byFile := map[string][]int{}
	for i, p := range prints {
		if p.file != "" && r.files[p.file] != nil {
			byFile[p.file] = append(byFile[p.file], i)
		}
	}
	for _, spool := range r.Spools {
		spool.Price() // it is reckoned at first use, which the workers share
	}
	// A file's order is unfolded once for all its prints, and let go.
	found := make([]*CountedPrint, len(prints))
	work := make(chan string)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for sum := range work {
				f := &reckonedFile{reckoner: r, row: r.files[sum], solved: map[problem]*solved{}}
				f.sequence, f.tools = indexed(f.row.Sequence.Unfold())
				for _, i := range byFile[sum] {
					found[i] = f.reckon(prints[i])
				}
			}
		})
	}
	for sum := range byFile {
		work <- sum
	}
	close(work)
	workers.Wait()
	for _, c := range found {
		if c != nil {
			counted = append(counted, c)
		}
	}
	return counted
}

// indexed returns a sequence of slots by index, and the tool of each slot.
func indexed(tools []uint8) (sequence []uint8, slots []uint8) {
	for _, tool := range tools {
		i := slices.Index(slots, tool)
		if i < 0 {
			i = len(slots)
			slots = append(slots, tool)
		}
		sequence = append(sequence, uint8(i))
	}
	return sequence, slots
}

// reckon returns a print on every machine; nil where it can't be counted.
func (f *reckonedFile) reckon(p *printed) *CountedPrint {
	own := slices.IndexFunc(f.printers, func(m *ledger.Printer) bool { return ledger.Fold(m.Printer) == p.printer })
	if own < 0 || len(f.tools) == 0 || slices.ContainsFunc(p.rows, func(row printedRow) bool { return row.slot == "" }) {
		return nil
	}
	c := &CountedPrint{Job: p.name, Day: p.day, Own: f.printers[own], Priced: true, byCost: true, booked: p.purge}
	for _, tool := range f.tools {
		slot := PrintSlot{Slot: strconv.Itoa(int(tool))}
		spool := p.spoolOf(slot.Slot)
		if spool == nil || slices.Contains(c.spools, spool) {
			return nil
		}
		slot.On = inventory.NewOnTool(spool)
		if i := slices.IndexFunc(f.row.Boxes.Of, func(b ledger.ToolBox) bool { return b.Tool == int(tool) }); i >= 0 {
			b := f.row.Boxes.Of[i]
			slot.Box = &assign.Box{XMin: b.XMin, XMax: b.XMax, YMin: b.YMin, YMax: b.YMax, ZMax: b.ZMax}
		}
		price, currency := spool.Price()
		if len(c.spools) > 0 {
			_, first := c.spools[0].Price()
			c.byCost = c.byCost && currency == first
		}
		c.byCost = c.byCost && price != nil
		c.Priced = c.Priced && price != nil && ledger.Fold(currency) == ledger.Fold(f.Settings.Currency)
		c.slots, c.spools = append(c.slots, slot), append(c.spools, spool)
	}
	filled := f.filled(c)
	if !f.solve(filled, own, c.Priced && f.hours[own]).fits {
		return nil // its own machine does not take it, by the book's tables
	}
	known := [2][]*Reckoning{make([]*Reckoning, len(f.printers)), make([]*Reckoning, len(f.printers))} // without hours and with
	for i, m := range f.printers {
		hours, reckoned := c.Priced && f.hours[i] && c.Own.HourCost.Given, known[0]
		if hours {
			reckoned = known[1]
		}
		on := func(machine int) *Reckoning {
			if reckoned[machine] == nil {
				reckoned[machine] = f.reckoning(c, filled, machine, hours)
			}
			return reckoned[machine]
		}
		use := PrintUse{Here: on(i), Why: f.solve(filled, i, hours).why, Today: on(own)}
		if use.Against = use.Today; !m.IsOwned() {
			use.Against = nil
			for j, other := range f.printers {
				if o := on(j); other.IsOwned() && o != nil && (use.Against == nil || cmp.Or(o.Cost.Cmp(use.Against.Cost), o.Seconds.Cmp(use.Against.Seconds)) < 0) {
					use.Against = o
				}
			}
		}
		c.Uses = append(c.Uses, use)
	}
	return c
}

// reckoning returns a print on a machine, with the cost of hours or without; nil where it does not take it.
func (f *reckonedFile) reckoning(c *CountedPrint, filled *filledPrint, machine int, hours bool) *Reckoning {
	s := f.solve(filled, machine, hours)
	if !s.fits {
		return nil
	}
	o := &Reckoning{PurgeG: new(big.Rat), PrimeG: new(big.Rat), Waste: new(big.Rat), Cost: new(big.Rat), Seconds: s.seconds}
	for i, spool := range c.spools {
		o.PurgeG.Add(o.PurgeG, s.purge[i])
		o.PrimeG.Add(o.PrimeG, s.prime[i])
		if c.Priced {
			price, _ := spool.Price()
			lost := new(big.Rat).Add(s.purge[i], s.prime[i])
			o.Waste.Add(o.Waste, lost.Mul(lost, price))
		}
	}
	o.Cost.Set(o.Waste)
	if hours {
		o.Cost.Add(o.Cost, new(big.Rat).Mul(o.Seconds, perSecond(f.printers[machine])))
	}
	return o
}

// perSecond is what a second of a machine costs.
func perSecond(m *ledger.Printer) *big.Rat {
	return new(big.Rat).Quo(m.HourCost.Rat(), big.NewRat(3600, 1))
}

// A filledPrint is a print with its filament, as each machine is asked for it.
type filledPrint struct {
	print assign.Print
	slots []PrintSlot
	kinds string // of filament: prints of one file that are alike in them are one problem
}

// filled puts a print's filament on its slots. That spools may run short is set aside.
func (f *reckonedFile) filled(c *CountedPrint) *filledPrint {
	var kinds strings.Builder
	p := assign.Print{Sequence: f.sequence}
	for i, spool := range c.spools {
		slot := assign.Slot{Name: c.slots[i].Slot, Box: c.slots[i].Box, Likely: math.MaxFloat64, K: 1, PerMM3: perMM3(f.Shelf, spool.Material), PerGram: big.NewRat(1, 1)}
		if c.byCost {
			price, _ := spool.Price()
			slot.PerGram.Set(price)
		}
		if weight := f.weights[spool]; weight != nil {
			slot.PerGram.Mul(slot.PerGram, weight)
		}
		fmt.Fprintf(&kinds, "\x1f%s\x1f%s\x1f%s", ledger.Fold(spool.Material), ledger.Fold(spool.Colour), slot.PerGram)
		p.Slots = append(p.Slots, slot)
	}
	return &filledPrint{p.Ordered(), c.slots, kinds.String()}
}

// A problem is an assignment to solve for one file.
type problem struct {
	machine int
	hours   bool
	kinds   string
}

// solve returns the best assignment of a print to a machine.
func (f *reckonedFile) solve(p *filledPrint, machine int, hours bool) *solved {
	key := problem{machine, hours, p.kinds}
	if s := f.solved[key]; s != nil {
		return s
	}
	m := f.printers[machine]
	var seconds *big.Rat
	if hours {
		seconds = perSecond(m)
	}
	s := &solved{}
	if best, err := assign.Best(p.print, f.tables.machine(m, p.slots, seconds), nil); err != nil {
		s.why = err.Error()
	} else {
		s.fits, s.purge, s.prime, s.seconds = true, best.Purge, best.Prime, best.Seconds
	}
	f.solved[key] = s
	return s
}
