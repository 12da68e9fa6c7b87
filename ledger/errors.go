package ledger

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Every message reads: where, what, how to mend it.

// A RowError says which rule a row breaks, or a whole file if Line is 0, or a value that is not in a file yet if File is blank.
type RowError struct {
	File string
	Line int
	What string // column, text and fault
	Mend string // how to mend it; may be empty
}

func (e *RowError) Error() string {
	text := e.What
	switch {
	case e.Line > 0:
		text = fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.What)
	case e.File != "":
		text = e.File + ": " + e.What
	}
	if e.Mend != "" {
		text += "; " + e.Mend
	}
	return text
}

// Faults are the rows that break a rule, in the order of file and line.
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

// faultsOf returns the faults in an error, nil if it is another error.
func faultsOf(err error) Faults {
	var f Faults
	errors.As(err, &f)
	return f
}

// JoinFaults joins the errors of several files, so that all faults are reported at once. An error that is not about rows goes first.
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

// wrong returns a RowError of a value whose place is not known yet.
func wrong(mend, format string, args ...any) error {
	return &RowError{What: fmt.Sprintf(format, args...), Mend: mend}
}

// quoted returns text in quotes, shortened, as messages show it.
func quoted(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "..."
	}
	return fmt.Sprintf("%q", s)
}
