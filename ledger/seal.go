package ledger

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"
)

// Seals: what a ledger held in a month, so that a later change of it is found. A seal covers the rows with at in its calendar
// month (UTC) and not after its through: how many distinct ones there are, voided ones included, and the SHA-256 of their
// canonical forms in ledger order, with each number in its shortest form, so that a spreadsheet's save changes nothing. Seals of
// before have numbers as they were typed; a month holds by either.

// Sealable are the ledgers that can be sealed: all but the seals themselves.
var Sealable = slices.DeleteFunc(slices.Clone(Ledgers), func(file string) bool { return file == Seals })

// reopenedBy begins the note or the why of a row that was recorded into a sealed month.
const reopenedBy = "reopened: "

// month is the calendar month of an instant, UTC.
func (t Time) utcMonth() string { return t.utc().Format("2006-01") }

// wholeMonth tells whether the seal covers its month to its last instant.
func (s *Seal) wholeMonth() bool {
	month, err := time.Parse("2006-01", s.Month)
	return err == nil && !s.Through.utc().Before(month.AddDate(0, 1, 0).Add(-1))
}

// Made returns when an entry was made, by its ULID; false for a row without.
func Made(entry string) (time.Time, bool) {
	id, err := ulid.ParseStrict(strings.ToUpper(entry))
	return ulid.Time(id.Time()), err == nil
}

// remark is where a row says why it is there: its note, or the why of a void; nil for a seal.
func remark(r Row) *string {
	switch r := r.(type) {
	case *Purchase:
		return &r.Note
	case *Weighin:
		return &r.Note
	case *Consumption:
		return &r.Note
	case *Need:
		return &r.Note
	case *Move:
		return &r.Note
	case *Void:
		return &r.Why
	case *Bill:
		return &r.Note
	}
	return nil
}

// lastSeals returns for each ledger and month its last seal, of those whose time the view reaches.
func (v *View) lastSeals() (map[string]map[string]*Seal, error) {
	seals, err := v.Seals()
	if err != nil {
		return nil, err
	}
	last := map[string]map[string]*Seal{}
	for _, s := range seals { // in ledger order
		if !v.asOf.IsZero() && s.Through.After(v.asOf) {
			continue
		}
		if last[s.Ledger] == nil {
			last[s.Ledger] = map[string]*Seal{}
		}
		last[s.Ledger][s.Month] = s
	}
	return last, nil
}

// Seals returns the seals that count, in the order of the ledger.
func (v *View) Seals() ([]*Seal, error) {
	_, err := v.Voids()
	_, err2 := readLedger[Seal](v, &v.seals, Seals, nil)
	return v.seals.live, JoinFaults(err, err2)
}

// SealThrough returns the seals to record so that every ledger is sealed for every month through an instant: those of months
// not sealed yet or not that far, and of months whose new rows were recorded with a reason. again also takes months that no
// longer hold for any other cause, as they are now. It is an error when a ledger has a conflict, a row that breaks a rule, or one
// that counts at a time that cannot be by the clock now: the months back to the year 26 would be sealed for ever.
func (v *View) SealThrough(through Time, again bool, now time.Time) ([]Seal, error) {
	if err := v.readAll(); err != nil {
		return nil, err
	}
	last, err := v.lastSeals()
	if err != nil {
		return nil, err
	}
	var conflicts []error
	for _, c := range v.Conflicts() {
		conflicts = append(conflicts, c)
	}
	if err := errors.Join(conflicts...); err != nil {
		return nil, fmt.Errorf("a ledger with a conflict cannot be sealed:\n%w", err)
	}
	months, err := v.monthsThrough(through, now)
	if err != nil {
		return nil, err
	}
	var seals []Seal
	var broken []error
	for _, file := range Sealable {
		states, err := v.sealStates(file, last[file])
		if err != nil {
			return nil, err
		}
		wanted := map[string]bool{}
		for _, month := range months {
			wanted[month] = true
		}
		for _, s := range states {
			switch {
			case !wanted[s.Month]:
			case s.Holds && (!s.Through.Before(through) || s.wholeMonth()):
				delete(wanted, s.Month)
			case s.Holds: // it is sealed further
			case s.Through.After(through):
				broken = append(broken, fmt.Errorf("%s; it is sealed further than %s", s.what(), through.Through()))
			case !s.explained && !again:
				broken = append(broken, fmt.Errorf("%s; mend it, or seal it as it is now with --again", s.what()))
			}
		}
		faults := Faults{}
		found, err := v.digests(file, wanted, func(r Row) bool { return !r.head().At.After(through) }, func(e *RowError) { faults = append(faults, e) })
		if err := JoinFaults(err, faults.err()); err != nil {
			return nil, err
		}
		for _, month := range slices.Sorted(maps.Keys(wanted)) {
			d := found[month].shortest
			seals = append(seals, Seal{Through: through, Ledger: file, Month: month, Rows: Count{d.rows, true}, SHA256: d.sum})
		}
	}
	if len(months) > 0 {
		clients, err := v.sealClients(last[Clients][""], through, again)
		if seals = append(seals, clients...); err != nil {
			broken = append(broken, err)
		}
	}
	return seals, errors.Join(broken...)
}

