package cost

import (
	"slices"

	"tarebook/ledger"
)

// billedBefore returns whether one of the bills has a row: it is of its client, period and currency, and was issued after the row was
// recorded. What came later is on none.
func billedBefore(bills []*ledger.Bill) func(row *ledger.Consumption, client, day, currency string) bool {
	return func(row *ledger.Consumption, client, day, currency string) bool {
		return slices.ContainsFunc(bills, func(b *ledger.Bill) bool {
			return b.Currency == currency && b.Holds(client, day) && !b.Before(&row.Head)
		})
	}
}
