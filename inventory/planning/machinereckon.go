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

	"tarebook/inventory"
	"tarebook/inventory/assign"
	"tarebook/ledger"
)

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

// count returns the prints that can be counted, each reckoned on every machine, and those that can't.
func (r *reckoner) count(prints []*printed) (counted []*CountedPrint, left []LeftPrint) {
	all := true
	for _, p := range r.printers {
		all = all && (!p.IsOwned() || p.HourCost.Given)
	}
	for _, p := range r.printers {
		r.hours = append(r.hours, all && p.HourCost.Given)
	}
	byFile := map[string][]int{}
	lefts := make([]*LeftPrint, len(prints))
	for i, p := range prints {
		if lefts[i] = r.left(p); lefts[i] == nil {
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
					found[i], lefts[i] = f.reckon(prints[i])
				}
			}
		})
	}
	for sum := range byFile {
		work <- sum
	}
	close(work)
	workers.Wait()
	for i, c := range found {
		if c != nil {
			counted = append(counted, c)
		} else {
			left = append(left, *lefts[i])
		}
	}
	return counted, left
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

// reckon returns a print on every machine, or why it can't be counted.
func (f *reckonedFile) reckon(p *printed) (*CountedPrint, *LeftPrint) {
	own := slices.IndexFunc(f.printers, func(m *ledger.Printer) bool { return ledger.Fold(m.Printer) == p.printer })
	c := &CountedPrint{Job: p.name, Day: p.day, Own: f.printers[own], Priced: true, byCost: true, booked: p.purge}
	for _, tool := range f.tools {
		slot := PrintSlot{Slot: strconv.Itoa(int(tool))}
		spool := p.spoolOf(slot.Slot)
		if spool == nil || slices.Contains(c.spools, spool) {
			return nil, p.left(NoSpool, fmt.Sprintf("tool %d of its file has no spool, several, or that of another tool", tool))
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
	if s := f.solve(filled, own, c.Priced && f.hours[own]); !s.fits {
		return nil, p.left(NotTaken, "by the book's tables its own machine does not take it: "+s.why)
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
	return c, nil
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
