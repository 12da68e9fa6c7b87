package inventory

import (
	"cmp"
	"maps"
	"math"
	"math/big"
	"slices"

	"tarebook/ledger"
)

// Flushed is what a machine's own rows say that a change flushes away, in mm3: volume = MM3 x changes on the average. The
// estimator is that of [Estimates], with booked purge for what went and changes for what was booked: volumes scatter in
// proportion to changes (T. Mack, ASTIN Bulletin 23 (1993) 213-225). U is the standard uncertainty of MM3; it needs two rows.
type Flushed struct {
	MM3, U  float64
	Rows    int // with changes and purge
	Changes int
}

// flushes folds rows that know their changes: by spool, for volumes by its density, and by number of changes, so that all sums
// are of whole numbers and the order of rows can't matter.
type flushes map[flushKey]*flushSum

type flushKey struct {
	spool   *Spool
	changes int
}

type flushSum struct {
	rows    int64
	purge   ledger.Grams
	squares big.Int // of purges in thousandths of a gram
}

func (f flushes) add(spool *Spool, row *ledger.Consumption) {
	sum := f.at(flushKey{spool, row.Changes.N})
	sum.rows++
	sum.purge += row.PurgeG
	purge := big.NewInt(int64(row.PurgeG))
	sum.squares.Add(&sum.squares, purge.Mul(purge, purge))
}

func (f flushes) at(key flushKey) *flushSum {
	sum := f[key]
	if sum == nil {
		sum = &flushSum{}
		f[key] = sum
	}
	return sum
}

func (f flushes) merge(o flushes) {
	for key, theirs := range o {
		ours := f.at(key)
		ours.rows += theirs.rows
		ours.purge += theirs.purge
		ours.squares.Add(&ours.squares, &theirs.squares)
	}
}

// grams returns the changes that the rows know of, and what was flushed in those rows.
func (f flushes) grams() (changes int, purge ledger.Grams) {
	for key, sum := range f {
		changes += int(sum.rows) * key.changes
		purge += sum.purge
	}
	return changes, purge
}

// flushed leaves out rows that flushed nothing: they brought no other filament to a nozzle. ok is false for fewer than two rows.
func (f flushes) flushed() (found Flushed, ok bool) {
	keys := slices.SortedFunc(maps.Keys(f), func(a, b flushKey) int { // floats add up alike only in one order
		return cmp.Or(cmp.Compare(a.spool.ID, b.spool.ID), cmp.Compare(a.changes, b.changes))
	})
	var volume, squares float64 // of mm3; of mm3^2 a change
	for _, key := range keys {
		sum := f[key]
		if key.changes == 0 || sum.purge == 0 {
			continue
		}
		perGram := 1000 / key.spool.Filament.Density
		square, _ := new(big.Float).SetInt(&sum.squares).Float64()
		volume += sum.purge.Float() * perGram
		squares += square * 1e-6 * perGram * perGram / float64(key.changes)
		found.Rows += int(sum.rows)
		found.Changes += int(sum.rows) * key.changes
	}
	if found.Rows < 2 {
		return found, false
	}
	all := float64(found.Changes)
	s2 := max(0, squares-volume*volume/all) / float64(found.Rows-1)
	found.MM3, found.U = volume/all, math.Sqrt(s2/all)
	return found, true
}

// LoadByPrinter is Load that in the same pass over consumption also makes the costs by printer.
func LoadByPrinter(v *ledger.View) (*Shelf, *Costing, error) {
	defer v.ReadAhead()()
	s, err := LoadSpools(v)
	if err != nil {
		return nil, nil, err
	}
	c, err := newCosting(v, s.byID, "printer", "", "")
	if err != nil {
		return nil, nil, err
	}
	s.also = c
	return s, c, s.fold(v)
}

// Learned returns what the book's own rows say that printers flush, of a costing by printer. A printer for which purges by pair of
// colours are written is left out, as they have no common figure.
func (c *Costing) Learned(printers []*ledger.Printer, purges []*ledger.PairPurge) map[*ledger.Printer]Flushed {
	learned := map[*ledger.Printer]Flushed{}
	for _, printer := range printers {
		if found, ok := c.Flushed(printer.Printer); ok && len(pairsOf(printer, purges).rows) == 0 {
			learned[printer] = found
		}
	}
	return learned
}

// Differs tells whether the book's own figure is off a printer's by more than its expanded uncertainty (k = 2, JCGM 100:2008,
// 6.3.3). Changes on several nozzles don't all flush, so there a lower figure tells nothing; and where no nozzle is shared, none.
func (f Flushed) Differs(printer *ledger.Printer) bool {
	off := f.MM3 - printer.PurgeMM3.Float(0)
	feeds := printer.FeedsOf()
	if len(feeds) > 1 {
		return slices.Max(feeds) > 1 && off > 2*f.U
	}
	return math.Abs(off) > 2*f.U
}
