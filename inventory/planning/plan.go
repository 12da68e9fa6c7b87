package planning

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math/big"
	"slices"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/inventory/assign"
	"tarebook/inventory/cost"
	"tarebook/inventory/filament"
	"tarebook/ledger"
)

// Options say what plans are made of.
type Options struct {
	Printers []*ledger.Printer // to compare, in the order of their table
	Tables
	Pins      map[string]int                // slot to nozzle, counted from 1
	Weights   map[*inventory.Spool]*big.Rat // over the settings' own: how many times a spool's wasted grams count
	TrySpools bool                          // also try other spools for slots that name none
	AsItLies  bool                          // the print is not shifted on the plate
}

// Plans are the plans of a print on each printer, the best first; those that are not possible last.
type Plans struct {
	Print
	Spools   []*inventory.Spool // by slot; nil where none is enough
	Priced   bool               // waste is compared in money of Currency, else in grams
	Currency string             // of all spools, blank where they differ
	Weighted bool               // some spool's grams count more or less than one
	Printers []*MachinePlan
	Tried    int // choices of spools tried beside the first
}

// A MachinePlan is the best assignment of a print to one printer.
type MachinePlan struct {
	*assign.Plan // nil when there is none
	Printer      *ledger.Printer
	Why          string       // why there is none
	Bounded      bool         // nozzles.csv says where its nozzles reach
	Against      *MachinePlan // of the best the next one, of others the best; nil when there is nothing to compare
	Decided      string       // what tells the two apart: short, waste or time; blank for the order of the table

	PrimeG, PurgeG       []decimal.Decimal // by slot, grams to 0.001, rounded so that they add up
	PrimeCost, PurgeCost []decimal.Decimal // by slot, rounded so that they add up; nil when not priced
	WasteCost            decimal.Decimal   // their sum
	TimeCost             *big.Rat          // of the changes, where the cost of an hour is weighed
	After                []*inventory.Need // by slot: what is left, and odds, with this plan's prime and purge; Spool may be nil
}

// Best returns the best plan, nil when none is possible.
func (p *Plans) Best() *MachinePlan {
	if len(p.Printers) == 0 || p.Printers[0].Plan == nil {
		return nil
	}
	return p.Printers[0]
}

// Plan makes a plan of the print on each printer. Slots that name no spool are given one first, once for all printers, as a
// queued job's are; the queue is not counted.
func Plan(s *inventory.Shelf, print Print, o Options) (*Plans, error) {
	pins, err := print.pins(o.Pins)
	if err != nil {
		return nil, err
	}
	planner := &planner{s, print, o, weights(s, o.Weights), pins}
	spools := planner.resolve()
	plans, err := planner.plans(spools)
	if err != nil || !o.TrySpools {
		return plans, err
	}
	return planner.try(plans)
}

// planner makes plans with one choice of spools or another.
type planner struct {
	*inventory.Shelf
	print   Print
	o       Options
	weights map[*inventory.Spool]*big.Rat
	pins    map[int]int
}

// weights are how many times a spool's wasted grams count: what was asked for, else by the settings. These may name spools that
// are not on the shelf, or not yet.
func weights(s *inventory.Shelf, asked map[*inventory.Spool]*big.Rat) map[*inventory.Spool]*big.Rat {
	weights := map[*inventory.Spool]*big.Rat{}
	for _, w := range s.Settings.PurgeWeights {
		if spool := s.ByID[w.Spool]; spool != nil {
			weights[spool] = w.Weight.Rat()
		}
	}
	maps.Copy(weights, asked)
	return weights
}

// pins turns slots and nozzles into indices.
func (p *Print) pins(named map[string]int) (map[int]int, error) {
	pins := map[int]int{}
	var errs []error
	for _, name := range slices.Sorted(maps.Keys(named)) {
		i := p.index(name)
		if i < 0 {
			errs = append(errs, fmt.Errorf("the print has no slot %q to pin; it has %s", name, inventory.List(p.Names(), "and")))
			continue
		}
		if _, twice := pins[i]; twice { // as 0 and as T0
			errs = append(errs, fmt.Errorf("slot %s is pinned twice", p.Slots[i].Slot))
		}
		pins[i] = named[name] - 1
	}
	return pins, errors.Join(errs...)
}

