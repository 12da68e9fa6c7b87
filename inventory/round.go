package inventory

import (
	"cmp"
	"math/big"
	"slices"

	"github.com/shopspring/decimal"
)

// Rounding. Amounts stay exact until a report; then its cells are rounded so that they add up to the rounded total.

// Apportion rounds exact amounts, none below 0, to the given decimals by the largest remainder (Hamilton's method): each
// is cut off, and the units that are missing to the total rounded half up go to the largest remainders. Of equal
// remainders the larger amount comes first, then the earlier.
func Apportion(amounts []*big.Rat, decimals int32) []decimal.Decimal {
	unit := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(decimals)), nil))
	floors := make([]*big.Int, len(amounts))
	rests := make([]*big.Rat, len(amounts))
	total := new(big.Rat)
	missing := new(big.Int)
	for i, amount := range amounts {
		units := new(big.Rat).Mul(amount, unit)
		total.Add(total, units)
		floors[i] = floor(units)
		rests[i] = units.Sub(units, new(big.Rat).SetInt(floors[i]))
		missing.Sub(missing, floors[i])
	}
	missing.Add(missing, floor(total.Add(total, big.NewRat(1, 2))))
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

func floor(x *big.Rat) *big.Int {
	return new(big.Int).Div(x.Num(), x.Denom()) // Euclidean; the denominator is above 0
}
