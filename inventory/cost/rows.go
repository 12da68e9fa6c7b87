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
func (c *Costing) Rows() (rows, totals []Row) {
	var all nameSet
	for n, currency := range c.prices.currencies {
		found := c.currencyRows(n)
		if len(found) == 0 {
			continue
		}
		var jobs nameSet
		for i := range found {
			jobs = append(jobs, found[i].cells.jobs...)
		}
		c.round(found, n)
		total := Row{Currency: currency}
		for i := range found {
			total.add(&found[i])
		}
		jobs.settle()
		total.Jobs = len(jobs)
		totals = append(totals, total)
		if rows == nil {
			rows = found // which may be very many
		} else {
			rows = append(rows, found...)
		}
		all = append(all, jobs...)
	}
	if len(totals) > 1 {
		all.settle()
	}
	c.allJobs = len(all)
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
		cells.jobs.settle()
		cells.clients.settle()
		row := Row{Key: cells.key, Currency: c.prices.currencies[currency], Jobs: len(cells.jobs), Changes: cells.changes, ChangesPurge: cells.changesPurge, cells: cells}
		if c.named {
			row.Key = c.spellings.Spell(c.kind, key)
		}
		for _, client := range cells.clients {
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
	totals := make([]amount, Kinds)
	for kind := range totals {
		totals[kind] = c.prices.cost(&all, kind, new(big.Int))
	}
	for kind, rounded := range apportionTo(total(totals, decimals), Kinds, func(i int, _ *big.Int) amount { return totals[i] }, decimals) {
		of := func(i int, least *big.Int) amount { return c.prices.cost(&rows[i].cells.grams, kind, least) }
		for i, cost := range apportionTo(rounded, len(rows), of, decimals) {
			rows[i].Costs[kind] = cost
		}
	}
	for i := range rows {
		rows[i].cells = nil
	}
}
