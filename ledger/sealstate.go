package ledger

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Whether seals still hold: the last one of each ledger and month against the rows as they are now.

// SealState is the last seal of one ledger and month, and whether the rows are still those that were sealed.
type SealState struct {
	*Seal
	Holds bool
	After []SealedRow // rows of its time recorded after it was made

	now digests
	// explained: what is new was recorded with a reason, and the rest is as it was sealed.
	explained bool
}

// SealedRow is a row that was recorded into a month after its seal.
type SealedRow struct {
	File     string
	Line     int
	Entry    string
	Made     time.Time
	Reopened bool // with a reason
}

// what says what became of the rows of a seal that does not hold.
func (s *SealState) what() string {
	text := fmt.Sprintf("%s no longer holds for %s, sealed through %s: ", cmp.Or(s.Month, "the seal"), s.Ledger, s.Through.Through())
	n, now := int64(s.Rows.N), int64(s.now.typed.rows)
	switch {
	case s.explained:
		return text + fmt.Sprintf("reopened for %s; seal it again with: tarebook seal --through %s", counted(len(s.After)), s.Through.Through())
	case now == n:
		return text + "of " + counted(int(n)) + " one or more were changed"
	case now < n:
		return text + fmt.Sprintf("of %s %d are gone", counted(int(n)), n-now)
	}
	return text + fmt.Sprintf("%s were sealed and %d are there now", counted(int(n)), now)
}

func counted(n int) string {
	if n == 1 {
		return "1 row"
	}
	return fmt.Sprintf("%d rows", n)
}

// SealStates holds the last seal of every ledger and month against the rows, in the order of ledgers and months.
func (v *View) SealStates() ([]*SealState, error) {
	last, err := v.lastSeals()
	if err != nil {
		return nil, err
	}
	var states []*SealState
	for _, file := range Sealable {
		if len(last[file]) == 0 {
			continue
		}
		of, err := v.sealStates(file, last[file])
		if err != nil {
			return nil, err
		}
		states = append(states, of...)
	}
	if of, err := v.clientsState(last[Clients][""]); err != nil {
		return nil, err
	} else if of != nil {
		states = append(states, of)
	}
	return states, nil
}

func (v *View) sealStates(file string, last map[string]*Seal) ([]*SealState, error) {
	states := map[string]*SealState{}
	months := map[string]bool{}
	for month, s := range last {
		states[month] = &SealState{Seal: s}
		months[month] = true
	}
	covered := func(r Row) bool {
		h := r.head()
		return !h.At.After(last[h.At.utcMonth()].Through)
	}
	ignore := func(*RowError) {} // verify tells of it on its own account
	now, err := v.digests(file, months, covered, ignore)
	if err != nil && faultsOf(err) == nil {
		return nil, err
	}
	broken := map[string]bool{}
	for month, s := range states {
		s.now = now[month]
		if s.Holds = s.now.are(s.Seal); !s.Holds {
			broken[month] = true
		}
	}
	if len(broken) > 0 {
		before, err := v.digests(file, broken, func(r Row) bool {
			if !covered(r) {
				return false
			}
			h := r.head()
			s := states[h.At.utcMonth()]
			when, after := after(h, s.Seal)
			if after {
				s.After = append(s.After, SealedRow{file, h.Line, strings.Clone(h.Entry), when, strings.HasPrefix(*remark(r), reopenedBy)})
			}
			return !after
		}, ignore)
		if err != nil && faultsOf(err) == nil {
			return nil, err
		}
		for month := range broken {
			s := states[month]
			slices.SortFunc(s.After, func(a, b SealedRow) int { return a.Line - b.Line })
			s.After = slices.Compact(s.After) // a month out of order is read twice
			s.explained = before[month].are(s.Seal) && !slices.ContainsFunc(s.After, func(r SealedRow) bool { return !r.Reopened })
		}
	}
	var sorted []*SealState
	for _, month := range slices.Sorted(maps.Keys(states)) {
		sorted = append(sorted, states[month])
	}
	return sorted, nil
}

// after tells whether a row was made after a seal.
func after(h *Head, s *Seal) (time.Time, bool) {
	when, ok := Made(h.Entry)
	sealedAt, told := Made(s.Entry)
	if !told {
		sealedAt = s.At.utc()
	}
	return when, ok && when.After(sealedAt)
}

// sealProblems adds what verify has to say of the seals.
func (v *View) sealProblems(add func(file string, line int, entry, what string)) ([]*SealState, error) {
	states, err := v.SealStates()
	if err != nil {
		return nil, err
	}
	first := map[string]*SealState{}
	for _, s := range states {
		if first[s.Ledger] == nil && s.Ledger != Clients {
			first[s.Ledger] = s
		}
		if s.Holds {
			continue
		}
		add(Seals, s.Line, s.Entry, s.what())
		for _, r := range s.After {
			add(r.File, r.Line, r.Entry, fmt.Sprintf("recorded on %s, after %s was sealed", r.Made.UTC().Format(time.RFC3339), s.Month))
		}
	}
	for file, s := range first {
		err := v.scanRows(file, func(r Row) {
			h := r.head()
			if when, after := after(h, s.Seal); after && h.At.utcMonth() < s.Month {
				add(file, h.Line, strings.Clone(h.Entry), fmt.Sprintf("recorded on %s into a time before %s, the first month that was sealed", when.UTC().Format(time.RFC3339), s.Month))
			}
		}, func(*RowError) {})
		if err != nil && faultsOf(err) == nil {
			return nil, err
		}
	}
	return states, nil
}
