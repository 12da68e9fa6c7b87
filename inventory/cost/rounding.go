package cost

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
	return apportionTo(roundedSum(amounts, decimals), amounts, decimals)
}

// apportionTo rounds amounts to a total that is theirs rounded down or up.
func apportionTo(total decimal.Decimal, amounts []*big.Rat, decimals int32) []decimal.Decimal {
	unit := powerOf10(decimals)
	floors := make([]*big.Int, len(amounts))
	rests := make([]rest, len(amounts))
	missing := total.Shift(decimals).BigInt()
	units := new(big.Int)
	for i, amount := range amounts {
		over := new(big.Int)
		floors[i], over = new(big.Int).DivMod(units.Mul(amount.Num(), unit), amount.Denom(), over)
		rests[i] = newRest(over, amount.Denom())
		missing.Sub(missing, floors[i])
	}
	order := make([]int, len(amounts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if c := rests[b].compare(&rests[a]); c != 0 {
			return c
		}
		return amounts[b].Cmp(amounts[a])
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

// rest is what a floor leaves of an amount, from 0 to below 1.
type rest struct {
	first       uint64 // its first 64 bits, which nearly always tell which of two is larger
	over, denom *big.Int
}

func newRest(over, denom *big.Int) rest {
	first := new(big.Int).Lsh(over, 64)
	return rest{first.Div(first, denom).Uint64(), over, denom}
}

func (r *rest) compare(o *rest) int {
	if c := cmp.Compare(r.first, o.first); c != 0 {
		return c
	}
	return new(big.Int).Mul(r.over, o.denom).Cmp(new(big.Int).Mul(o.over, r.denom))
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

// roundedSum is the sum of amounts, none below 0, rounded half up. The exact sum of amounts over many denominators is a fraction of
// thousands of digits; so first each is cut off far behind the minor unit, and the exact sum is taken only where what was cut
// off might matter.
func roundedSum(amounts []*big.Rat, decimals int32) decimal.Decimal {
	const bits = 96
	unit := powerOf10(decimals)
	unit.Lsh(unit, bits)
	least, one, over := new(big.Int), new(big.Int), new(big.Int)
	cut := int64(0)
	for _, amount := range amounts {
		one.DivMod(one.Mul(amount.Num(), unit), amount.Denom(), over)
		least.Add(least, one)
		if over.Sign() != 0 {
			cut++ // by less than 1
		}
	}
	most := new(big.Int).Add(least, big.NewInt(cut))
	half := new(big.Int).Lsh(big.NewInt(1), bits-1)
	for _, x := range []*big.Int{least, most} {
		x.Rsh(x.Add(x, half), bits)
	}
	if least.Cmp(most) == 0 {
		return decimal.NewFromBigInt(least, -decimals)
	}
	return RoundHalfUp(sum(amounts), decimals)
}

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
