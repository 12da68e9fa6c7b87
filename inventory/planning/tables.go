package planning

import (
	"cmp"
	"math/big"
	"slices"

	"tarebook/inventory"
	"tarebook/inventory/assign"
	"tarebook/ledger"
)

// Tables are what the book says of machines beside their own rows.
type Tables struct {
	Purges  []*ledger.PairPurge // by pair of filaments, over the printers' own
	Limits  []*ledger.Limit
	Nozzles []*ledger.Nozzle
}

// TablesOf reads them.
func TablesOf(v *ledger.View) (t Tables, err error) {
	var errs [3]error
	t.Purges, errs[0] = v.Purges()
	t.Limits, errs[1] = v.Limits()
	t.Nozzles, errs[2] = v.Nozzles()
	return t, ledger.JoinFaults(errs[:]...)
}

// purges are what a printer flushes when one filament follows another in a nozzle.
type purges struct {
	rows  []*ledger.PairPurge // the most particular first
	other *big.Rat            // the printer's own
}

// named reports whether a cell of purges.csv names something; else it stands for all.
func named(name string) bool { return name != "*" && name != "" }

// purgesOf picks the rows of a printer. The row that names most comes first; of equals, one that names the printer, then the colour to
// come, then the material to come, then the colour before.
func (t Tables) purgesOf(printer *ledger.Printer) purges {
	p := purges{other: printer.PurgeMM3.Rat()}
	for _, row := range t.Purges {
		if !named(row.Printer) || ledger.Fold(row.Printer) == ledger.Fold(printer.Printer) {
			p.rows = append(p.rows, row)
		}
	}
	rank := func(r *ledger.PairPurge) [5]int {
		printer, to, toMaterial, from := count(named(r.Printer)), count(named(r.ToColour)), count(named(r.ToMaterial)), count(named(r.FromColour))
		return [5]int{printer + to + toMaterial + from + count(named(r.FromMaterial)), printer, to, toMaterial, from}
	}
	slices.SortStableFunc(p.rows, func(a, b *ledger.PairPurge) int {
		ranks := [2][5]int{rank(a), rank(b)}
		return slices.Compare(ranks[1][:], ranks[0][:])
	})
	return p
}

// between returns mm3.
func (p purges) between(from, to *inventory.OnTool) *big.Rat {
	fits := func(name, has string) bool { return !named(name) || ledger.Fold(name) == ledger.Fold(has) }
	for _, row := range p.rows {
		if fits(row.FromColour, from.Colour) && fits(row.ToColour, to.Colour) && fits(row.FromMaterial, from.Material) && fits(row.ToMaterial, to.Material) {
			return row.PurgeMM3.Rat()
		}
	}
	return p.other
}

// machine returns a printer as the assignment knows it, with the filaments on the slots. seconds is what a second of changes costs; nil
// for nothing.
func (t Tables) machine(printer *ledger.Printer, slots []PrintSlot, seconds *big.Rat) assign.Machine {
	purges := t.purgesOf(printer)
	return assign.Machine{Feeds: printer.FeedsOf(), Prime: printer.PrimeMM3.Rat(), Swap: printer.SwapS.Rat(), Load: printer.LoadS.Rat(), SecondCosts: seconds,
		Purge:  func(from, to int) *big.Rat { return purges.between(&slots[from].On, &slots[to].On) },
		Limits: t.limitsOf(printer, slots), Bounds: t.boundsOf(printer)}
}

// limitsOf returns what a printer can't do with the filaments on the slots.
func (t Tables) limitsOf(printer *ledger.Printer, slots []PrintSlot) (limits []assign.Limit) {
	nozzles := len(printer.FeedsOf())
	for _, row := range t.Limits {
		if !row.Of(printer.Printer) || row.At() > nozzles {
			continue
		}
		limit := assign.Limit{Nozzle: cmp.Or(row.At(), assign.Every+1) - 1, Why: row.Why}
		is := func(i int, material string) bool { return ledger.Fold(slots[i].On.Material) == ledger.Fold(material) }
		for i := range slots {
			if row.Beside == "" {
				if is(i, row.Material) {
					limit.Slots = []int{i}
					limits = append(limits, limit)
				}
				continue
			}
			for j := range i {
				if is(i, row.Material) && is(j, row.Beside) || is(j, row.Material) && is(i, row.Beside) {
					limit.Slots = []int{j, i}
					limits = append(limits, limit)
				}
			}
		}
	}
	return limits
}

// boundsOf returns where each nozzle of a printer can lay material; nil where nothing is known.
func (t Tables) boundsOf(printer *ledger.Printer) (bounds []assign.Bounds) {
	for _, row := range t.Nozzles {
		feeds := printer.FeedsOf()
		if ledger.Fold(row.Printer) != ledger.Fold(printer.Printer) || row.Nozzle.N > len(feeds) {
			continue
		}
		if bounds == nil {
			bounds = make([]assign.Bounds, len(feeds))
		}
		b := assign.Bounds{XMin: row.XMinMM.Float(), XMax: row.XMaxMM.Float(), YMin: row.YMinMM.Float(), YMax: row.YMaxMM.Float()}
		if row.ZMaxMM.Given {
			z := row.ZMaxMM.Float(0)
			b.ZMax = &z
		}
		bounds[row.Nozzle.N-1] = b
	}
	return bounds
}
