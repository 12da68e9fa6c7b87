package ledger

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Every message reads: where, what, how to mend it.

// A RowError tells of one row, or of one file when Line is 0, that breaks a rule.
type RowError struct {
	File string
	Line int
	What string // column, text and fault
	Mend string // how to mend it; may be empty
}

func (e *RowError) Error() string {
	where := e.File
	if e.Line > 0 {
		where = fmt.Sprintf("%s:%d", e.File, e.Line)
	}
	if e.Mend == "" {
		return where + ": " + e.What
	}
	return where + ": " + e.What + "; " + e.Mend
}

// Faults are all the rows that break a rule, in the order of file and line.
type Faults []*RowError

func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, e := range f {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

func (f Faults) sort() {
	slices.SortStableFunc(f, func(a, b *RowError) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line))
	})
}

// err returns f as an error, nil when there are none.
func (f Faults) err() error {
	if len(f) == 0 {
		return nil
	}
	return f
}

// faultsOf returns the faults in an error, nil when it is of another kind.
func faultsOf(err error) Faults {
	var f Faults
	errors.As(err, &f)
	return f
}

// JoinFaults gathers the errors of several files, so that all faults are told at once.
func JoinFaults(errs ...error) error {
	var all Faults
	seen := map[*RowError]bool{}
	for _, err := range errs {
		var f Faults
		switch {
		case err == nil:
		case errors.As(err, &f):
			for _, e := range f {
				if !seen[e] {
					seen[e] = true
					all = append(all, e)
				}
			}
		default:
			return err
		}
	}
	all.sort()
	return all.err()
}

// A fault is what is wrong with a value, before it is known where the value stands.
type fault struct{ what, mend string }

func (f *fault) Error() string {
	if f.mend == "" {
		return f.what
	}
	return f.what + "; " + f.mend
}

func wrong(mend, format string, args ...any) error {
	return &fault{fmt.Sprintf(format, args...), mend}
}

// quoted returns text in quotes, shortened, as messages show it.
func quoted(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "..."
	}
	return fmt.Sprintf("%q", s)
}
