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

// Costing folds consumption into cost cells by key and currency, and in each by the price of a gram. That is specific identification
// (IAS 2.23): each gram at the price of its very spool, of which many have the same.
type Costing struct {
	by     string
	days   days   // that are wanted
	client string // folded: rows of this client alone; blank: of all
	prices *prices
	barred map[*inventory.Spool]bool // spools that are not wanted
	hints  []string

	spools    ledger.SpoolMap[*pricedSpool]
	cells     []ledger.NameMap[*costCells] // by the number of the currency, by key
	ids       nameIDs                      // of jobs
	clientIDs nameIDs
	clients   map[nameID]string // folded; by job alone
	allJobs   int               // of the rows
	spellings inventory.Spellings
	tables    inventory.Spellings // those of tables and purchases alone
	named     bool                // the keys are names that rows or purchases spell
	kind      inventory.NameKind  // of the keys, where they are named
}

// pricedSpool is a spool with the numbers of its price and its currency.
type pricedSpool struct {
	*inventory.Spool
	price, currency int
	barred          bool
}

type costCells struct {
	key          string       // where it is no name
	grams        gramsBy[int] // by the number of the price
	jobs         nameSet
	clients      nameSet      // by job alone
	changes      int          // by printer alone
	changesPurge ledger.Grams // of the rows that know their changes
}

// period is inclusive dates by each row's own offset; blank for none.
type period struct{ from, to string }

func (p period) holds(date string) bool {
	return (p.from == "" || date >= p.from) && (p.to == "" || date <= p.to)
}

// days tells which dates are wanted, and keeps what it told last: rows of one day come together.
type days struct {
	period
	day  int
	date string // of that day; blank: none was asked for
	held bool
}

// at returns the date of an instant, by its own offset, and whether it is wanted.
func (d *days) at(t ledger.Time) (date string, wanted bool) {
	if day := t.Day(); d.date == "" || day != d.day {
		d.day, d.date = day, t.Date()
		d.held = d.holds(d.date)
	}
	return d.date, d.held
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

	cells *costCells // that its costs are still to be reckoned from
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
	sum := r.Costs[Support]
	for _, cost := range r.Costs[Prime:] {
		if !cost.IsZero() { // most are, and a sum takes memory
			sum = sum.Add(cost)
		}
	}
	return sum
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
	c := &Costing{by: q.By, days: days{period: period{q.From, q.To}}, client: ledger.Fold(ledger.Trim(q.Client))}
	if !slices.Contains(GroupKeys, q.By) {
		return nil, fmt.Errorf("--by %q is none of %s", q.By, inventory.List(GroupKeys, "or"))
	}
	if c.kind, c.named = nameKinds[q.By]; c.named {
		if err := c.spellTables(v, shelf); err != nil {
			return nil, err
		}
	}
	c.filter(shelf, q)
	c.price(shelf)
	c.ids, c.clientIDs = newNameIDs(), newNameIDs()
	c.Reset()
	return c, nil
}

// Reset forgets all rows.
func (c *Costing) Reset() {
	c.spools = c.spools.Reader()
	c.ids, c.clientIDs, c.clients = c.ids.another(), c.clientIDs.another(), map[nameID]string{}
	c.cells, c.spellings = make([]ledger.NameMap[*costCells], len(c.prices.currencies)), c.tables.Clone()
}

// Add adds one row; one about a spool without a purchase that counts is left out.
func (c *Costing) Add(row *ledger.Consumption) {
	spool := c.spools.Get(row)
	if spool == nil {
		return
	}
	date, wanted := c.days.at(row.At)
	key := c.key(row, spool.Spool, date)
	if c.named {
		c.spell(key, row)
	}
	if spool.barred || !wanted || c.client != "" && ledger.Fold(row.Client) != c.client {
		return
	}
	cells := c.at(spool.currency, key)
	addKinds(cells.grams.of(spool.price), row)
	if c.by == "printer" && row.Changes.Given {
		cells.changes += row.Changes.N
		cells.changesPurge += row.PurgeG
	}
	if row.Job != "" {
		id, _ := c.ids.of(row.Job)
		cells.jobs.add(id)
	}
	if c.by == "job" {
		id, other := c.clientIDs.of(row.Client)
		if other && c.clients[id] == "" {
			c.clients[id] = strings.Clone(ledger.Fold(row.Client))
		}
		cells.clients.add(id)
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

func (c *Costing) key(row *ledger.Consumption, spool *inventory.Spool, date string) string {
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
	return date[:len(date)-len("-31")] // the month
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

func (c *Costing) at(currency int, key string) *costCells {
	cells := c.cells[currency].Get(key)
	if cells == nil {
		cells = new(costCells)
		if !c.named {
			cells.key = key
		}
		c.cells[currency].Set(key, cells)
	}
	return cells
}

// Merge adds what another costing of the same view and key has gathered. That one is not used any more.
func (c *Costing) Merge(o *Costing) {
	for currency := range o.cells {
		for key, theirs := range o.cells[currency].All() {
			ours := c.cells[currency].Get(key)
			if ours == nil {
				c.cells[currency].Set(key, theirs)
				continue
			}
			ours.grams.merge(&theirs.grams)
			ours.jobs.addAll(&theirs.jobs)
			ours.clients.addAll(&theirs.clients)
			ours.changes += theirs.changes
			ours.changesPurge += theirs.changesPurge
		}
	}
	maps.Copy(c.clients, o.clients)
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