// resolve finds a spool for each slot, as for a queued job without a printer: its part, support and prime must be enough. Prime is
// that of the printer which lays most, as the spools are the same for all.
func (p *planner) resolve() []*inventory.Spool {
	most := new(big.Rat)
	for _, printer := range p.o.Printers {
		if prime := printer.PrimeMM3.Rat(); prime.Cmp(most) > 0 {
			most = prime
		}
	}
	job := &inventory.Job{}
	for _, slot := range p.print.Slots {
		of := func(f filament.Stock) *ledger.Need {
			slot.On.Filament = f
			g := slot.masses()
			prime := new(big.Rat).Mul(most, big.NewRat(int64(slot.Changes), 1))
			row := &ledger.Need{Slot: slot.Slot, Material: slot.On.Material, Colour: slot.On.Colour, Masses: ledger.Masses{PartG: g.PartG, SupportG: g.SupportG,
				PrimeG: cost.RoundGrams(prime.Mul(prime, perMM3(p.Shelf, slot.On.Material)))}}
			row.Spool = inventory.IDs(slot.On.Spools())
			return row
		}
		job.Needs = append(job.Needs, &inventory.Need{Row: of(slot.On.Filament), Slot: slot.Slot, As: func(spool *inventory.Spool) *ledger.Need { return of(spool.Filament) }})
	}
	p.Assign(job)
	var spools []*inventory.Spool
	for _, n := range job.Needs {
		spools = append(spools, n.Spool)
	}
	return spools
}

// plans makes the plans with one choice of spools.
func (p *planner) plans(spools []*inventory.Spool) (*Plans, error) {
	all := &Plans{Print: p.print, Spools: spools, Priced: true}
	all.Slots = slices.Clone(p.print.Slots)
	currencies := map[string]bool{}
	for i, spool := range spools {
		if spool == nil {
			all.Priced = false
			continue
		}
		all.Slots[i].On.Spool, all.Slots[i].On.Filament = spool, spool.Filament
		all.Slots[i].On.Material, all.Slots[i].On.Colour = spool.Material, spool.Colour
		all.Weighted = all.Weighted || p.weights[spool] != nil
		price, currency := spool.Price()
		currencies[currency] = true
		all.Currency = currency
		all.Priced = all.Priced && price != nil
	}
	if len(currencies) != 1 {
		all.Priced, all.Currency = false, ""
	}
	hours := all.Priced && all.Currency == p.Settings.Currency
	for _, printer := range p.o.Printers {
		hours = hours && printer.HourCost.Given
	}
	for _, printer := range p.o.Printers {
		m, err := p.planFor(printer, all, hours)
		if err != nil {
			return nil, err
		}
		all.Printers = append(all.Printers, m)
	}
	slices.SortStableFunc(all.Printers, func(a, b *MachinePlan) int {
		if a.Plan == nil || b.Plan == nil {
			return cmp.Compare(count(a.Plan == nil), count(b.Plan == nil))
		}
		c, _ := assign.Compare(a.Plan, b.Plan)
		return c
	})
	for i, m := range all.Printers {
		against := all.Printers[0]
		if i == 0 && len(all.Printers) > 1 {
			against = all.Printers[1]
		}
		if against != m && m.Plan != nil && against.Plan != nil {
			m.Against = against
			_, m.Decided = assign.Compare(m.Plan, against.Plan)
		}
	}
	return all, nil
}

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}

