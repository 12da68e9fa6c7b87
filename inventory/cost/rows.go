package cost

import (
	"cmp"
	"math/big"
	"slices"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Rows returns the rows by key and currency, and the total of each currency. Currencies are never added together.
//
// Of each currency the grand total is rounded half up, the totals of the five kinds by the largest remainder to that, and each kind's
// cells over the rows to that kind's total; so the totals are the same by whatever key.
//
// Rows can be called once: it gives up what was gathered as it goes, since of many jobs that takes more memory than the rows.
func (c *Costing) Rows() (rows, totals []Row) {
	var jobs []*nameSet // of each total
	for n, currency := range c.prices.currencies {
		found := c.currencyRows(n)
		if len(found) == 0 {
			continue
		}
		ofRows := make([]*nameSet, len(found))
		for i := range found {
			ofRows[i] = &found[i].cells.jobs
		}
		of := union(ofRows)
		if n == len(c.prices.currencies)-1 {
			c.spellings = inventory.Spellings{} // all are spelled
		}
		c.round(found, n)
		total := Row{Currency: currency}
		for i := range found {
			total.add(&found[i])
		}
		total.Jobs = of.n
		jobs = append(jobs, of)
		totals = append(totals, total)
		if rows == nil {
			rows = found // which may be very many
		} else {
			rows = append(rows, found...)
		}
	}
	c.allJobs = union(jobs).n
	c.cells = nil
	slices.SortFunc(rows, func(a, b Row) int { return cmp.Or(cmp.Compare(a.Key, b.Key), cmp.Compare(a.Currency, b.Currency)) })
	return rows, totals
}

// AllJobs returns how many distinct jobs there are in what Rows returned, of all currencies together.
func (c *Costing) AllJobs() int { return c.allJobs }

// currencyRows returns the rows of one currency in the order of their keys, without costs.
func (c *Costing) currencyRows(currency int) []Row {
	all := c.cells[currency].All()
	rows := make([]Row, 0, len(all))
	for key, cells := range all {
		row := Row{Key: cells.key, Currency: c.prices.currencies[currency], Jobs: cells.jobs.n, Changes: cells.changes, ChangesPurge: cells.changesPurge, cells: cells}
		if c.named {
			row.Key = c.spellings.Spell(c.kind, key)
		}
		for client := range cells.clients.all() {
			row.Clients = append(row.Clients, c.spellings.Spell(inventory.ClientName, c.clients[client]))
		}
		slices.Sort(row.Clients)
		for i := range cells.grams.list {
			of := &cells.grams.list[i]
			for kind, g := range of.grams {
				row.Grams[kind] += g
				if c.prices.all[of.by].perGram == nil {
					row.Unpriced += g
				}
			}
		}
		rows = append(rows, row)
	}
	c.cells[currency] = ledger.NameMap[*costCells]{}
	slices.SortFunc(rows, func(a, b Row) int { return cmp.Compare(a.Key, b.Key) })
	return rows
}

// round sets the costs of the rows of one currency.
func (c *Costing) round(rows []Row, currency int) {
	decimals, _ := ledger.MinorUnit(c.prices.currencies[currency])
	var all gramsBy[int]
	for i := range rows {
		all.merge(&rows[i].cells.grams)
	}
	totals := costsByKind{c.prices, &all}
	for kind, rounded := range apportionTo(total(totals, decimals), totals, decimals) {
		for i, cost := range apportionTo(rounded, costsByRow{c.prices, rows, kind}, decimals) {
			rows[i].Costs[kind] = cost
		}
	}
	for i := range rows {
		rows[i].cells = nil
	}
}

// costsByKind are what each kind of the same grams costs.
type costsByKind struct {
	*prices
	grams *gramsBy[int]
}

func (c costsByKind) len() int { return Kinds }

func (c costsByKind) at(kind int, least *big.Int) (cut int64) {
	return c.prices.cost(c.grams, kind, least)
}

func (c costsByKind) exact(kind int) *big.Rat { return c.exactCost(c.grams, kind) }

func (c costsByKind) same(a, b int) bool { return a == b }

// costsByRow are what one kind costs in each row.
type costsByRow struct {
	*prices
	rows []Row
	kind int
}

func (c costsByRow) len() int { return len(c.rows) }

func (c costsByRow) at(i int, least *big.Int) (cut int64) {
	return c.cost(&c.rows[i].cells.grams, c.kind, least)
}

func (c costsByRow) exact(i int) *big.Rat { return c.exactCost(&c.rows[i].cells.grams, c.kind) }

// same reports whether two rows have the same grams at the same one price, as many small jobs have.
func (c costsByRow) same(a, b int) bool {
	of := func(i int) (price int, grams ledger.Grams, prices int) {
		for _, g := range c.rows[i].cells.grams.list {
			if g.grams[c.kind] != 0 {
				price, grams, prices = g.by, g.grams[c.kind], prices+1
			}
		}
		return price, grams, prices
	}
	price, grams, prices := of(a)
	price2, grams2, prices2 := of(b)
	return prices == 1 && prices2 == 1 && price == price2 && grams == grams2
}
