package cost

import (
	"math/big"

	"github.com/shopspring/decimal"

	"tarebook/ledger"
)

// Rounding. Amounts stay exact until a report; then its cells are rounded so that they add up to the rounded total.

// Apportion rounds exact amounts, none below 0, to the given decimals by the largest remainder (Hamilton's method): each
// is cut off, and the units that are missing to the total rounded half up go to the largest remainders. Of equal
// remainders the larger amount comes first, then the earlier.
func Apportion(amounts []*big.Rat, decimals int32) []decimal.Decimal {
	all := fractions{amounts, decimals}
	return apportionTo(total(all, decimals), all, decimals)
}

// RoundHalfUp rounds an exact amount, not below 0, half up.
func RoundHalfUp(amount *big.Rat, decimals int32) decimal.Decimal {
	return roundHalfUp(amount.Num(), amount.Denom(), decimals)
}

// roundHalfUp rounds num/denom, which need not be reduced.
func roundHalfUp(num, denom *big.Int, decimals int32) decimal.Decimal {
	// floor(n/d + 1/2) = floor((2n + d)/2d)
	twice := powerOf10(decimals)
	twice.Lsh(twice.Mul(twice, num), 1)
	twice.Add(twice, denom)
	return decimal.NewFromBigInt(twice.Div(twice, new(big.Int).Lsh(denom, 1)), -decimals)
}

// RoundGrams rounds exact grams, not below 0, half up to 0.001 g.
func RoundGrams(g *big.Rat) ledger.Grams { return gramsOf(RoundHalfUp(g, 3)) }

// gramsOf are grams that were rounded to 0.001.
func gramsOf(g decimal.Decimal) ledger.Grams { return ledger.Grams(g.Shift(3).IntPart()) }

func powerOf10(n int32) *big.Int {
	if n > 18 {
		return new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(n)), nil)
	}
	p := int64(1)
	for range n {
		p *= 10
	}
	return big.NewInt(p)
}

// sum adds exact amounts, by halves: fractions over many denominators grow, and so few additions are of grown ones.
func sum(amounts []*big.Rat) *big.Rat {
	switch n := len(amounts); n {
	case 0:
		return new(big.Rat)
	case 1:
		return new(big.Rat).Set(amounts[0])
	default:
		return new(big.Rat).Add(sum(amounts[:n/2]), sum(amounts[n/2:]))
	}
}

// exactSum is an amount as a sum that is yet to be taken.
type exactSum []*big.Rat

func (e *exactSum) add(amounts ...*big.Rat) { *e = append(*e, amounts...) }

func (e exactSum) sum() *big.Rat { return sum(e) }