// monthsThrough returns the months from the first in which any ledger has a row, up to that of through. Rows at a time that
// cannot be are faults, unless a void hides them.
func (v *View) monthsThrough(through Time, now time.Time) (months []string, err error) {
	var first Time
	var faults Faults
	for _, file := range Sealable {
		err := v.scanRows(file, func(r Row) {
			h := r.head()
			switch what := implausible(h, now); {
			case what != "" && !v.hidden[h.ID]:
				faults = append(faults, &RowError{file, h.Line, what, ""})
			case what == "" && (first.IsZero() || h.At.Before(first)):
				first = h.At
			}
		}, func(*RowError) {})
		if err != nil {
			return nil, err
		}
	}
	if err := faults.err(); err != nil || first.IsZero() || first.After(through) {
		return nil, err
	}
	for t := first.utc().AddDate(0, 0, 1-first.utc().Day()); t.Format("2006-01") <= through.utcMonth(); t = t.AddDate(0, 1, 0) {
		months = append(months, t.Format("2006-01"))
	}
	return months, nil
}

// SealedThrough returns for each ledger that has a seal the instant up to which it is sealed.
func (v *View) SealedThrough() (map[string]Time, error) {
	seals, err := v.Seals()
	if err != nil {
		return nil, err
	}
	through := map[string]Time{}
	for _, s := range seals {
		if s.Through.After(through[s.Ledger]) {
			through[s.Ledger] = s.Through
		}
	}
	return through, nil
}

// reopen refuses rows that fall into a sealed time, or cancel one that does, unless there is a reason, which then goes into
// their note or why.
func (b Rows[T, R]) reopen(v *View, reason string) error {
	through, err := v.SealedThrough()
	if err != nil || len(through) == 0 {
		return err
	}
	cancelled, err := b.cancelled(v)
	if err != nil {
		return err
	}
	var errs []error
	told := map[string]bool{}
	for i := range b {
		r := R(&b[i])
		files := map[string]Time{b.file(): r.head().At}
		for _, l := range cancelled {
			if void, ok := any(r).(*Void); ok && strings.EqualFold(void.Target, l.Row.head().ID) {
				files[l.File] = l.Row.head().At
			}
		}
		for file, at := range files {
			if t, ok := through[file]; !ok || at.After(t) || remark(r) == nil {
				continue
			}
			if Trim(reason) == "" {
				if what := fmt.Sprintf("%s is sealed through %s, and %s lies before; if it must be, give a reason with --reopen", file, through[file].Through(), at); !told[what] {
					told[what] = true
					errs = append(errs, errors.New(what))
				}
				continue
			}
			if text := remark(r); !strings.HasPrefix(*text, reopenedBy) {
				*text = strings.TrimSuffix(reopenedBy+Trim(reason)+"; "+*text, "; ")
			}
		}
	}
	return errors.Join(errs...)
}

// cancelled returns the rows that a batch of voids cancels.
func (b Rows[T, R]) cancelled(v *View) ([]Located, error) {
	targets := map[string]bool{}
	for i := range b {
		if void, ok := any(&b[i]).(*Void); ok {
			targets[strings.ToUpper(void.Target)] = true
		}
	}
	if len(targets) == 0 {
		return nil, nil
	}
	return v.Lookup(func(h *Head) bool { return targets[h.ID] })
}

// EndOfDay returns the last instant of the day that t's own clock shows.
func (t Time) EndOfDay() Time {
	local := t.local()
	end := NewTime(t.utc().Add(24*time.Hour - 1 - local.Sub(local.Truncate(24*time.Hour))))
	end.offset = t.offset
	return end
}

// Through tells an instant up to which something is sealed: the day alone where it is the end of one.
func (t Time) Through() string {
	if t == t.EndOfDay() {
		return t.Date()
	}
	return t.String()
}
