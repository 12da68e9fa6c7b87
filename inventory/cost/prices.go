package cost

import (
	"math/big"
	"slices"

	"tarebook/inventory"
	"tarebook/ledger"
)

// prices are all prices of a gram on a shelf, numbered.
type prices struct {
	all        []price
	currencies []string // sorted
	one, grams big.Int  // that cost reckons in
}

// price is what one gram costs.
type price struct {
	perGram *big.Rat // nil for none
	least   *big.Int // of a thousandth of a gram in parts of the minor unit, cut off
	cut     int64    // 1 if something was cut off
}

// price numbers the prices and the currencies of the shelf.
func (c *Costing) price(shelf *inventory.Shelf) {
	type known struct {
		currency, price string
		net             ledger.Grams
	}
	c.prices = &prices{}
	for _, spool := range shelf.Spools {
		c.prices.currencies = append(c.prices.currencies, spool.Currency())
	}
	slices.Sort(c.prices.currencies)
	c.prices.currencies = slices.Compact(c.prices.currencies)
	numbers, spools := map[known]int{}, map[string]*pricedSpool{}
	for _, spool := range shelf.Spools {
		key := known{currency: spool.Currency()}
		if p := spool.PricedBy(); p != nil {
			key.price, key.net = p.Price.Decimal.String(), p.NetG
		}
		n, ok := numbers[key]
		if !ok {
			n = len(c.prices.all)
			numbers[key] = n
			c.prices.all = append(c.prices.all, newPrice(spool.Price()))
		}
		currency, _ := slices.BinarySearch(c.prices.currencies, spool.Currency())
		spools[spool.ID] = &pricedSpool{spool, n, currency, c.barred[spool]}
	}
	c.spools = ledger.NewSpoolMap(spools)
}

func newPrice(perGram *big.Rat, currency string) price {
	if perGram == nil {
		return price{}
	}
	decimals, _ := ledger.MinorUnit(currency)
	p := price{perGram: perGram, least: new(big.Int)}
	p.cut = fractions{[]*big.Rat{costOf(perGram, 1)}, decimals}.at(0, p.least)
	return p
}

// cost sets least to the least that the grams of one kind cost, and returns what was cut off at most.
func (p *prices) cost(grams *gramsBy[int], kind int, least *big.Int) (cut int64) {
	least.SetInt64(0)
	for i := range grams.list {
		of := &grams.list[i]
		if price := &p.all[of.by]; price.perGram != nil && of.grams[kind] != 0 {
			least.Add(least, p.one.Mul(price.least, p.grams.SetInt64(int64(of.grams[kind]))))
			cut += price.cut * int64(of.grams[kind])
		}
	}
	return cut
}

// exactCost returns exactly what the grams of one kind cost.
func (p *prices) exactCost(grams *gramsBy[int], kind int) *big.Rat {
	var costs exactSum
	for i := range grams.list {
		of := &grams.list[i]
		if price := &p.all[of.by]; price.perGram != nil && of.grams[kind] != 0 {
			costs.add(costOf(price.perGram, of.grams[kind]))
		}
	}
	return costs.sum()
}
