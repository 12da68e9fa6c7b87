package ledger

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"
)

// Seals: what a ledger held in a month, so that a later change of it is found. A seal covers the rows with at in its calendar
// month (UTC) and not after its through: how many distinct ones there are, voided ones included, and the SHA-256 of their
// canonical forms in ledger order.

// Sealable are the ledgers that can be sealed: all but the seals themselves.
var Sealable = slices.DeleteFunc(slices.Clone(Ledgers), func(file string) bool { return file == Seals })

// reopenedBy begins the note or the why of a row that was recorded into a sealed month.
const reopenedBy = "reopened: "

// month is the calendar month of an instant, UTC.
func (t Time) utcMonth() string { return t.utc.Format("2006-01") }

// wholeMonth tells whether the seal covers its month to its last instant.
func (s *Seal) wholeMonth() bool {
	month, err := time.Parse("2006-01", s.Month)
	return err == nil && !s.Through.utc.Before(month.AddDate(0, 1, 0).Add(-1))
}

// made is when an entry was made, by its ULID; false for a row without.
func made(entry string) (time.Time, bool) {
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
	}
	return nil
}

// scanRows calls each with every row of a ledger that keeps the file's rules, in the order of lines, whatever it names and
// whether it counts or not, and bad with every one that does not. Rows may be reused.
func (v *View) scanRows(file string, each func(Row), bad func(*RowError)) error {
	if file == ConsumptionFile {
		f, err := v.open(file)
		if err != nil || f == nil {
			return err
		}
		c := &Consumption{}
		_, err = scanRows(v.newScanner(f, file), c, func(int, string) {
			c.setID()
			each(c)
		}, func(e *RowError, _ []string) { bad(e) })
		return errors.Join(err, f.Close())
	}
	switch file {
	case Purchases:
		return scanSmall[Purchase](v, file, each, bad)
	case Weighins:
		return scanSmall[Weighin](v, file, each, bad)
	case Queue:
		return scanSmall[Need](v, file, each, bad)
	case Moves:
		return scanSmall[Move](v, file, each, bad)
	case Voids:
		return scanSmall[Void](v, file, each, bad)
	}
	return fmt.Errorf("%s is no ledger that can be sealed", file)
}

func scanSmall[T any, R interface {
	*T
	Row
}](v *View, file string, each func(Row), bad func(*RowError)) error {
	d, err := decodeFile[T, R](v, file)
	if err != nil {
		return err
	}
	for _, row := range d.rows {
		each(R(row))
	}
	for _, e := range d.faults {
		bad(e)
	}
	return nil
}

// digest is what a seal says of the rows it covers.
type digest struct {
	rows int
	sum  string // SHA-256 in lower-case hex
}

// monthSum adds up one month. Rows come in ledger order but for the few that a person or a merge has put elsewhere; a
// month with such a row is gathered and sorted in a second pass.
type monthSum struct {
	rows      int
	hash      hash.Hash
	last      sealed // of the rows added
	unordered bool
	gathered  []sealed
}

// sealed is what puts a row in its place, and its canonical form.
type sealed struct {
	at            Time
	order, id     string
	form, content string
}

// same tells whether two rows are one entry that stands twice.
func (s sealed) same(o sealed) bool { return s.id == o.id && s.content == o.content }

func (s sealed) compare(o sealed) int {
	return cmp.Or(s.at.Compare(o.at), strings.Compare(s.order, o.order), strings.Compare(s.form, o.form))
}

func (t *monthSum) add(s sealed) {
	if t.rows > 0 {
		if s.same(t.last) {
			return
		}
		if cmp.Or(t.last.at.Compare(s.at), strings.Compare(t.last.order, s.order)) >= 0 {
			t.unordered = true
			return
		}
	}
	t.last = s
	t.rows++
	io.WriteString(t.hash, s.form)
}

