package cost

import (
	"math/big"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Value returns what is left on a spool at its price, half up to the currency's minor unit; 0 for a book below 0 and for a spool
// without a price.
func Value(s *inventory.Spool) decimal.Decimal {
	if !s.Priced() || s.Net <= 0 {
		return decimal.Zero
	}
	decimals, _ := ledger.MinorUnit(s.Currency())
	return ShareOf(s.PricedBy(), s.Net, decimals)
}

// ShareOf returns what so many grams of a spool with a price cost, half up. The fraction is not reduced: that would take longer than
// all else.
func ShareOf(p *ledger.Purchase, g ledger.Grams, decimals int32) decimal.Decimal {
	num, denom := p.Price.Coefficient(), big.NewInt(int64(p.NetG))
	num.Mul(num, big.NewInt(int64(g)))
	if e := p.Price.Exponent(); e >= 0 {
		num.Mul(num, powerOf10(e))
	} else {
		denom.Mul(denom, powerOf10(-e))
	}
	return roundHalfUp(num, denom, decimals)
}
