package cost

import (
	"cmp"
	"maps"
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
	exact := map[string][]exactRow{}
	for _, row := range c.exactRows() {
		exact[row.Currency] = append(exact[row.Currency], row)
	}
	for _, currency := range slices.Sorted(maps.Keys(exact)) {
		decimals, _ := ledger.MinorUnit(currency)
		roundKinds(exact[currency], c.kindTotals(currency), decimals)
		total := Row{Currency: currency}
		jobs := map[string]bool{}
		for i := range exact[currency] {
			row := &exact[currency][i]
			total.add(&row.Row)
			maps.Copy(jobs, row.jobs)
			rows = append(rows, row.Row)
		}
		total.Jobs = len(jobs)
		totals = append(totals, total)
	}
	slices.SortFunc(rows, func(a, b Row) int { return cmp.Or(cmp.Compare(a.Key, b.Key), cmp.Compare(a.Currency, b.Currency)) })
	return rows, totals
}

// AllJobs returns how many distinct jobs there are, of all currencies together.
func (c *Costing) AllJobs() int {
	jobs := map[string]bool{}
	for _, cells := range c.cells {
		maps.Copy(jobs, cells.jobs)
	}
	return len(jobs)
}

// roundKinds rounds the cells of one currency, whose rows are in the order of their keys, to the exact totals of the kinds.
func roundKinds(rows []exactRow, totals []*big.Rat, decimals int32) {
	rounded := apportionTo(RoundHalfUp(sum(totals), decimals), totals, decimals)
	amounts := make([]*big.Rat, len(rows))
	for kind, total := range rounded {
		for i := range rows {
			amounts[i] = rows[i].costs[kind]
		}
		for i, amount := range apportionTo(total, amounts, decimals) {
			rows[i].Costs[kind] = amount
		}
	}
}

// kindTotals returns exactly what each kind cost in a currency. It adds by spool, as the sum of a spool's grams has one denominator.
func (c *Costing) kindTotals(currency string) []*big.Rat {
	grams := map[*inventory.Spool]*[Kinds]ledger.Grams{}
	for key, cells := range c.cells {
		for spool, of := range cells.grams {
			if key.currency != currency {
				continue
			}
			if grams[spool] == nil {
				grams[spool] = &[Kinds]ledger.Grams{}
			}
			for kind, g := range of {
				grams[spool][kind] += g
			}
		}
	}
	var costs [Kinds]exactSum
	for spool, of := range grams {
		if price, _ := spool.Price(); price != nil {
			for kind, g := range of {
				costs[kind].add(costOf(price, g))
			}
		}
	}
	totals := make([]*big.Rat, Kinds)
	for kind := range costs {
		totals[kind] = costs[kind].sum()
	}
	return totals
}

// exactRow is a row before its costs are rounded.
type exactRow struct {
	Row
	costs [Kinds]*big.Rat
	jobs  map[string]bool
}

// exactRows returns the rows in the order of their keys.
func (c *Costing) exactRows() (rows []exactRow) {
	for key, cells := range c.cells {
		row := exactRow{Row: Row{Key: key.key, Currency: key.currency, Jobs: len(cells.jobs), Changes: cells.changes, ChangesPurge: cells.changesPurge}, jobs: cells.jobs}
		if c.named {
			row.Key = c.spellings.Spell(c.kind, key.key)
		}
		for client := range cells.clients {
			row.Clients = append(row.Clients, c.spellings.Spell(inventory.ClientName, client))
		}
		slices.Sort(row.Clients)
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
	slices.SortFunc(rows, func(a, b exactRow) int { return cmp.Compare(a.Key, b.Key) })
	return rows
}
