package cost

import "tarebook/ledger"

// Several workers fold consumption at a time, each into a fold of its own, that are merged at the end.

// Split returns a costing of the same view and key without rows.
func (c *Costing) Split() ledger.SharedFold {
	o := *c
	o.Reset()
	return &o
}

// Join is Merge with a costing that Split returned.
func (c *Costing) Join(o ledger.SharedFold) { c.Merge(o.(*Costing)) }

// Split returns a billing of the same view, client and days without rows.
func (b *Billing) Split() ledger.SharedFold {
	o := *b
	o.Reset()
	return &o
}

// Join is Merge with a billing that Split returned.
func (b *Billing) Join(o ledger.SharedFold) { b.Merge(o.(*Billing)) }
