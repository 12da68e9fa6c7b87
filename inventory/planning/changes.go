package planning

import (
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// ChangePurge is what one machine purged in the rows that know how many changes they made, whatever the filament cost.
type ChangePurge struct {
	Printer string
	Changes int
	Purge   ledger.Grams
}

// ChangePurgeOf returns what the row's machine purged; the row is of a costing by printer.
func ChangePurgeOf(r cost.Row) ChangePurge { return ChangePurge{r.Key, r.Changes, r.ChangesPurge} }

// PerChange returns grams of purge a change; the machine has made one at least.
func (p ChangePurge) PerChange() float64 { return p.Purge.Float() / float64(p.Changes) }

// ChangePurges sums the rows of a costing by printer over currencies. Machines without a known change are left out.
func ChangePurges(rows []cost.Row) []ChangePurge {
	var all []ChangePurge
	for _, r := range rows { // by key: those of one machine follow each other
		if n := len(all) - 1; n >= 0 && all[n].Printer == r.Key {
			all[n].Changes += r.Changes
			all[n].Purge += r.ChangesPurge
		} else {
			all = append(all, ChangePurgeOf(r))
		}
	}
	known := all[:0]
	for _, p := range all {
		if p.Changes > 0 {
			known = append(known, p)
		}
	}
	return known
}
