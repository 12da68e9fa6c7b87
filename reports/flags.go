package reports

import (
	"fmt"
	"slices"
	"strings"
)

// Flags are doubts about a figure, in the order of the constants.
type Flags []string

// The flags of stock and reconcile.
const (
	noTare       = "no tare"
	neverWeighed = "never weighed"
	overdrawn    = "overdrawn"
	afterEnd     = "after end"
	outside      = "outside"
	heavier      = "heavier than bought"
	unpriced     = "unpriced"
	conflict     = "conflict"
)

// StockFlags are all flags, in the order in which they stand.
var StockFlags = []string{noTare, neverWeighed, overdrawn, afterEnd, outside, heavier, unpriced, conflict}

func flags(pairs ...any) Flags {
	f := Flags{}
	for i := 0; i < len(pairs); i += 2 {
		if pairs[i+1].(bool) {
			f = append(f, pairs[i].(string))
		}
	}
	return f
}

// MarshalCSV joins the flags.
func (f Flags) MarshalCSV() (string, error) { return f.words(), nil }

func (f Flags) words() string { return strings.Join(f, "; ") }

// flagNotes gathers which rows of a table have which flag. A row has a mark, and a line for each flag under the table names the rows.
type flagNotes struct {
	flags []string // in the order in which they came
	rows  map[string][]string
}

// mostMarked is how many rows a line names.
const mostMarked = 12

// of notes the flags of a row and returns its mark.
func (m *flagNotes) of(row string, flags ...string) string {
	mark := ""
	for _, flag := range flags {
		mark = "!"
		if m.rows == nil {
			m.rows = map[string][]string{}
		}
		if m.rows[flag] == nil {
			m.flags = append(m.flags, flag)
		}
		m.rows[flag] = append(m.rows[flag], row)
	}
	return mark
}

// lines returns a line for each flag.
func (m *flagNotes) lines() (lines []string) {
	slices.SortStableFunc(m.flags, func(a, b string) int { return slices.Index(StockFlags, a) - slices.Index(StockFlags, b) })
	for _, flag := range m.flags {
		rows := m.rows[flag]
		if n := len(rows); n > mostMarked {
			rows = append(rows[:mostMarked:mostMarked], fmt.Sprintf("and %d more", n-mostMarked))
		}
		lines = append(lines, "! "+flag+": "+strings.Join(rows, ", "))
	}
	return lines
}