// planFor makes the plan of one printer. With hours the time of changes costs money.
func (p *planner) planFor(printer *ledger.Printer, all *Plans, hours bool) (*MachinePlan, error) {
	m := &MachinePlan{Printer: printer, Bounded: p.o.boundsOf(printer) != nil}
	print := assign.Print{Sequence: all.Sequence, AsItLies: p.o.AsItLies}
	for i := range all.Slots {
		print.Slots = append(print.Slots, p.slot(printer, all, i))
	}
	var seconds *big.Rat
	if hours {
		seconds = perSecond(printer)
	}
	machine := p.o.machine(printer, all.Slots, seconds)
	plan, err := assign.Best(print, machine, p.pins)
	var impossible *assign.Infeasible
	if errors.As(err, &impossible) {
		m.Why = impossible.What
		return m, nil
	}
	if err != nil {
		return nil, err
	}
	m.Plan = plan
	if hours {
		m.TimeCost = new(big.Rat).Mul(plan.Seconds, machine.SecondCosts)
	}
	m.PrimeG, m.PurgeG = cost.Apportion(plan.Prime, 3), cost.Apportion(plan.Purge, 3)
	for i := range all.Slots {
		m.After = append(m.After, p.after(printer, all, i, plan.Prime[i], plan.Purge[i]))
	}
	if all.Priced {
		var cells []*big.Rat
		for i, spool := range all.Spools {
			perGram, _ := spool.Price()
			cells = append(cells, new(big.Rat).Mul(plan.Prime[i], perGram), new(big.Rat).Mul(plan.Purge[i], perGram))
		}
		decimals, _ := ledger.MinorUnit(all.Currency)
		rounded := cost.Apportion(cells, decimals)
		for i := range all.Slots {
			m.PrimeCost, m.PurgeCost = append(m.PrimeCost, rounded[2*i]), append(m.PurgeCost, rounded[2*i+1])
			m.WasteCost = decimal.Sum(m.WasteCost, rounded[2*i], rounded[2*i+1])
		}
	}
	return m, nil
}

// slot is a slot as the assignment knows it. One without a spool has nothing, and so is short.
func (p *planner) slot(printer *ledger.Printer, all *Plans, i int) assign.Slot {
	need := all.Slots[i].masses()
	slot := assign.Slot{Name: all.Slots[i].Slot, Box: all.Slots[i].Box, K: 1, Need: need.Total().Float(), PerMM3: perMM3(p.Shelf, all.Slots[i].On.Material), PerGram: big.NewRat(1, 1)}
	if spool := all.Spools[i]; spool != nil {
		has := &inventory.Need{Row: &ledger.Need{}, Printer: printer.Printer, Spool: spool, Turn: all.Slots[i].On.Turn}
		p.WeighUp(has, inventory.Ahead{})
		slot.Likely, slot.Tail, slot.K = has.Likely, has.Tail, spool.Estimate.K
		if all.Priced {
			perGram, _ := spool.Price()
			slot.PerGram.Set(perGram)
		}
		if weight := p.weights[spool]; weight != nil {
			slot.PerGram.Mul(slot.PerGram, weight)
		}
	} else {
		slot.Need = max(slot.Need, 0.001)
	}
	return slot
}

// perMM3 is the grams of a mm3, as the table writes them.
func perMM3(s *inventory.Shelf, material string) *big.Rat {
	m := ledger.Named(s.Materials, material)
	if m == nil {
		return new(big.Rat)
	}
	return new(big.Rat).Quo(m.DensityGCM3.Rat(), big.NewRat(1000, 1))
}

// after computes what the plan leaves on a slot's spool, and the odds that it is enough.
func (p *planner) after(printer *ledger.Printer, all *Plans, i int, prime, purge *big.Rat) *inventory.Need {
	g := all.Slots[i].masses()
	n := &inventory.Need{Slot: all.Slots[i].Slot, Printer: printer.Printer, Spool: all.Spools[i], Turn: all.Slots[i].On.Turn, From: inventory.SpoolNone,
		Material: all.Slots[i].On.Material, Colour: all.Slots[i].On.Colour,
		Row: &ledger.Need{Masses: ledger.Masses{PartG: g.PartG, SupportG: g.SupportG, PrimeG: cost.RoundGrams(prime), PurgeG: cost.RoundGrams(purge)}}}
	p.WeighUp(n, inventory.Ahead{})
	return n
}
