package inventory

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

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

// Bys are the keys by which costs can be told apart.
var Bys = []string{"client", "printer", "material", "spool", "job", "month"}

// Costing folds consumption into cost cells by key, currency and spool: specific identification (IAS 2.23), each gram
// at the price of its very spool.
type Costing struct {
	by       string
	from, to string // inclusive dates by each row's own offset; empty for none
	spools   map[string]*Spool

	cells     map[costKey]*costCells
	spellings names
	tables    names    // the spellings of tables alone
	kind      nameKind // of the keys that are spelled by the rows; nameKinds for none
}

type costKey struct{ key, currency string }

type costCells struct {
	grams   map[*Spool]*[Kinds]ledger.Grams
	jobs    map[string]bool
	flushes flushes // by printer alone
}

// CostRow is one row of a costing: grams, and money rounded so that all cells of a currency add up.
type CostRow struct {
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
func (r *CostRow) Waste() ledger.Grams { return r.All() - r.Grams[Part] }

// All returns all grams of the row.
func (r *CostRow) All() (all ledger.Grams) {
	for _, g := range r.Grams {
		all += g
	}
	return all
}

// WasteCost returns the sum of the rounded cells of waste.
func (r *CostRow) WasteCost() decimal.Decimal {
	return decimal.Sum(r.Costs[Support], r.Costs[Prime], r.Costs[Purge], r.Costs[Scrap])
}

// NewCosting returns the costs of a view by the key named, of rows from one date to another, both included.
func NewCosting(v *ledger.View, by, from, to string) (*Costing, error) {
	defer v.ReadAhead()()
	shelf, err := loadPrices(v)
	if err != nil {
		return nil, err
	}
	c, err := newCosting(v, shelf.byID, by, from, to)
	if err != nil {
		return nil, err
	}
	return c, v.FoldConsumption(c)
}

// newCosting returns a costing into which no row has been folded yet.
func newCosting(v *ledger.View, spools map[string]*Spool, by, from, to string) (*Costing, error) {
	c := &Costing{by: by, from: from, to: to, spools: spools, kind: nameKinds}
	switch by {
	case "job":
		c.kind = jobName
	case "client":
		c.kind = clientName
		clients, err := v.Clients()
		if err != nil {
			return nil, err
		}
		for _, client := range clients {
			c.tables.see(clientName, spelling{text: client.Client, rank: -1}, false)
		}
	case "printer":
		c.kind = printerName
		printers, err := v.Printers()
		if err != nil {
			return nil, err
		}
		for _, printer := range printers {
			c.tables.see(printerName, spelling{text: printer.Printer, rank: -1}, false)
		}
	case "material", "spool", "month":
	default:
		return nil, fmt.Errorf("--by %q is none of %s", by, list(Bys, "or"))
	}
	c.Reset()
	return c, nil
}

// loadPrices reads of the shelf what costs need: purchases alone.
func loadPrices(v *ledger.View) (*Shelf, error) {
	s := &Shelf{byID: map[string]*Spool{}}
	var errs [3]error
	var purchases []*ledger.Purchase
	s.Settings, errs[0] = v.Settings()
	s.Materials, errs[1] = v.Materials()
	purchases, errs[2] = v.Purchases()
	if err := ledger.JoinFaults(errs[:]...); err != nil {
		return nil, err
	}
	for _, p := range purchases {
		material := ledger.Named(s.Materials, p.Material)
		spool := &Spool{ID: p.Spool, Purchase: p, Material: material.Material, shelf: s}
		spool.Filament.Density, spool.Filament.DensityU = material.Density()
		s.Spools = append(s.Spools, spool)
		s.byID[p.Spool] = spool
	}
	s.settlePrices()
	return s, nil
}

// Reset forgets all rows.
func (c *Costing) Reset() { c.cells, c.spellings = map[costKey]*costCells{}, c.tables.clone() }

// Add adds one row; one about a spool without a purchase that counts is left out.
func (c *Costing) Add(row *ledger.Consumption) {
	spool := c.spools[row.Spool]
	if spool == nil {
		return
	}
	var key string
	switch c.by {
	case "job":
		key = row.Job
	case "client":
		key = row.Client
	case "printer":
		key = row.Printer
	case "material":
		key = spool.Material
	case "spool":
		key = spool.ID
	case "month":
		key = row.At.Month()
	}
	if c.kind < nameKinds {
		c.spellings.see(c.kind, spelling{key, row.At, consumptionRank, row.Order()}, false)
		key = ledger.Fold(key)
	}
	if c.from != "" || c.to != "" {
		if date := row.At.Date(); c.from != "" && date < c.from || c.to != "" && date > c.to {
			return
		}
	}
	cells := c.at(costKey{key, spool.currency})
	grams := cells.grams[spool]
	if grams == nil {
		grams = &[Kinds]ledger.Grams{}
		cells.grams[spool] = grams
	}
	if row.Outcome == ledger.Failed {
		grams[Scrap] += row.Total()
	} else {
		grams[Part] += row.PartG
		grams[Support] += row.SupportG
		grams[Prime] += row.PrimeG
		grams[Purge] += row.PurgeG
	}
	if c.by == "printer" && row.Changes.Given {
		cells.flushes.add(spool, row)
	}
	if job := ledger.Fold(row.Job); job != "" && !cells.jobs[job] {
		cells.jobs[strings.Clone(job)] = true
	}
}

func (c *Costing) at(key costKey) *costCells {
	cells := c.cells[key]
	if cells == nil {
		cells = &costCells{map[*Spool]*[Kinds]ledger.Grams{}, map[string]bool{}, flushes{}}
		key.key = strings.Clone(key.key)
		c.cells[key] = cells
	}
	return cells
}

// Merge adds what another costing of the same view and key has gathered.
func (c *Costing) Merge(o *Costing) {
	for key, theirs := range o.cells {
		ours := c.at(key)
		for spool, grams := range theirs.grams {
			sum := ours.grams[spool]
			if sum == nil {
				sum = &[Kinds]ledger.Grams{}
				ours.grams[spool] = sum
			}
			for kind, g := range grams {
				sum[kind] += g
			}
		}
		for job := range theirs.jobs {
			ours.jobs[job] = true
		}
		ours.flushes.merge(theirs.flushes)
	}
	c.spellings.merge(&o.spellings)
}

// Rows returns the rows by key and currency, and the total of each currency. Currencies are never added together.
func (c *Costing) Rows() (rows, totals []CostRow) {
	amounts := map[costKey][]*big.Rat{}
	jobs := map[string]map[string]bool{}
	byKey := map[costKey]*CostRow{}
	var keys []costKey
	for key, cells := range c.cells {
		shown := key
		if c.kind < nameKinds {
			shown.key = c.spellings.spell(c.kind, key.key)
		}
		row := &CostRow{Key: shown.key, Currency: key.currency, Jobs: len(cells.jobs)}
		row.Changes, row.ChangesPurge = cells.flushes.grams()
		var costs [Kinds]exact
		for spool, grams := range cells.grams {
			price, _ := spool.Price()
			for kind, g := range grams {
				row.Grams[kind] += g
				if g == 0 {
					continue
				}
				if price == nil {
					row.Unpriced += g
				} else {
					costs[kind].add(new(big.Rat).Mul(price, big.NewRat(int64(g), 1000)))
				}
			}
		}
		if jobs[key.currency] == nil {
			jobs[key.currency] = map[string]bool{}
		}
		for job := range cells.jobs {
			jobs[key.currency][job] = true
		}
		for _, cost := range costs {
			amounts[shown] = append(amounts[shown], cost.sum())
		}
		byKey[shown] = row
		keys = append(keys, shown)
	}
	slices.SortFunc(keys, func(a, b costKey) int {
		return cmp.Or(cmp.Compare(a.key, b.key), cmp.Compare(a.currency, b.currency))
	})
	for currency, names := range jobs {
		total := CostRow{Currency: currency, Jobs: len(names)}
		var all []*big.Rat
		for _, key := range keys {
			if key.currency == currency {
				all = append(all, amounts[key]...)
			}
		}
		decimals, _ := ledger.MinorUnit(currency)
		rounded := Apportion(all, decimals)
		for _, key := range keys {
			if key.currency != currency {
				continue
			}
			row := byKey[key]
			copy(row.Costs[:], rounded[:Kinds])
			rounded = rounded[Kinds:]
			total.Unpriced += row.Unpriced
			total.Changes += row.Changes
			total.ChangesPurge += row.ChangesPurge
			for kind := range Kinds {
				total.Grams[kind] += row.Grams[kind]
				total.Costs[kind] = total.Costs[kind].Add(row.Costs[kind])
			}
		}
		totals = append(totals, total)
	}
	slices.SortFunc(totals, func(a, b CostRow) int { return cmp.Compare(a.Currency, b.Currency) })
	for _, key := range keys {
		rows = append(rows, *byKey[key])
	}
	return rows, totals
}

// Flushed returns what the rows of a printer say that a change flushes; ok is false where they are too few to tell. The costing is
// one by printer.
func (c *Costing) Flushed(printer string) (Flushed, bool) {
	all := flushes{}
	for key, cells := range c.cells {
		if key.key == ledger.Fold(printer) {
			all.merge(cells.flushes)
		}
	}
	return all.flushed()
}