// digests returns the digest of each month wanted of one ledger, over the rows that count says do. Memory grows with the
// longest month that is out of order, not with the ledger.
func (v *View) digests(file string, months map[string]bool, covers func(Row) bool, bad func(*RowError)) (map[string]digest, error) {
	tallies := map[string]*monthSum{}
	for month := range months {
		tallies[month] = &monthSum{hash: sha256.New()}
	}
	take := func(r Row) (*monthSum, sealed) {
		h := r.head()
		t := tallies[h.At.utcMonth()]
		if t == nil || !v.asOf.IsZero() && h.At.After(v.asOf) || !covers(r) {
			return nil, sealed{}
		}
		form := h.canonical()
		s := sealed{at: h.At, order: strings.Clone(h.ID), id: strings.Clone(h.ID), form: form, content: contentOf(form)}
		if h.Entry == "" {
			s.order = " " + form
		}
		return t, s
	}
	err := v.scanRows(file, func(r Row) {
		if t, s := take(r); t != nil && !t.unordered {
			t.add(s)
		}
	}, bad)
	if err != nil {
		return nil, err
	}
	if slices.ContainsFunc(slices.Collect(maps.Values(tallies)), func(t *monthSum) bool { return t.unordered }) {
		err := v.scanRows(file, func(r Row) {
			if t, s := take(r); t != nil && t.unordered {
				t.gathered = append(t.gathered, s)
			}
		}, func(*RowError) {})
		if err != nil {
			return nil, err
		}
	}
	found := map[string]digest{}
	for month, t := range tallies {
		if t.unordered {
			t.rows = 0
			t.hash.Reset()
			slices.SortFunc(t.gathered, sealed.compare)
			for i, s := range t.gathered {
				if i > 0 && s.same(t.gathered[i-1]) {
					continue
				}
				t.rows++
				io.WriteString(t.hash, s.form)
			}
		}
		found[month] = digest{t.rows, hex.EncodeToString(t.hash.Sum(nil))}
	}
	return found, nil
}

// EndOfDay returns the last instant of the day that t's own clock shows.
func (t Time) EndOfDay() Time {
	local := t.local()
	return Time{t.utc.Add(24*time.Hour - 1 - local.Sub(local.Truncate(24*time.Hour))), t.offset}
}

// Through tells an instant up to which something is sealed: the day alone where it is the end of one.
func (t Time) Through() string {
	if t == t.EndOfDay() {
		return t.Date()
	}
	return t.String()
}

// SealState is the last seal of one ledger and month, and whether the rows are still those that were sealed.
type SealState struct {
	*Seal
	Holds bool
	After []SealedRow // rows of its time recorded after it was made

	now digest
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
	text := fmt.Sprintf("%s no longer holds for %s, sealed through %s: ", s.Month, s.Ledger, s.Through.Through())
	n, now := int64(s.Rows.N), int64(s.now.rows)
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
		if s.Holds = s.now == (digest{s.Rows.N, s.SHA256}); !s.Holds {
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
			s.explained = before[month] == digest{s.Rows.N, s.SHA256} && !slices.ContainsFunc(s.After, func(r SealedRow) bool { return !r.Reopened })
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
	when, ok := made(h.Entry)
	sealedAt, told := made(s.Entry)
	if !told {
		sealedAt = s.At.utc
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
		if first[s.Ledger] == nil {
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

// SealThrough returns the seals to record so that every ledger is sealed for every month through an instant: those of months
// not sealed yet or not that far, and of months whose new rows were recorded with a reason. again also takes months that no
// longer hold for any other cause, as they are now. It is an error when a ledger has a conflict or a row that breaks a rule.
func (v *View) SealThrough(through Time, again bool) ([]Seal, error) {
	if _, err := v.Select(func(*Head) bool { return false }); err != nil {
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
	months, err := v.monthsThrough(through)
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
			d := found[month]
			seals = append(seals, Seal{Through: through, Ledger: file, Month: month, Rows: Count{d.rows, true}, SHA256: d.sum})
		}
	}
	return seals, errors.Join(broken...)
}

// monthsThrough returns the months from the first in which any ledger has a row, up to that of through.
func (v *View) monthsThrough(through Time) (months []string, err error) {
	var first Time
	for _, file := range Sealable {
		err := v.scanRows(file, func(r Row) {
			if at := r.head().At; first.IsZero() || at.Before(first) {
				first = at
			}
		}, func(*RowError) {})
		if err != nil {
			return nil, err
		}
	}
	if first.IsZero() || first.After(through) {
		return nil, nil
	}
	for t := first.utc.AddDate(0, 0, 1-first.utc.Day()); t.Format("2006-01") <= through.utcMonth(); t = t.AddDate(0, 1, 0) {
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
