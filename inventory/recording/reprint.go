package recording

import (
	"fmt"

	"tarebook/inventory"
	"tarebook/ledger"
)

// A job that is over may be typed once more by mistake, or because it is printed again.

// lastPrint keeps the rows of a job's last print that finished.
type lastPrint struct {
	job  string // folded
	rows []*ledger.Consumption
}

func (p *lastPrint) Add(row *ledger.Consumption) {
	if ledger.Fold(row.Job) != p.job || row.Outcome != ledger.Finished {
		return
	}
	if len(p.rows) > 0 {
		switch c := row.At.Compare(p.rows[0].At); {
		case c < 0:
			return
		case c > 0:
			p.rows = nil
		}
	}
	p.rows = append(p.rows, row.Clone())
}

func (p *lastPrint) Reset() { p.rows = nil }

// printed returns the rows of the job's last print that finished, and says when that was; none if it never did.
func printed(v *ledger.View, job string) (rows []*ledger.Consumption, words string, err error) {
	p := &lastPrint{job: ledger.Fold(job)}
	if err := v.FoldConsumption(p); err != nil || len(p.rows) == 0 {
		return nil, "", err
	}
	first := p.rows[0]
	handles, err := v.Handles([]string{first.Name()})
	if err != nil {
		return nil, "", err
	}
	return p.rows, fmt.Sprintf("%s was booked as finished on %s (handle %s)", first.Job, first.At.Std().Format("2006-01-02 15:04"), handles[first.Name()]), nil
}

// reprint returns what the last print took, to be booked again.
func reprint(shelf *inventory.Shelf, last []*ledger.Consumption) (portions []portion) {
	for _, row := range last {
		portions = append(portions, portion{spools: []*inventory.Spool{shelf.Spool(row.Spool)}, masses: row.Masses, basis: row.Basis, slot: row.Slot, sliced: row.File})
	}
	return portions
}
