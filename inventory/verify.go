package inventory

import (
	"fmt"
	"time"

	"tarebook/ledger"
)

// Verify returns all that is wrong with a book: what package ledger finds in its rows, consumption booked after the end of its spool, and
// figures that cannot be. now is the clock.
func Verify(v *ledger.View, now time.Time) (*ledger.Verified, error) {
	shelf, err := LoadSpools(v)
	if err != nil {
		shelf = nil // the rows that break a rule are problems of their own
	}
	judge := &rowJudge{ends: endsOf(v)}
	if shelf != nil {
		shelf.usage = newUsage(shelf.Spools)
		judge.usage = shelf.usage
	}
	found, err := v.Verify(now, judge)
	if err != nil {
		return nil, err
	}
	_, unread := v.Voids()
	if shelf != nil && found.Readable && unread == nil {
		shelf.derive()
		found.Problems = append(found.Problems, impossible(v, shelf)...)
	} else if materials, err := v.Materials(); err == nil {
		found.Problems = append(found.Problems, impossibleMaterials(materials)...)
	}
	return found, nil
}

// impossible returns the figures of a book that cannot be.
func impossible(v *ledger.View, shelf *Shelf) []ledger.Problem {
	problems := shelf.Impossible()
	if needs, err := v.Needs(); err == nil {
		problems = append(problems, queuedPath(needs)...)
	}
	return problems
}

// endsOf returns the weigh-in that ended each spool.
func endsOf(v *ledger.View) map[string]*ledger.Weighin {
	ends := map[string]*ledger.Weighin{}
	if purchases, err := v.Purchases(); err == nil && len(purchases) > 0 {
		weighins, err := v.Weighins()
		for _, w := range weighins {
			if w.Ends() && ends[w.Spool] == nil && err == nil {
				ends[w.Spool] = w
			}
		}
	}
	return ends
}

// rowJudge finds consumption after the end of its spool, and folds what is on the shelf in the same pass.
type rowJudge struct {
	ends  map[string]*ledger.Weighin
	byRow ledger.SpoolMap[*ledger.Weighin]
	usage *Usage // nil if the shelf could not be read
}

// Judge implements ledger.Judge.
func (j *rowJudge) Judge(row *ledger.Consumption) string {
	if j.usage != nil {
		j.usage.Add(row)
	}
	// At the instant of the end, consumption comes after it.
	if end := j.byRow.Get(row); end != nil && !row.At.Before(end.At) {
		return fmt.Sprintf("%s ended on %s; what is booked on it later counts in cost alone", end.Spool, end.At)
	}
	return ""
}

// Reset implements ledger.Judge.
func (j *rowJudge) Reset() {
	j.byRow = ledger.NewSpoolMap(j.ends)
	if j.usage != nil {
		j.usage.Reset()
	}
}

// Split implements ledger.Judge.
func (j *rowJudge) Split() ledger.Judge {
	o := &rowJudge{ends: j.ends, byRow: ledger.NewSpoolMap(j.ends)}
	if j.usage != nil {
		o.usage = j.usage.Split().(*Usage)
	}
	return o
}

// Join implements ledger.Judge.
func (j *rowJudge) Join(o ledger.Judge) {
	if j.usage != nil {
		j.usage.Merge(o.(*rowJudge).usage)
	}
}
