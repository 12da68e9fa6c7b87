package cost

import (
	"math/big"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/ledger"
)

// What the tests reach inside for: amounts before they are rounded, and folds that are merged by hand.

// Another returns a costing of the same view and key with no rows.
func (c *Costing) Another() *Costing {
	o := *c
	o.Reset()
	return &o
}

// RoundedSum is the sum of amounts rounded half up.
func RoundedSum(amounts []*big.Rat, decimals int32) decimal.Decimal {
	return total(fractions{amounts, decimals}, decimals)
}

// NewBilling returns a billing with no rows.
func NewBilling(v *ledger.View, client, from, to string) (*Billing, error) {
	shelf, err := inventory.LoadPrices(v)
	if err != nil {
		return nil, err
	}
	return newBilling(v, shelf, client, from, to)
}

// Another returns a billing of the same view, client and days with no rows.
func (b *Billing) Another() *Billing {
	o := *b
	o.Reset()
	return &o
}

// Bill returns the statement of what was gathered.
func (b *Billing) Bill(client string) (*Statement, error) { return b.statement(client, nil) }
