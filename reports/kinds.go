package reports

import (
	"github.com/shopspring/decimal"

	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// Columns that several reports have: grams and money by kind of cost.

// kindColumns are the headings of all kinds, which add up.
var kindColumns = []string{"part", "support", "prime", "purge", "scrap"}

// FinishedGrams are grams of finished prints.
type FinishedGrams struct {
	PartG    ledger.Grams `json:"part_g" csv:"part_g"`
	SupportG ledger.Grams `json:"support_g" csv:"support_g"`
	PrimeG   ledger.Grams `json:"prime_g" csv:"prime_g"`
	PurgeG   ledger.Grams `json:"purge_g" csv:"purge_g"`
}

// KindGrams are grams of all kinds; those of failed prints are scrap.
type KindGrams struct {
	FinishedGrams
	ScrapG ledger.Grams `json:"scrap_g" csv:"scrap_g"` // all that failed prints took
}

func kindGrams(g [cost.Kinds]ledger.Grams) KindGrams {
	return KindGrams{FinishedGrams{g[cost.Part], g[cost.Support], g[cost.Prime], g[cost.Purge]}, g[cost.Scrap]}
}

// plus returns the grams of both, kind by kind.
func (g KindGrams) plus(o KindGrams) KindGrams {
	return KindGrams{FinishedGrams{g.PartG + o.PartG, g.SupportG + o.SupportG, g.PrimeG + o.PrimeG, g.PurgeG + o.PurgeG}, g.ScrapG + o.ScrapG}
}

func (g FinishedGrams) all() ledger.Grams { return g.PartG + g.SupportG + g.PrimeG + g.PurgeG }

func (g FinishedGrams) cells() []string {
	return []string{gram(g.PartG), gram(g.SupportG), gram(g.PrimeG), gram(g.PurgeG)}
}

// tenths are the cells with one decimal each.
func (g FinishedGrams) tenths() []string {
	return []string{tenthGram(g.PartG), tenthGram(g.SupportG), tenthGram(g.PrimeG), tenthGram(g.PurgeG)}
}

func (g KindGrams) tenths() []string { return append(g.FinishedGrams.tenths(), tenthGram(g.ScrapG)) }

func (g KindGrams) cells() []string { return append(g.FinishedGrams.cells(), gram(g.ScrapG)) }

// FinishedCosts are what filament of finished prints cost.
type FinishedCosts struct {
	PartCost    Money `json:"part_cost" csv:"part_cost"`       // cost of the parts; null where no price is known
	SupportCost Money `json:"support_cost" csv:"support_cost"` // cost of the support; null where no price is known
	PrimeCost   Money `json:"prime_cost" csv:"prime_cost"`     // cost of the prime tower; null where no price is known
	PurgeCost   Money `json:"purge_cost" csv:"purge_cost"`     // cost of what was flushed; null where no price is known
}

// KindCosts are the costs of all kinds.
type KindCosts struct {
	FinishedCosts
	ScrapCost Money `json:"scrap_cost" csv:"scrap_cost"` // cost of all that failed prints took; null where no price is known
}

func finishedCosts(c [cost.Scrap]decimal.Decimal, currency string) FinishedCosts {
	in := func(kind int) Money { return money(c[kind], currency) }
	return FinishedCosts{in(cost.Part), in(cost.Support), in(cost.Prime), in(cost.Purge)}
}

func kindCosts(c [cost.Kinds]Money) KindCosts {
	return KindCosts{FinishedCosts{c[cost.Part], c[cost.Support], c[cost.Prime], c[cost.Purge]}, c[cost.Scrap]}
}

func (c FinishedCosts) cells() []string {
	return amounts(c.PartCost, c.SupportCost, c.PrimeCost, c.PurgeCost)
}

func (c KindCosts) cells() []string { return append(c.FinishedCosts.cells(), c.ScrapCost.String()) }

// amounts are the cells of a table that show money.
func amounts(all ...Money) []string {
	cells := make([]string, len(all))
	for i, m := range all {
		cells[i] = m.String()
	}
	return cells
}
