package recording

import (
	"cmp"
	"fmt"
	"math"
	"math/big"
	"slices"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

// A portion is what a print took for one slot, of one spool or of several that it used in turn.
type portion struct {
	spools []*inventory.Spool
	masses ledger.Masses
	basis  string
	slot   string
	sliced string // reference of the sliced file
	file   *File  // that lays it down with tool; nil where only grams are known
	tool   toolpath.Tool
}

func inTurn(p portion) bool { return len(p.spools) > 1 }

// asPrinted returns the shelf by which portions are divided: spools that were used up in turn may have been weighed since.
func asPrinted(v *ledger.View, shelf *inventory.Shelf, taken []portion, at ledger.Time) (*inventory.Shelf, error) {
	if !slices.ContainsFunc(taken, inTurn) {
		return shelf, nil
	}
	return shelf.Past(v, at)
}

// on returns a portion's spools as they were on a shelf of the past. One that was bought later is as it is now.
func (p *portion) on(past *inventory.Shelf) (spools []*inventory.Spool) {
	for _, spool := range p.spools {
		spools = append(spools, cmp.Or(past.Spool(spool.ID), spool))
	}
	return spools
}

// ended says which spools of a turn had ended before the print did, so that nothing is booked on them.
func (p *portion) ended(past *inventory.Shelf) (warnings []string) {
	if !inTurn(*p) {
		return nil
	}
	for _, spool := range p.on(past) {
		if spool.Ended {
			warnings = append(warnings, fmt.Sprintf("%s ended on %s, so none of it is booked on that spool; if the print used it up, say when that was with --at", spool.ID, spool.End.At))
		}
	}
	return warnings
}

// rows divides a portion among its spools, as the print used them up: each but the last gives what it likely held above its tail, the
// last that has not ended takes the rest. Changes stand on the first row. shelf is that of the time of the print.
func (p *portion) rows(shelf *inventory.Shelf, printer string) (rows []ledger.Consumption, err error) {
	if len(p.spools) == 1 {
		return []ledger.Consumption{p.row(p.spools[0], p.masses)}, nil
	}
	var open []*inventory.Spool
	for _, spool := range p.on(shelf) {
		if !spool.Ended {
			open = append(open, spool)
		}
	}
	if len(open) == 0 {
		return nil, fmt.Errorf("%s had all ended by then; name the spool that it was taken from", inventory.IDs(p.spools))
	}
	left := p.masses
	done := ledger.Grams(0)
	for i, spool := range open {
		take := left
		if i < len(open)-1 {
			k := spool.Estimate.K
			if p.basis == ledger.Weighed {
				k = 1
			}
			held := math.Floor(max(0, spool.Likely()-shelf.Tail(printer, spool))/k*1000 + 0.5)
			g := ledger.Grams(min(held, float64(left.Total())))
			shares, err := p.shares(done, done+g, left)
			if err != nil {
				return nil, err
			}
			take = takeOf(left, shares, g)
			done += g
		}
		left.PartG, left.SupportG, left.PrimeG, left.PurgeG = left.PartG-take.PartG, left.SupportG-take.SupportG, left.PrimeG-take.PrimeG, left.PurgeG-take.PurgeG
		if take.Total() == 0 && (i < len(open)-1 || len(rows) > 0) {
			continue
		}
		take.Changes = ledger.Count{}
		rows = append(rows, p.row(spool, take))
	}
	rows[0].Changes = p.masses.Changes
	return rows, nil
}

func (p *portion) row(spool *inventory.Spool, m ledger.Masses) ledger.Consumption {
	return ledger.Consumption{Spool: spool.ID, Masses: m, Basis: p.basis, Slot: p.slot, File: p.sliced}
}

// shares returns how the kinds part the grams from one sum to another: as the file lays them down in order, else as what is left.
func (p *portion) shares(from, to ledger.Grams, left ledger.Masses) (shares [4]float64, err error) {
	if p.file == nil || to == from {
		for i, g := range kindsOf(left) {
			shares[i] = float64(g)
		}
		return shares, nil
	}
	var use [2]toolpath.Use
	for i, g := range []ledger.Grams{from, to} {
		length := toolpath.Length(float64(p.tool.Total()) * g.Float() / p.masses.Total().Float())
		part, err := p.file.Until(toolpath.AtTool(p.tool.Tool, length))
		if err != nil {
			return shares, err
		}
		use[i] = part.Tool(p.tool.Tool).Use
	}
	for i, class := range []toolpath.Class{toolpath.Part, toolpath.Support, toolpath.Prime, toolpath.Purge} {
		shares[i] = float64(use[1][class] - use[0][class])
	}
	return shares, nil
}

func kindsOf(m ledger.Masses) [4]ledger.Grams {
	return [4]ledger.Grams{m.PartG, m.SupportG, m.PrimeG, m.PurgeG}
}

// takeOf takes so many grams of what is left, each kind by its share, by the largest remainder. What rounding would take of a kind beyond
// what is left of it, the others give.
func takeOf(left ledger.Masses, shares [4]float64, g ledger.Grams) ledger.Masses {
	sum := new(big.Rat)
	var exact []*big.Rat
	for _, share := range shares {
		amount := new(big.Rat).SetFloat64(max(0, share))
		sum.Add(sum, amount)
		exact = append(exact, amount)
	}
	if sum.Sign() == 0 {
		return ledger.Masses{}
	}
	for _, amount := range exact {
		amount.Mul(amount, new(big.Rat).SetInt64(int64(g))).Quo(amount, sum)
	}
	var take [4]ledger.Grams
	over := ledger.Grams(0)
	has := kindsOf(left)
	for i, rounded := range cost.Apportion(exact, 0) {
		take[i] = ledger.Grams(rounded.IntPart())
		if more := take[i] - has[i]; more > 0 {
			take[i], over = has[i], over+more
		}
	}
	for i := range take {
		more := min(over, has[i]-take[i])
		take[i], over = take[i]+more, over-more
	}
	return ledger.Masses{PartG: take[0], SupportG: take[1], PrimeG: take[2], PurgeG: take[3]}
}
