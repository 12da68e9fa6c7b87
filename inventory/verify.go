package inventory

import (
	"fmt"
	"strings"
	"time"

	"tarebook/ledger"
)

// Verify returns the number of distinct entries and all that is wrong with a book: what package ledger finds in its
// rows, and consumption booked after the end of its spool. now is the clock; seals are the last of every ledger and month.
func Verify(v *ledger.View, now time.Time) (entries int, problems []ledger.Problem, seals []*ledger.SealState, err error) {
	ends := map[string]*ledger.Weighin{}
	if purchases, err := v.Purchases(); err == nil && len(purchases) > 0 {
		weighins, err := v.Weighins()
		for _, w := range weighins {
			if w.Ends() && ends[w.Spool] == nil && err == nil {
				ends[w.Spool] = w
			}
		}
	}
	var late []ledger.Problem
	entries, problems, seals, err = v.Verify(now, func(row *ledger.Consumption) {
		// At the instant of the end, consumption comes after it.
		if end := ends[row.Spool]; end != nil && !row.At.Before(end.At) {
			late = append(late, ledger.Problem{File: ledger.ConsumptionFile, Line: row.Line, Entry: strings.Clone(row.Entry),
				What: fmt.Sprintf("%s ended on %s; what is booked on it later counts in cost alone", end.Spool, end.At)})
		}
	})
	return entries, append(problems, late...), seals, err
}
