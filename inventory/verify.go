package inventory

import (
	"fmt"
	"time"

	"tarebook/ledger"
)

// Verify returns the number of distinct entries and all that is wrong with a book: what package ledger finds in its
// rows, consumption booked after the end of its spool, and figures that cannot be. now is the clock; seals are the last of every ledger and month.
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
	entries, problems, seals, err = v.Verify(now, func(row *ledger.Consumption) string {
		// At the instant of the end, consumption comes after it.
		if end := ends[row.Spool]; end != nil && !row.At.Before(end.At) {
			return fmt.Sprintf("%s ended on %s; what is booked on it later counts in cost alone", end.Spool, end.At)
		}
		return ""
	})
	if err == nil {
		problems = append(problems, impossible(v)...)
	}
	return entries, problems, seals, err
}

// impossible returns the figures of a book that cannot be. What a row that breaks a rule keeps from being known is left out: that
// row is a problem of its own.
func impossible(v *ledger.View) []ledger.Problem {
	shelf, err := Load(v)
	if err != nil {
		materials, err := v.Materials()
		if err != nil {
			return nil
		}
		return impossibleMaterials(materials)
	}
	problems := shelf.Impossible()
	if needs, err := v.Needs(); err == nil {
		problems = append(problems, queuedPath(needs)...)
	}
	return problems
}
