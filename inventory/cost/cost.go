package cost

import (
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

// Costing folds consumption into cost cells by key, currency and spool: specific identification (IAS 2.23), each gram
// at the price of its very spool.
type Costing struct {
	by     string
	period period
	client string // folded: rows of this client alone; blank: of all
	spools map[string]*inventory.Spool
	barred map[*inventory.Spool]bool // spools that are not wanted
	hints  []string

	cells     map[costKey]*costCells
	spellings inventory.Spellings
	tables    inventory.Spellings // those of tables and purchases alone
	named     bool                // the keys are names that rows or purchases spell
	kind      inventory.NameKind  // of the keys, where they are named
}

type costKey struct{ key, currency string }

type costCells struct {
	grams        map[*inventory.Spool]*[Kinds]ledger.Grams
	jobs         map[string]bool
	clients      map[string]bool // by job alone; folded
	changes      int             // by printer alone
	changesPurge ledger.Grams    // of the rows that know their changes
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

	Clients []string // by job alone: whose it is, "" for nobody's

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

// Load returns the costs of a view.
func Load(v *ledger.View, q Query) (*Costing, error) {
	defer v.ReadAhead()()
	shelf, err := inventory.LoadPrices(v)
	if err != nil {
		return nil, err
	}
	c, err := NewCosting(v, shelf, q)
	if err != nil {
		return nil, err
	}
	return c, v.FoldConsumption(c)
}

// NewCosting returns a costing, as Load does, into which no row has been folded yet.
func NewCosting(v *ledger.View, shelf *inventory.Shelf, q Query) (*Costing, error) {
	c := &Costing{by: q.By, period: period{q.From, q.To}, client: ledger.Fold(ledger.Trim(q.Client)), spools: shelf.ByID}
	if !slices.Contains(GroupKeys, q.By) {
		return nil, fmt.Errorf("--by %q is none of %s", q.By, inventory.List(GroupKeys, "or"))
	}
	if c.kind, c.named = nameKinds[q.By]; c.named {
		if err := c.spellTables(v, shelf); err != nil {
			return nil, err
		}
	}
	c.filter(shelf, q)
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
		c.spell(key, row)
		key = ledger.Fold(key)
	}
	if c.barred[spool] || c.client != "" && ledger.Fold(row.Client) != c.client || c.period != (period{}) && !c.period.holds(row.At.Date()) {
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
	if client := ledger.Fold(row.Client); c.by == "job" && !cells.clients[client] {
		cells.clients[strings.Clone(client)] = true
	}
}

// spell notes how a row spells its key, where rows do.
func (c *Costing) spell(key string, row *ledger.Consumption) {
	if c.kind == inventory.LotName || c.kind == inventory.MakerName {
		return
	}
	c.spellings.Consumption(c.kind, key, row)
	if c.by == "job" {
		c.spellings.Consumption(inventory.ClientName, row.Client, row)
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
	case "colour":
		return spool.Colour
	case "spool":
		return spool.ID
	case "lot":
		return spool.Lot
	case "maker":
		return spool.Maker
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
		cells = &costCells{grams: map[*inventory.Spool]*[Kinds]ledger.Grams{}, jobs: map[string]bool{}, clients: map[string]bool{}}
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
		maps.Copy(ours.jobs, theirs.jobs)
		maps.Copy(ours.clients, theirs.clients)
		ours.changes += theirs.changes
		ours.changesPurge += theirs.changesPurge
	}
	c.spellings.Merge(&o.spellings)
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
