package cost

import (
	"cmp"
	"encoding/binary"
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

// apportionTo rounds n amounts to a total that is theirs rounded down or up. at may use the number least for what it returns. It is called
// again where what is kept of an amount leaves open how to round: of many, the amounts themselves would take much memory.
func apportionTo(total decimal.Decimal, n int, at func(i int, least *big.Int) amount, decimals int32) []decimal.Decimal {
	rounded, rests := make([]decimal.Decimal, n), make([]rest, n)
	missing := total.Shift(decimals).BigInt()
	known := unitsOf{decimals: decimals}
	var least big.Int
	var in room
	for i := range n {
		a := at(i, &least)
		rests[i] = a.cutOff(decimals, &in)
		rests[i].of = i
		rounded[i] = known.of(&in.floor)
		missing.Sub(missing, &in.floor)
	}
	if missing.Sign() > 0 {
		exact := map[int]*big.Rat{} // rests, where they are needed
		ofUnit := func(i int) *big.Rat {
			if exact[i] == nil {
				a := at(i, new(big.Int))
				exact[i] = a.ofUnit(decimals)
			}
			return exact[i]
		}
		slices.SortFunc(rests, func(a, b rest) int {
			if c := b.compare(&a, ofUnit); c != 0 { // nearly always
				return c
			}
			return cmp.Or(rounded[b.of].Cmp(rounded[a.of]), a.of-b.of)
		})
	}
	one := decimal.New(1, -decimals)
	for _, r := range rests[:missing.Int64()] {
		rounded[r.of] = known.of(rounded[r.of].Add(one).Coefficient())
	}
	return rounded
}

// unitsOf makes amounts of whole minor units. Small ones are the same over and over, so they share their memory.
type unitsOf struct {
	decimals int32
	small    map[int64]decimal.Decimal
}

const mostSmall = 1 << 16

func (u *unitsOf) of(units *big.Int) decimal.Decimal {
	if !units.IsInt64() || units.Int64() >= mostSmall {
		return decimal.NewFromBigInt(units, -u.decimals)
	}
	d, known := u.small[units.Int64()]
	if !known {
		if u.small == nil {
			u.small = map[int64]decimal.Decimal{}
		}
		d = decimal.NewFromBigInt(units, -u.decimals)
		u.small[units.Int64()] = d
	}
	return d
}

// rest is what a floor leaves of an amount, from 0 to below 1 minor unit, as a range.
type rest struct {
	of          int // the place of the amount
	least, most part128
}

// part128 is a number of parts up to 1 minor unit, which is less than 2^128.
type part128 struct{ high, low uint64 }

func partsOf(x *big.Int) part128 {
	var bytes [16]byte
	x.FillBytes(bytes[:])
	return part128{binary.BigEndian.Uint64(bytes[:8]), binary.BigEndian.Uint64(bytes[8:])}
}

func (p part128) compare(o part128) int {
	return cmp.Or(cmp.Compare(p.high, o.high), cmp.Compare(p.low, o.low))
}

// room is what cutOff reckons in, and the whole minor units that it found.
type room struct{ floor, least, most big.Int }

// cutOff returns the rest of an amount; its whole minor units are in.floor.
func (a *amount) cutOff(decimals int32, in *room) (r rest) {
	if a.least.Sign() == 0 && a.cut == 0 {
		in.floor.SetInt64(0)
		return r
	}
	in.floor.DivMod(a.least, parts, &in.least)
	if a.cut > 0 && in.most.Add(&in.least, in.most.SetInt64(a.cut)).Cmp(parts) >= 0 {
		exact, units := a.exact(), powerOf10(decimals)
		in.floor.Div(units.Mul(units, exact.Num()), exact.Denom())
		return rest{most: partsOf(parts)}
	}
	r.least = partsOf(&in.least)
	if r.most = r.least; a.cut > 0 {
		r.most = partsOf(&in.most)
	}
	return r
}

// compare orders rests. ofUnit returns the exact rest of an amount, which is asked for only where two ranges overlap.
func (r *rest) compare(o *rest, ofUnit func(i int) *big.Rat) int {
	switch {
	case r.least.compare(o.most) > 0:
		return 1
	case o.least.compare(r.most) > 0:
		return -1
	case r.least == r.most && o.least == o.most:
		return r.least.compare(o.least)
	}
	return ofUnit(r.of).Cmp(ofUnit(o.of))
}

// ofUnit returns the exact rest.
func (a *amount) ofUnit(decimals int32) *big.Rat {
	exact, units := a.exact(), powerOf10(decimals)
	units.Mod(units.Mul(units, exact.Num()), exact.Denom())
	return new(big.Rat).SetFrac(units, exact.Denom())
}
