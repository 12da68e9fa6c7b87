package inventory

import (
	"cmp"
	"math/big"
	"slices"

	"github.com/shopspring/decimal"

	"tarebook/ledger"
)

// Rounding. Amounts stay exact until a report; then its cells are rounded so that they add up to the rounded total.

// Apportion rounds exact amounts, none below 0, to the given decimals by the largest remainder (Hamilton's method): each
// is cut off, and the units that are missing to the total rounded half up go to the largest remainders. Of equal
// remainders the larger amount comes first, then the earlier.
func Apportion(amounts []*big.Rat, decimals int32) []decimal.Decimal {
	return apportionTo(RoundHalfUp(sum(amounts), decimals), amounts, decimals)
}

// apportionTwo rounds two columns of amounts so that each adds up, and both together: the first to its total half up, the second to
// what is then left of the total of both half up. That is the second's exact total rounded down or up, so that no amount of it
// is rounded further than that.
func apportionTwo(first, second []*big.Rat, decimals int32) (a, b []decimal.Decimal) {
	one := sum(first)
	both := new(big.Rat).Add(one, sum(second))
	rounded := RoundHalfUp(one, decimals)
	return apportionTo(rounded, first, decimals), apportionTo(RoundHalfUp(both, decimals).Sub(rounded), second, decimals)
}

// apportionSigned is Apportion for amounts of either sign: those below 0 are rounded apart, without their sign.
func apportionSigned(amounts []*big.Rat, decimals int32) []decimal.Decimal {
	above, below := make([]*big.Rat, len(amounts)), make([]*big.Rat, len(amounts))
	for i, amount := range amounts {
		above[i], below[i] = amount, new(big.Rat)
		if amount.Sign() < 0 {
			above[i], below[i] = below[i], new(big.Rat).Neg(amount)
		}
	}
	rounded := Apportion(above, decimals)
	for i, less := range Apportion(below, decimals) {
		rounded[i] = rounded[i].Sub(less)
	}
	return rounded
}

// apportionTo rounds amounts to a total that is theirs rounded down or up.
func apportionTo(total decimal.Decimal, amounts []*big.Rat, decimals int32) []decimal.Decimal {
	unit := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(decimals)), nil))
	floors := make([]*big.Int, len(amounts))
	rests := make([]*big.Rat, len(amounts))
	missing := total.Shift(decimals).BigInt()
	for i, amount := range amounts {
		units := new(big.Rat).Mul(amount, unit)
		floors[i] = floor(units)
		rests[i] = units.Sub(units, new(big.Rat).SetInt(floors[i]))
		missing.Sub(missing, floors[i])
	}
	order := make([]int, len(amounts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(rests[b].Cmp(rests[a]), amounts[b].Cmp(amounts[a]))
	})
	for _, i := range order[:missing.Int64()] {
		floors[i].Add(floors[i], big.NewInt(1))
	}
	rounded := make([]decimal.Decimal, len(amounts))
	for i := range rounded {
		rounded[i] = decimal.NewFromBigInt(floors[i], -decimals)
	}
	return rounded
}

// RoundHalfUp rounds an exact amount, not below 0, half up.
func RoundHalfUp(amount *big.Rat, decimals int32) decimal.Decimal {
	// floor(n/d + 1/2) = floor((2n + d)/2d), without reducing fractions on the way
	twice := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(decimals)), nil)
	twice.Lsh(twice.Mul(twice, amount.Num()), 1)
	twice.Add(twice, amount.Denom())
	return decimal.NewFromBigInt(twice.Div(twice, new(big.Int).Lsh(amount.Denom(), 1)), -decimals)
}

// roundedGrams are grams that were rounded to 0.001.
func roundedGrams(g decimal.Decimal) ledger.Grams { return ledger.Grams(g.Shift(3).IntPart()) }

func sum(amounts []*big.Rat) *big.Rat {
	total := new(big.Rat)
	for _, amount := range amounts {
		total.Add(total, amount)
	}
	return total
}

func floor(x *big.Rat) *big.Int {
	return new(big.Int).Div(x.Num(), x.Denom()) // Euclidean; the denominator is above 0
}
