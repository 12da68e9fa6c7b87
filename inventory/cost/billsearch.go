package cost

import (
	"cmp"
	"fmt"
	"maps"
	"math/big"
	"slices"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/ledger"
)

// editSearch looks for one figure of a table or a purchase that was edited after a bill: for the value with which the lines have the
// digest that was sent, which proves it. What was billed tells within which bounds the value must lie.
type editSearch struct {
	state *BillState
	b     *Billing
}

// mostTried bounds the values tried of one figure.
const mostTried = 2000

// spoolsOf returns the spools of what was gathered in a currency, by id.
func spoolsOf(b *Billing, currency string) []*inventory.Spool {
	found := map[*inventory.Spool]bool{}
	for key, job := range b.jobs {
		if key.currency == currency {
			for i := range job.grams.list {
				found[job.grams.list[i].by.spool] = true
			}
		}
	}
	return slices.SortedFunc(maps.Keys(found), func(a, b *inventory.Spool) int { return cmp.Compare(a.ID, b.ID) })
}

// fits reports whether the lines are those sent, supposing something else.
func (e *editSearch) fits(in supposed) bool {
	return e.state.isSent(e.b.sent(e.b.only, e.state.Currency, in))
}

// rate tries a row of clients.csv: that it was not there, or had another share of waste or of scrap.
func (e *editSearch) rate(row *ledger.Client, line int) string {
	terms := Terms{row.From, true}
	where := fmt.Sprintf("%s:%d", ledger.Clients, line)
	before := Terms{}
	for _, r := range e.b.rates.byClient[e.b.only] {
		if r.from < row.From {
			before = Terms{r.from, true}
		}
	}
	if e.fits(supposed{shares: map[Terms][Kinds]*big.Rat{terms: e.b.shares(e.b.only, before)}}) {
		return fmt.Sprintf("it would agree without the rates in %s, which were added", where)
	}
	for _, column := range []struct {
		name  string
		kinds []int
		now   ledger.Number
	}{{"waste_billed", []int{Support, Prime, Purge}, row.WasteBilled}, {"scrap_billed", []int{Scrap}, row.ScrapBilled}} {
		now := e.b.shares(e.b.only, terms)
		with := func(share *big.Rat) supposed {
			changed := now
			for _, kind := range column.kinds {
				changed[kind] = share
			}
			return supposed{shares: map[Terms][Kinds]*big.Rat{terms: changed}}
		}
		slope, cells := e.slope(func(by billedBy, kind int) *big.Rat {
			if by.terms != terms || !slices.Contains(column.kinds, kind) {
				return nil
			}
			perGram, _ := by.spool.Price()
			return perGram
		})
		if share := e.solve(unknown{now[column.kinds[0]], slope, cells, 3, big.NewRat(1, 1), with}); share != nil {
			return fmt.Sprintf("it would agree if %s in %s were %s; it is %s now", column.name, where, shortest(share), numberText(column.now))
		}
	}
	return ""
}

// price tries another price of a spool, and none.
func (e *editSearch) price(spool *inventory.Spool) string {
	bought := spool.PricedBy()
	if bought == nil {
		bought = spool.Purchase
	}
	net := big.NewRat(int64(bought.NetG), 1000)
	with := func(price *big.Rat) supposed {
		perGram := new(big.Rat).Quo(price, net)
		prices := map[*inventory.Spool]*big.Rat{}
		for _, other := range spoolsOf(e.b, e.state.Currency) { // those wound off it cost the same
			if other == spool || spool.PricedBy() != nil && other.PricedBy() == spool.PricedBy() {
				prices[other] = perGram
			}
		}
		return supposed{prices: prices}
	}
	where := fmt.Sprintf("the price of %s in %s:%d", bought.Spool, ledger.Purchases, bought.Line)
	if spool.Priced() && e.fits(supposed{prices: map[*inventory.Spool]*big.Rat{spool: nil}}) {
		return "it would agree if " + where + " were blank"
	}
	in := with(new(big.Rat)).prices
	slope, cells := e.slope(func(by billedBy, kind int) *big.Rat {
		if _, ok := in[by.spool]; !ok {
			return nil
		}
		return new(big.Rat).Quo(e.b.shares(e.b.only, by.terms)[kind], net)
	})
	decimals, _ := ledger.MinorUnit(e.state.Currency)
	decimals = max(decimals, -bought.Price.Exponent())
	if price := e.solve(unknown{bought.Price.Rat(), slope, cells, decimals, nil, with}); price != nil {
		return fmt.Sprintf("it would agree if %s were %s; it is %s now", where, price.FloatString(int(decimals)), numberText(bought.Price))
	}
	return ""
}

func numberText(n ledger.Number) string {
	if !n.Given {
		return "blank"
	}
	return n.Decimal.String()
}

// slope returns by how much what is billed grows for each 1 of a figure, before it is rounded, and how many cells hang on it. weight is
// that of a gram; nil for grams that don't.
func (e *editSearch) slope(weight func(by billedBy, kind int) *big.Rat) (slope *big.Rat, cells int64) {
	var all exactSum
	for key, job := range e.b.jobs {
		if key.currency != e.state.Currency {
			continue
		}
		for _, of := range job.grams.list {
			for kind, g := range of.grams {
				if g == 0 {
					continue
				}
				if w := weight(of.by, kind); w != nil {
					all.add(costOf(w, g))
					cells++
				}
			}
		}
	}
	return all.sum(), cells
}

// unknown is a figure whose value of then is looked for.
type unknown struct {
	now      *big.Rat
	slope    *big.Rat // of what is billed
	cells    int64    // that hang on it: each may be rounded by half a minor unit, now and then
	decimals int32    // that the value may have
	most     *big.Rat // the greatest value; nil for none
	with     func(value *big.Rat) supposed
}

// solve returns the value with which the lines are those sent, nil where there is none.
func (e *editSearch) solve(u unknown) *big.Rat {
	if u.slope.Sign() == 0 {
		return nil
	}
	minor, _ := ledger.MinorUnit(e.state.Currency)
	now := e.b.sent(e.b.only, e.state.Currency, supposed{})
	middle := new(big.Rat).Sub(e.state.Billed.Rat(), now.Billed.Rat())
	middle.Add(middle.Quo(middle, u.slope), u.now)
	doubt := new(big.Rat).Mul(decimal.New(1, -minor).Rat(), big.NewRat(u.cells, 1))
	doubt.Quo(doubt, u.slope)
	step := decimal.New(1, -u.decimals).Rat()
	from, to := floorOf(new(big.Rat).Sub(middle, doubt), step), floorOf(new(big.Rat).Add(middle, doubt), step)
	if u.most != nil {
		to = min(to, floorOf(u.most, step))
	}
	if from = max(from, 0); to-from > mostTried {
		return nil
	}
	for n := from; n <= to; n++ {
		if value := new(big.Rat).Mul(step, big.NewRat(n, 1)); value.Cmp(u.now) != 0 && e.fits(u.with(value)) {
			return value
		}
	}
	return nil
}

// floorOf returns how many whole steps are in an amount, at most as many as an int64 holds well.
func floorOf(amount, step *big.Rat) int64 {
	const limit = 1 << 60
	steps := new(big.Rat).Quo(amount, step)
	n := new(big.Int).Div(steps.Num(), steps.Denom())
	switch {
	case n.Cmp(big.NewInt(limit)) > 0:
		return limit
	case n.Cmp(big.NewInt(-limit)) < 0:
		return -limit
	}
	return n.Int64()
}
