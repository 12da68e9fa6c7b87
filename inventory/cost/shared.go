package cost

import (
	"tarebook/inventory"
	"tarebook/ledger"
)

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

// knownNames folds how rows spell names that are known already.
type knownNames struct {
	inventory.Spellings
	known  inventory.Spellings // before any row
	spools ledger.SpoolMap[*inventory.Spool]
}

// Add adds one row; one about a spool without a purchase that counts is left out.
func (k *knownNames) Add(row *ledger.Consumption) {
	if k.spools.Get(row) != nil {
		k.SeeKnown(row)
	}
}

// Reset forgets all rows.
func (k *knownNames) Reset() { k.Spellings, k.spools = k.known.Clone(), k.spools.Reader() }

// Split returns a fold over the same names without rows.
func (k *knownNames) Split() ledger.SharedFold {
	o := &knownNames{known: k.known, spools: k.spools}
	o.Reset()
	return o
}

// Join merges what a fold that Split returned has seen.
func (k *knownNames) Join(o ledger.SharedFold) { k.Merge(&o.(*knownNames).Spellings) }
