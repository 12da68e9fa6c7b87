package cost

import (
	"cmp"
	"math/big"
	"slices"

	"github.com/shopspring/decimal"
)

// amount is what grams cost, not below 0, as a range. Its exact value is a fraction that has thousands of digits where grams were bought
// at many prices, so that is computed only where the range leaves open how to round.
type amount struct {
	least *big.Int // parts of the minor unit
	cut   int64    // the value is below least + cut; 0: it is least
	exact func() *big.Rat
}

// parts is how many parts a minor unit is divided into. It is a power of 10, as most prices of a gram then have no rest.
var parts = powerOf10(36)

// amountOf returns an exact amount in units of so many decimals.
func amountOf(exact *big.Rat, decimals int32) amount {
	units := powerOf10(decimals)
	least, over := units.Mul(units.Mul(units, parts), exact.Num()), new(big.Int)
	least.DivMod(least, exact.Denom(), over)
	return amount{least, int64(over.Sign()), func() *big.Rat { return exact }}
}

func amountsOf(exact []*big.Rat, decimals int32) []amount {
	amounts := make([]amount, len(exact))
	for i, a := range exact {
		amounts[i] = amountOf(a, decimals)
	}
	return amounts
}

// total rounds the sum of amounts half up.
func total(amounts []amount, decimals int32) decimal.Decimal {
	least, cut := new(big.Int), new(big.Int)
	for _, a := range amounts {
		least.Add(least, a.least)
		cut.Add(cut, big.NewInt(a.cut))
	}
	most := cut.Add(cut, least)
	for _, x := range []*big.Int{least, most} {
		x.Lsh(x, 1)
		x.Div(x.Add(x, parts), new(big.Int).Lsh(parts, 1)) // floor(x + 1/2)
	}
	if least.Cmp(most) == 0 {
		return decimal.NewFromBigInt(least, -decimals)
	}
	exact := make([]*big.Rat, len(amounts))
	for i, a := range amounts {
		exact[i] = a.exact()
	}
	return RoundHalfUp(sum(exact), decimals)
}

// apportionTo rounds amounts to a total that is theirs rounded down or up.
func apportionTo(total decimal.Decimal, amounts []amount, decimals int32) []decimal.Decimal {
	floors := make([]*big.Int, len(amounts))
	rests := make([]rest, len(amounts))
	missing := total.Shift(decimals).BigInt()
	for i := range amounts {
		floors[i], rests[i] = amounts[i].cutOff(decimals)
		rests[i].of = i
		missing.Sub(missing, floors[i])
	}
	if missing.Sign() > 0 {
		slices.SortFunc(rests, func(a, b rest) int {
			if a.last < b.first { // nearly always
				return 1
			} else if b.last < a.first {
				return -1
			}
			return cmp.Or(b.compare(&a), floors[b.of].Cmp(floors[a.of]), a.of-b.of)
		})
	}
	for _, r := range rests[:missing.Int64()] {
		floors[r.of].Add(floors[r.of], big.NewInt(1))
	}
	rounded := make([]decimal.Decimal, len(amounts))
	for i := range rounded {
		rounded[i] = decimal.NewFromBigInt(floors[i], -decimals)
	}
	return rounded
}

// rest is what a floor leaves of an amount, from 0 to below 1 minor unit.
type rest struct {
	of          int      // the place of the amount
	first, last uint64   // least and most in larger parts
	least, most *big.Int // parts, between which it is; the same for an exact one
	exact       func() *big.Rat
	decimals    int32
}

// cutOff returns the whole minor units of an amount and the rest.
func (a *amount) cutOff(decimals int32) (floor *big.Int, r rest) {
	floor, r = new(big.Int), rest{least: new(big.Int), exact: a.exact, decimals: decimals}
	if r.most = r.least; a.least.Sign() == 0 && a.cut == 0 {
		return floor, r
	}
	floor.DivMod(a.least, parts, r.least)
	if a.cut > 0 {
		if r.most = new(big.Int).Add(r.least, big.NewInt(a.cut)); r.most.Cmp(parts) >= 0 {
			exact, units := a.exact(), powerOf10(decimals)
			floor.Div(units.Mul(units, exact.Num()), exact.Denom())
			r.least, r.most = new(big.Int), parts
		}
	}
	r.first, r.last = larger(r.least), larger(r.most)
	return floor, r
}

// larger returns parts in parts that are 2^56 times as large, cut off.
func larger(x *big.Int) uint64 {
	var shifted big.Int
	return shifted.Rsh(x, 56).Uint64() // there are less than 2^120 parts
}

func (r *rest) compare(o *rest) int {
	switch {
	case r.least.Cmp(o.most) > 0:
		return 1
	case o.least.Cmp(r.most) > 0:
		return -1
	case r.least == r.most && o.least == o.most:
		return r.least.Cmp(o.least)
	}
	return r.ofUnit().Cmp(o.ofUnit())
}

// ofUnit returns the exact rest.
func (r *rest) ofUnit() *big.Rat {
	exact, units := r.exact(), powerOf10(r.decimals)
	units.Mod(units.Mul(units, exact.Num()), exact.Denom())
	return new(big.Rat).SetFrac(units, exact.Denom())
}
