package planning

import (
	"cmp"
	"maps"
	"math"
	"math/big"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Flushed is the purge of a change in mm3, by the rows of one machine: volume = MM3 x changes on average. The
// estimator is that of [inventory.Estimates], with booked purge for what went and changes for what was booked: volumes scatter in
// proportion to changes (T. Mack, ASTIN Bulletin 23 (1993) 213-225). U is the standard uncertainty of MM3; it needs two rows.
type Flushed struct {
	MM3, U  float64
	Rows    int // with changes and purge
	Changes int
}

// Flushes folds the rows that know their changes, by printer.
type Flushes struct {
	spools    map[string]*inventory.Spool
	byPrinter map[string]flushes // names folded
}

// Load reads the shelf of a view, and in the same pass over consumption what its rows say that changes flush.
func Load(v *ledger.View) (*inventory.Shelf, *Flushes, error) {
	var f *Flushes
	s, err := inventory.Load(v, func(s *inventory.Shelf) (ledger.ConsumptionFold, error) {
		f = NewFlushes(s)
		return f, nil
	})
	return s, f, err
}

// NewFlushes returns a fold over the spools of a shelf.
func NewFlushes(shelf *inventory.Shelf) *Flushes {
	return &Flushes{shelf.ByID, map[string]flushes{}}
}

// Add adds one row; one about a spool without a purchase that counts is left out.
func (f *Flushes) Add(row *ledger.Consumption) {
	if spool := f.spools[row.Spool]; spool != nil && row.Changes.Given {
		f.of(ledger.Fold(row.Printer)).add(spool, row)
	}
}

// Merge adds what another fold over the same shelf has gathered.
func (f *Flushes) Merge(o *Flushes) {
	for printer, theirs := range o.byPrinter {
		f.of(printer).merge(theirs)
	}
}

// Split returns a fold over the same shelf without rows.
func (f *Flushes) Split() ledger.SharedFold { return &Flushes{f.spools, map[string]flushes{}} }

// Join is Merge with a fold that Split returned.
func (f *Flushes) Join(o ledger.SharedFold) { f.Merge(o.(*Flushes)) }

// Reset forgets all rows.
func (f *Flushes) Reset() { clear(f.byPrinter) }

func (f *Flushes) of(printer string) flushes {
	sums := f.byPrinter[printer]
	if sums == nil {
		sums = flushes{}
		f.byPrinter[strings.Clone(printer)] = sums
	}
	return sums
}

// flushes are sums by spool, for volumes by its density, and by number of changes, so that all are of whole numbers and the order
// of rows can't matter.
type flushes map[flushKey]*flushSum

type flushKey struct {
	spool   *inventory.Spool
	changes int
}

type flushSum struct {
	rows    int64
	purge   ledger.Grams
	squares big.Int // of purges in thousandths of a gram
}

func (f flushes) add(spool *inventory.Spool, row *ledger.Consumption) {
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

// flushed leaves out rows without purge: they brought no other filament to a nozzle. ok is false for fewer than two rows.
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

// Flushed returns what the rows of a printer say that a change flushes; ok is false where they are too few to tell.
func (f *Flushes) Flushed(printer string) (Flushed, bool) {
	return f.byPrinter[ledger.Fold(printer)].flushed()
}

// Learned returns what the book's own rows say that printers flush. A printer for which purges by pair of colours are written is
// left out, as they have no common figure.
func (f *Flushes) Learned(printers []*ledger.Printer, tables Tables) map[*ledger.Printer]Flushed {
	learned := map[*ledger.Printer]Flushed{}
	for _, printer := range printers {
		if found, ok := f.Flushed(printer.Printer); ok && len(tables.purgesOf(printer).rows) == 0 {
			learned[printer] = found
		}
	}
	return learned
}

// Differs reports whether the book's own figure differs from the printer's by more than its expanded uncertainty (k = 2, JCGM 100:2008,
// 6.3.3). Changes on several nozzles don't all flush, so there a lower figure tells nothing; and where no nozzle is shared, none.
func (f Flushed) Differs(printer *ledger.Printer) bool {
	off := f.MM3 - printer.PurgeMM3.Float(0)
	feeds := printer.FeedsOf()
	if len(feeds) > 1 {
		return slices.Max(feeds) > 1 && off > 2*f.U
	}
	return math.Abs(off) > 2*f.U
}
