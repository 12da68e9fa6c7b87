package cost

import (
	"cmp"
	"fmt"
	"maps"
	"math/big"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Kinds of cost: what became of filament. Support, prime and purge of a finished job are normal waste and part of its
// cost; a failed job is abnormal waste, scrap (IAS 2.16(a)).
const (
	Part = iota
	Support
	Prime
	Purge
	Scrap
	Kinds
)

// GroupKeys are what costs can be grouped by.
var GroupKeys = []string{"client", "printer", "material", "spool", "job", "month"}

// Costing folds consumption into cost cells by key, currency and spool: specific identification (IAS 2.23), each gram
// at the price of its very spool.
type Costing struct {
	by     string
	period period
	spools map[string]*inventory.Spool

	cells     map[costKey]*costCells
	spellings inventory.Spellings
	tables    inventory.Spellings // those of tables alone
	named     bool                // the keys are names that rows spell
	kind      inventory.NameKind  // of the keys, where they are named
}

type costKey struct{ key, currency string }

type costCells struct {
	grams        map[*inventory.Spool]*[Kinds]ledger.Grams
	jobs         map[string]bool
	changes      int          // by printer alone
	changesPurge ledger.Grams // of the rows that know their changes
}

// period is inclusive dates by each row's own offset; blank for none.
type period struct{ from, to string }

func (p period) holds(date string) bool {
	return (p.from == "" || date >= p.from) && (p.to == "" || date <= p.to)
}

// Row is one row of a costing: grams, and money rounded so that all cells of a currency add up.
type Row struct {
	Key      string
	Currency string
	Jobs     int // distinct names
	Grams    [Kinds]ledger.Grams
	Unpriced ledger.Grams
	Costs    [Kinds]decimal.Decimal

	// By printer alone: the changes of rows that know theirs, and what those rows purged, failed jobs too.
	Changes      int
	ChangesPurge ledger.Grams
}

// Waste returns the grams that are not part of a print that came out.
func (r *Row) Waste() ledger.Grams { return r.All() - r.Grams[Part] }

// All returns all grams of the row.
func (r *Row) All() (all ledger.Grams) {
	for _, g := range r.Grams {
		all += g
	}
	return all
}

// WasteCost returns the sum of the rounded cells of waste.
func (r *Row) WasteCost() decimal.Decimal {
	return decimal.Sum(r.Costs[Support], r.Costs[Prime], r.Costs[Purge], r.Costs[Scrap])
}

// Load returns the costs of a view by one of GroupKeys, of rows from one date to another, both included.
func Load(v *ledger.View, by, from, to string) (*Costing, error) {
	defer v.ReadAhead()()
	shelf, err := inventory.LoadPrices(v)
	if err != nil {
		return nil, err
	}
	c, err := NewCosting(v, shelf, by, from, to)
	if err != nil {
		return nil, err
	}
	return c, v.FoldConsumption(c)
}

// NewCosting returns a costing, as Load does, into which no row has been folded yet.
func NewCosting(v *ledger.View, shelf *inventory.Shelf, by, from, to string) (*Costing, error) {
	c := &Costing{by: by, period: period{from, to}, spools: shelf.ByID}
	switch by {
	case "job":
		c.named, c.kind = true, inventory.JobName
	case "client":
		c.named, c.kind = true, inventory.ClientName
		clients, err := v.Clients()
		if err != nil {
			return nil, err
		}
		for _, client := range clients {
			c.tables.Table(c.kind, client.Client)
		}
	case "printer":
		c.named, c.kind = true, inventory.PrinterName
		printers, err := v.Printers()
		if err != nil {
			return nil, err
		}
		for _, printer := range printers {
			c.tables.Table(c.kind, printer.Printer)
		}
	case "material", "spool", "month":
	default:
		return nil, fmt.Errorf("--by %q is none of %s", by, inventory.List(GroupKeys, "or"))
	}
	c.Reset()
	return c, nil
}

// Reset forgets all rows.
func (c *Costing) Reset() { c.cells, c.spellings = map[costKey]*costCells{}, c.tables.Clone() }

// Add adds one row; one about a spool without a purchase that counts is left out.
func (c *Costing) Add(row *ledger.Consumption) {
	spool := c.spools[row.Spool]
	if spool == nil {
		return
	}
	key := c.key(row, spool)
	if c.named {
		c.spellings.Consumption(c.kind, key, row)
		key = ledger.Fold(key)
	}
	if c.period != (period{}) && !c.period.holds(row.At.Date()) {
		return
	}
	cells := c.at(costKey{key, spool.Currency()})
	addKinds(cells.of(spool), row)
	if c.by == "printer" && row.Changes.Given {
		cells.changes += row.Changes.N
		cells.changesPurge += row.PurgeG
	}
	if job := ledger.Fold(row.Job); job != "" && !cells.jobs[job] {
		cells.jobs[strings.Clone(job)] = true
	}
}

func (c *Costing) key(row *ledger.Consumption, spool *inventory.Spool) string {
	switch c.by {
	case "job":
		return row.Job
	case "client":
		return row.Client
	case "printer":
		return row.Printer
	case "material":
		return spool.Material
	case "spool":
		return spool.ID
	}
	return row.At.Month()
}

// addKinds adds what a row took, by kind of cost.
func addKinds(grams *[Kinds]ledger.Grams, row *ledger.Consumption) {
	if row.Outcome == ledger.Failed {
		grams[Scrap] += row.Total()
		return
	}
	grams[Part] += row.PartG
	grams[Support] += row.SupportG
	grams[Prime] += row.PrimeG
	grams[Purge] += row.PurgeG
}

func (c *Costing) at(key costKey) *costCells {
	cells := c.cells[key]
	if cells == nil {
		cells = &costCells{grams: map[*inventory.Spool]*[Kinds]ledger.Grams{}, jobs: map[string]bool{}}
		key.key = strings.Clone(key.key)
		c.cells[key] = cells
	}
	return cells
}

func (c *costCells) of(spool *inventory.Spool) *[Kinds]ledger.Grams {
	grams := c.grams[spool]
	if grams == nil {
		grams = &[Kinds]ledger.Grams{}
		c.grams[spool] = grams
	}
	return grams
}

// Merge adds what another costing of the same view and key has gathered.
func (c *Costing) Merge(o *Costing) {
	for key, theirs := range o.cells {
		ours := c.at(key)
		for spool, grams := range theirs.grams {
			sum := ours.of(spool)
			for kind, g := range grams {
				sum[kind] += g
			}
		}
		for job := range theirs.jobs {
			ours.jobs[job] = true
		}
		ours.changes += theirs.changes
		ours.changesPurge += theirs.changesPurge
	}
	c.spellings.Merge(&o.spellings)
}

// Rows returns the rows by key and currency, and the total of each currency. Currencies are never added together.
func (c *Costing) Rows() (rows, totals []Row) {
	exact := c.exactRows()
	amounts := map[string][]*big.Rat{} // by currency, those of one row after the other
	jobs := map[string]map[string]bool{}
	for _, row := range exact {
		amounts[row.Currency] = append(amounts[row.Currency], row.costs[:]...)
		if jobs[row.Currency] == nil {
			jobs[row.Currency] = map[string]bool{}
		}
		maps.Copy(jobs[row.Currency], row.jobs)
		rows = append(rows, row.Row)
	}
	for _, currency := range slices.Sorted(maps.Keys(jobs)) {
		total := Row{Currency: currency, Jobs: len(jobs[currency])}
		decimals, _ := ledger.MinorUnit(currency)
		rounded := Apportion(amounts[currency], decimals)
		for i := range rows {
			if row := &rows[i]; row.Currency == currency {
				rounded = rounded[copy(row.Costs[:], rounded[:Kinds]):]
				total.add(row)
			}
		}
		totals = append(totals, total)
	}
	return rows, totals
}

// exactRow is a row before its costs are rounded.
type exactRow struct {
	Row
	costs [Kinds]*big.Rat
	jobs  map[string]bool
}

func (c *Costing) exactRows() (rows []exactRow) {
	for key, cells := range c.cells {
		row := exactRow{Row: Row{Key: key.key, Currency: key.currency, Jobs: len(cells.jobs), Changes: cells.changes, ChangesPurge: cells.changesPurge}, jobs: cells.jobs}
		if c.named {
			row.Key = c.spellings.Spell(c.kind, key.key)
		}
		var costs [Kinds]exactSum
		for spool, grams := range cells.grams {
			price, _ := spool.Price()
			for kind, g := range grams {
				row.Grams[kind] += g
				if price == nil {
					row.Unpriced += g
				} else if g != 0 {
					costs[kind].add(costOf(price, g))
				}
			}
		}
		for kind, cost := range costs {
			row.costs[kind] = cost.sum()
		}
		rows = append(rows, row)
	}
	slices.SortFunc(rows, func(a, b exactRow) int {
		return cmp.Or(cmp.Compare(a.Key, b.Key), cmp.Compare(a.Currency, b.Currency))
	})
	return rows
}

func (r *Row) add(o *Row) {
	r.Unpriced += o.Unpriced
	r.Changes += o.Changes
	r.ChangesPurge += o.ChangesPurge
	for kind := range Kinds {
		r.Grams[kind] += o.Grams[kind]
		r.Costs[kind] = r.Costs[kind].Add(o.Costs[kind])
	}
}

// costOf returns exactly what grams cost at the price of one.
func costOf(perGram *big.Rat, g ledger.Grams) *big.Rat {
	return new(big.Rat).Mul(perGram, big.NewRat(int64(g), 1000))
}

// Value returns what is left on a spool at its price, half up to the currency's minor unit; 0 for a book below 0 and for a spool
// without a price.
func Value(s *inventory.Spool) decimal.Decimal {
	if !s.Priced() || s.Net <= 0 {
		return decimal.Zero
	}
	decimals, _ := ledger.MinorUnit(s.Currency())
	return ShareOf(s.PricedBy(), s.Net, decimals)
}

// ShareOf returns what so many grams of a spool with a price cost, half up. The fraction is not reduced: that would take longer than
// all else.
func ShareOf(p *ledger.Purchase, g ledger.Grams, decimals int32) decimal.Decimal {
	num, denom := p.Price.Coefficient(), big.NewInt(int64(p.NetG))
	num.Mul(num, big.NewInt(int64(g)))
	if e := p.Price.Exponent(); e >= 0 {
		num.Mul(num, powerOf10(e))
	} else {
		denom.Mul(denom, powerOf10(-e))
	}
	return roundHalfUp(num, denom, decimals)
}
