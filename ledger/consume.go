package ledger

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
)

// A ConsumptionFold takes consumption rows in any order. Rows are reused: what a fold keeps, it clones.
type ConsumptionFold interface {
	Add(*Consumption)
	Reset() // forgets all rows that were added, because the pass starts again
}

// maxFaults is how many faults of a broken ledger one pass keeps. Verify keeps all.
const maxFaults = 100

// FoldConsumption adds every live consumption row to the fold, once each and in no particular order. Memory grows only with rows that
// have no entry and with entries that come out of order, because only those can repeat.
func (v *View) FoldConsumption(f ConsumptionFold) error {
	p, err := v.newPass(f, maxFaults)
	if err != nil {
		return err
	}
	_, err = p.runAll()
	return err
}

// runAll runs the pass. If entries came out of order, it reads the file again to see whether they repeat. If they do, it resets the fold
// and runs the pass once more without the copies. It returns the entries that repeat.
func (p *pass) runAll() (map[string]*repeats, error) {
	if err := p.run(nil); err != nil || len(p.late) == 0 {
		return nil, err
	}
	twice, err := p.repeated()
	if err != nil || len(twice) == 0 {
		return nil, err
	}
	p.fold.Reset()
	return twice, p.run(twice)
}

// watchConsumption calls each with every sound row, once for each entry and voided ones too, after it has noted the conflicts. Its error
// holds all faults.
func (v *View) watchConsumption(each func(*Consumption)) error {
	_, e1 := v.Purchases()
	_, e2 := v.Voids()
	// Faults in those files are reported elsewhere. Only if no spool is known, nothing can be said about consumption.
	if err := cmp.Or(e1, e2); err != nil && (faultsOf(err) == nil || len(v.known) == 0) {
		return err
	}
	p := &pass{v: v, fold: nothing{}, limit: math.MaxInt}
	if err := p.run(nil); err != nil && faultsOf(err) == nil {
		return err
	}
	var twice map[string]*repeats
	if len(p.late) > 0 {
		var err error
		if twice, err = p.repeated(); err != nil && faultsOf(err) == nil {
			return err
		}
		p.noteConflicts(twice)
	}
	return p.read(func(row *Consumption) {
		row.setID()
		if row.Entry == "" && p.seen[row.ID] != row.Line {
			return
		}
		if r := twice[row.ID]; r == nil || r.counts == row.Line || r.counts == 0 && r.lines[0] == row.Line {
			each(row)
		}
	})
}

// nothing is a fold that keeps no rows.
type nothing struct{}

func (nothing) Add(*Consumption) {}
func (nothing) Reset()           {}

// setID sets the ID of a row without an entry, by its content.
func (h *Head) setID() {
	if h.ID == "" {
		h.ID = strings.ToUpper(contentID(h.canonical()))
	}
}

// pass is one run over consumption.csv; it may read the file several times.
type pass struct {
	v      *View
	fold   ConsumptionFold
	faults Faults
	limit  int

	late map[string]bool // entries that came after a greater one, so they may repeat an earlier row
	seen map[string]int  // rows without an entry: the first line of each ID
}

func (v *View) newPass(f ConsumptionFold, limit int) (*pass, error) {
	_, err1 := v.Purchases()
	_, err2 := v.Voids()
	if err := JoinFaults(err1, err2); err != nil {
		return nil, err
	}
	return &pass{v: v, fold: f, limit: limit}, nil
}

// repeats describes an entry that is in the file several times.
type repeats struct {
	counts int // the line that counts; 0 if the rows differ, so that none counts
	lines  []int
	text   string
}

func (p *pass) run(twice map[string]*repeats) error {
	p.late, p.seen, p.faults = map[string]bool{}, map[string]int{}, nil
	p.v.consumption = nil
	greatest := ""
	err := p.read(func(row *Consumption) {
		row.setID()
		if row.Entry == "" {
			if _, ok := p.seen[row.ID]; ok {
				return
			}
			p.seen[row.ID] = row.Line
		} else {
			if row.ID <= greatest {
				if !p.late[row.ID] {
					p.late[strings.Clone(row.ID)] = true
				}
			} else {
				greatest = row.ID
			}
			if r := twice[row.ID]; r != nil && r.counts != row.Line {
				return
			}
		}
		if !p.v.hidden[row.ID] {
			p.fold.Add(row)
		}
	})
	if err != nil {
		return err
	}
	p.noteConflicts(twice)
	return nil
}

func (p *pass) noteConflicts(twice map[string]*repeats) {
	for _, id := range slices.Sorted(maps.Keys(twice)) {
		if r := twice[id]; r.counts == 0 && !p.v.hidden[id] {
			p.v.consumption = append(p.v.consumption, entryConflict(ConsumptionFile, id, r.lines))
		}
	}
}

// repeated reads the file again for late entries and returns those that are in it several times.
func (p *pass) repeated() (map[string]*repeats, error) {
	all := map[string]*repeats{}
	err := p.read(func(row *Consumption) {
		id := strings.ToUpper(row.Entry)
		if !p.late[id] {
			return
		}
		text := contentOf(row.canonical())
		if r := all[id]; r == nil {
			all[strings.Clone(id)] = &repeats{row.Line, []int{row.Line}, text}
		} else {
			r.lines = append(r.lines, row.Line)
			if r.text != text {
				r.counts = 0
			}
		}
	})
	maps.DeleteFunc(all, func(_ string, r *repeats) bool { return len(r.lines) == 1 })
	return all, err
}

// read calls each with every row that the view includes and whose spool was bought. Other rows are faults.
func (p *pass) read(each func(*Consumption)) error {
	p.faults = nil
	more := 0
	bad := func(e *RowError) {
		if len(p.faults) < p.limit {
			p.faults = append(p.faults, e)
		} else {
			more++
		}
	}
	stream := p.v.stream
	if p.v.stream = nil; stream == nil {
		var err error
		if stream, err = p.v.newRowStream(); err != nil {
			return err
		}
	}
	err := stream.each(func(row *Consumption) {
		if !p.v.known[row.Spool] {
			p.v.spoolKnown("spool", row.Spool, func(what, mend string) {
				bad(&RowError{ConsumptionFile, row.Line, what, mend})
			})
			return
		}
		if p.v.exists(&row.Head) {
			each(row)
		}
	}, bad)
	if err != nil {
		return err
	}
	if more > 0 {
		p.faults = append(p.faults, &RowError{ConsumptionFile, 0, fmt.Sprintf("%d more rows break a rule", more), "see them with: tarebook verify"})
	}
	p.faults.sort() // the stream reports the faults of a block after its rows
	return p.faults.err()
}
