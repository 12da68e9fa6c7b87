package planning

import (
	"cmp"
	"fmt"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"
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

// A MachineUse is what the counted prints come to on one machine. Amounts are exact.
type MachineUse struct {
	Printer *ledger.Printer
	Takes   int // prints

	PurgeG, PrimeG, WasteCost, Cost, Seconds *big.Rat // of those that it takes
	TodayCost, TodaySeconds                  *big.Rat // of the same on their own machines
	SavesCost, SavesSeconds                  *big.Rat // over the prints that cost less on it
	Month                                    *big.Rat // saved in an average month; nil for the queue
	PaysBack                                 float64  // months; NaN where there is no price, or nothing is saved

	BookedPurge, OwnPurge *big.Rat // of prints on this machine that are counted: as booked, and as reckoned
	OwnPrints             int
}

// A CountedPrint is a print whose file, spools and machine are known.
type CountedPrint struct {
	Job    string
	Day    string // blank for the queue
	Own    *ledger.Printer
	Priced bool
	Uses   []PrintUse // by machine

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

// daysOfMonth is the average length of a month of the Gregorian calendar, 146 097 days in 400 years.
var daysOfMonth = big.NewRat(304375, 10000)

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
	r := &reckoner{Shelf: shelf, tables: tables, printers: printers, files: map[string]*ledger.SlicedFile{}, solved: map[string]*solved{}}
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

// reckoner reckons prints on machines. Prints of one file on filament of one kind are one problem, which is solved once.
type reckoner struct {
	*inventory.Shelf
	tables   Tables
	printers []*ledger.Printer
	files    map[string]*ledger.SlicedFile
	solved   map[string]*solved
	hours    []bool // by machine: the cost of its hours counts
}

// solved is one problem's answer for one machine.
type solved struct {
	plan *assign.Plan
	why  string
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
	// A file's order is unfolded once for all its prints, and let go.
	byFile := map[string][]int{}
	var order []string
	for i, p := range prints {
		if byFile[p.file] == nil {
			order = append(order, p.file)
		}
		byFile[p.file] = append(byFile[p.file], i)
	}
	found := make([]*CountedPrint, len(prints))
	for _, sum := range order {
		file := r.files[sum]
		if sum == "" || file == nil {
			continue
		}
		sequence, tools := indexed(file.Sequence.Unfold())
		for _, i := range byFile[sum] {
			found[i] = r.reckon(prints[i], file, sequence, tools)
		}
	}
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
func (r *reckoner) reckon(p *printed, file *ledger.SlicedFile, sequence, tools []uint8) *CountedPrint {
	own := slices.IndexFunc(r.printers, func(m *ledger.Printer) bool { return ledger.Fold(m.Printer) == p.printer })
	if own < 0 || len(tools) == 0 || slices.ContainsFunc(p.rows, func(row printedRow) bool { return row.slot == "" }) {
		return nil
	}
	c := &CountedPrint{Job: p.name, Day: p.day, Own: r.printers[own], Priced: true, booked: p.purge}
	for _, tool := range tools {
		slot := PrintSlot{Slot: strconv.Itoa(int(tool))}
		spool := p.spoolOf(slot.Slot)
		if spool == nil || slices.Contains(c.spools, spool) {
			return nil
		}
		slot.On = inventory.NewOnTool(spool)
		if i := slices.IndexFunc(file.Boxes.Of, func(b ledger.ToolBox) bool { return b.Tool == int(tool) }); i >= 0 {
			b := file.Boxes.Of[i]
			slot.Box = &assign.Box{XMin: b.XMin, XMax: b.XMax, YMin: b.YMin, YMax: b.YMax, ZMax: b.ZMax}
		}
		price, currency := spool.Price()
		c.Priced = c.Priced && price != nil && ledger.Fold(currency) == ledger.Fold(r.Settings.Currency)
		c.slots, c.spools = append(c.slots, slot), append(c.spools, spool)
	}
	if r.solve(p.file, c, sequence, own, false).plan == nil {
		return nil // its own machine does not take it, by the book's tables
	}
	for i, m := range r.printers {
		hours := c.Priced && r.hours[i] && c.Own.HourCost.Given
		on := func(machine int) *Reckoning {
			return r.reckoning(c, r.solve(p.file, c, sequence, machine, hours), r.printers[machine], hours)
		}
		use := PrintUse{Here: on(i), Why: r.solve(p.file, c, sequence, i, hours).why, Today: on(own)}
		if use.Against = use.Today; !m.IsOwned() {
			use.Against = nil
			for j, other := range r.printers {
				if o := on(j); other.IsOwned() && o != nil && (use.Against == nil || cmp.Or(o.Cost.Cmp(use.Against.Cost), o.Seconds.Cmp(use.Against.Seconds)) < 0) {
					use.Against = o
				}
			}
		}
		c.Uses = append(c.Uses, use)
	}
	return c
}

func (r *reckoner) reckoning(c *CountedPrint, s *solved, m *ledger.Printer, hours bool) *Reckoning {
	if s.plan == nil {
		return nil
	}
	o := &Reckoning{PurgeG: new(big.Rat), PrimeG: new(big.Rat), Waste: new(big.Rat), Cost: new(big.Rat), Seconds: s.plan.Seconds}
	for i, spool := range c.spools {
		o.PurgeG.Add(o.PurgeG, s.plan.Purge[i])
		o.PrimeG.Add(o.PrimeG, s.plan.Prime[i])
		if c.Priced {
			price, _ := spool.Price()
			lost := new(big.Rat).Add(s.plan.Purge[i], s.plan.Prime[i])
			o.Waste.Add(o.Waste, lost.Mul(lost, price))
		}
	}
	o.Cost.Set(o.Waste)
	if hours {
		o.Cost.Add(o.Cost, new(big.Rat).Mul(o.Seconds, perSecond(m)))
	}
	return o
}

// perSecond is what a second of a machine costs.
func perSecond(m *ledger.Printer) *big.Rat {
	return new(big.Rat).Quo(m.HourCost.Rat(), big.NewRat(3600, 1))
}

// solve returns the best assignment of a print to a machine; that spools may run short is set aside.
func (r *reckoner) solve(sum string, c *CountedPrint, sequence []uint8, machine int, hours bool) *solved {
	m := r.printers[machine]
	print := assign.Print{Sequence: sequence}
	weights := weights(r.Shelf, nil)
	var key strings.Builder
	fmt.Fprintf(&key, "%s %d %t", sum, machine, hours)
	for i, spool := range c.spools {
		slot := assign.Slot{Name: c.slots[i].Slot, Box: c.slots[i].Box, Likely: math.MaxFloat64, K: 1, PerMM3: perMM3(r.Shelf, spool.Material), PerGram: big.NewRat(1, 1)}
		if c.byCost() {
			price, _ := spool.Price()
			slot.PerGram.Set(price)
		}
		if weight := weights[spool]; weight != nil {
			slot.PerGram.Mul(slot.PerGram, weight)
		}
		fmt.Fprintf(&key, "\x1f%s\x1f%s\x1f%s", ledger.Fold(spool.Material), ledger.Fold(spool.Colour), slot.PerGram)
		print.Slots = append(print.Slots, slot)
	}
	if s := r.solved[key.String()]; s != nil {
		return s
	}
	seconds := (*big.Rat)(nil)
	if hours {
		seconds = perSecond(m)
	}
	best, err := assign.Best(print, r.tables.machine(m, c.slots, seconds), nil)
	s := &solved{plan: best}
	if err != nil {
		s.why = err.Error()
	}
	r.solved[key.String()] = s
	return s
}

// byCost reports whether waste is compared in money: every spool has a price, all in one currency.
func (c *CountedPrint) byCost() bool {
	currencies := map[string]bool{}
	for _, spool := range c.spools {
		price, currency := spool.Price()
		if price == nil {
			return false
		}
		currencies[currency] = true
	}
	return len(currencies) == 1
}

// sum adds up what the counted prints come to on each machine.
func (m *Machines) sum(r *reckoner, days int, queue bool) {
	for _, c := range m.Counted {
		if c.Priced {
			m.Priced++
		}
	}
	for i, printer := range r.printers {
		u := &MachineUse{Printer: printer, PaysBack: math.NaN()}
		for _, amount := range []**big.Rat{&u.PurgeG, &u.PrimeG, &u.WasteCost, &u.Cost, &u.Seconds, &u.TodayCost, &u.TodaySeconds, &u.SavesCost, &u.SavesSeconds, &u.BookedPurge, &u.OwnPurge} {
			*amount = new(big.Rat)
		}
		for _, c := range m.Counted {
			u.add(c, &c.Uses[i])
		}
		m.Machines = append(m.Machines, u)
		if queue {
			continue
		}
		u.Month = new(big.Rat)
		if days > 0 {
			u.Month.Mul(u.SavesCost, daysOfMonth).Quo(u.Month, big.NewRat(int64(days), 1))
		}
		if printer.Price.Given && u.Month.Sign() > 0 {
			u.PaysBack, _ = new(big.Rat).Quo(printer.Price.Rat(), u.Month).Float64()
		}
	}
}

func (u *MachineUse) add(c *CountedPrint, use *PrintUse) {
	if c.Own == u.Printer {
		u.OwnPrints++
		u.BookedPurge.Add(u.BookedPurge, c.booked.Decimal().Rat())
		u.OwnPurge.Add(u.OwnPurge, use.Today.PurgeG)
	}
	if use.Here == nil {
		return
	}
	u.Takes++
	u.PurgeG.Add(u.PurgeG, use.Here.PurgeG)
	u.PrimeG.Add(u.PrimeG, use.Here.PrimeG)
	u.Seconds.Add(u.Seconds, use.Here.Seconds)
	u.TodaySeconds.Add(u.TodaySeconds, use.Today.Seconds)
	if !c.Priced {
		return
	}
	u.WasteCost.Add(u.WasteCost, use.Here.Waste)
	u.Cost.Add(u.Cost, use.Here.Cost)
	u.TodayCost.Add(u.TodayCost, use.Today.Cost)
	if use.Against != nil && use.Here.Cost.Cmp(use.Against.Cost) < 0 {
		u.SavesCost.Add(u.SavesCost, new(big.Rat).Sub(use.Against.Cost, use.Here.Cost))
		u.SavesSeconds.Add(u.SavesSeconds, new(big.Rat).Sub(use.Against.Seconds, use.Here.Seconds))
	}
}
