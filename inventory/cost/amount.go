package cost

import (
	"cmp"
	"encoding/binary"
	"math/big"
	"slices"

	"github.com/shopspring/decimal"
)

// amounts are amounts of money, none below 0, each as a range. The exact value is a fraction that has thousands of digits where grams were
// bought at many prices, so that is computed only where the range leaves open how to round.
type amounts interface {
	len() int
	// at sets least to parts of the minor unit. The value is below least + cut; if cut is 0, it is least.
	at(i int, least *big.Int) (cut int64)
	exact(i int) *big.Rat
	// same reports whether two amounts are known to be equal.
	same(i, j int) bool
}

// parts is how many parts a minor unit is divided into. It is a power of 10, as most prices of a gram then have no rest.
var parts = powerOf10(36)

// fractions are amounts that are known exactly.
type fractions struct {
	list     []*big.Rat
	decimals int32 // of the minor unit
}

func (f fractions) len() int { return len(f.list) }

func (f fractions) at(i int, least *big.Int) (cut int64) {
	units, over := powerOf10(f.decimals), new(big.Int)
	least.DivMod(units.Mul(units.Mul(units, parts), f.list[i].Num()), f.list[i].Denom(), over)
	return int64(over.Sign())
}

func (f fractions) exact(i int) *big.Rat { return f.list[i] }

func (f fractions) same(i, j int) bool { return i == j }

// total rounds the sum of amounts half up.
func total(all amounts, decimals int32) decimal.Decimal {
	least, cut, one := new(big.Int), new(big.Int), new(big.Int)
	for i := range all.len() {
		cut.Add(cut, big.NewInt(all.at(i, one)))
		least.Add(least, one)
	}
	most := cut.Add(cut, least)
	for _, x := range []*big.Int{least, most} {
		x.Lsh(x, 1)
		x.Div(x.Add(x, parts), new(big.Int).Lsh(parts, 1)) // floor(x + 1/2)
	}
	if least.Cmp(most) == 0 {
		return decimal.NewFromBigInt(least, -decimals)
	}
	exact := make([]*big.Rat, all.len())
	for i := range exact {
		exact[i] = all.exact(i)
	}
	return RoundHalfUp(sum(exact), decimals)
}

// apportionTo rounds amounts to a total that is theirs rounded down or up. It keeps less of each than the amount, which of many would take
// much memory.
func apportionTo(total decimal.Decimal, all amounts, decimals int32) []decimal.Decimal {
	n := all.len()
	rounded, rests := make([]decimal.Decimal, n), make([]rest, n)
	missing := total.Shift(decimals).BigInt()
	known := unitsOf{decimals: decimals}
	var in room
	for i := range n {
		rests[i] = in.cutOff(all, i, decimals)
		rounded[i] = known.of(&in.floor)
		missing.Sub(missing, &in.floor)
	}
	if missing.Sign() > 0 {
		exact := map[int]*big.Rat{} // rests, where they are needed
		ofUnit := func(i int) *big.Rat {
			if exact[i] == nil {
				exact[i] = restOf(all.exact(i), decimals)
			}
			return exact[i]
		}
		slices.SortFunc(rests, func(a, b rest) int {
			c, sure := b.compare(&a)
			if !sure && !all.same(a.of, b.of) {
				c = ofUnit(b.of).Cmp(ofUnit(a.of))
			}
			if c != 0 { // nearly always
				return c
			}
			return cmp.Or(rounded[b.of].Cmp(rounded[a.of]), a.of-b.of)
		})
	}
	for _, r := range rests[:missing.Int64()] {
		in.floor.Add(rounded[r.of].Coefficient(), one)
		rounded[r.of] = known.of(&in.floor)
	}
	return rounded
}

var one = big.NewInt(1)

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
type room struct{ floor, amount, least, most big.Int }

// cutOff returns the rest of an amount; its whole minor units are in.floor.
func (in *room) cutOff(all amounts, i int, decimals int32) rest {
	r := rest{of: i}
	cut := all.at(i, &in.amount)
	if in.amount.Sign() == 0 && cut == 0 {
		in.floor.SetInt64(0)
		return r
	}
	in.floor.DivMod(&in.amount, parts, &in.least)
	if cut > 0 && in.most.Add(&in.least, in.most.SetInt64(cut)).Cmp(parts) >= 0 {
		exact, units := all.exact(i), powerOf10(decimals)
		in.floor.Div(units.Mul(units, exact.Num()), exact.Denom())
		r.most = partsOf(parts)
		return r
	}
	r.least = partsOf(&in.least)
	if r.most = r.least; cut > 0 {
		r.most = partsOf(&in.most)
	}
	return r
}

// compare orders rests; where two ranges overlap it is not sure.
func (r *rest) compare(o *rest) (c int, sure bool) {
	switch {
	case r.least.compare(o.most) > 0:
		return 1, true
	case o.least.compare(r.most) > 0:
		return -1, true
	case r.least == r.most && o.least == o.most:
		return r.least.compare(o.least), true
	}
	return 0, false
}

// restOf returns the exact rest of an amount.
func restOf(exact *big.Rat, decimals int32) *big.Rat {
	units := powerOf10(decimals)
	units.Mod(units.Mul(units, exact.Num()), exact.Denom())
	return new(big.Rat).SetFrac(units, exact.Denom())
}
