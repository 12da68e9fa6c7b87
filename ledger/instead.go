package ledger

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Rows to write in place of others: no command changes a row, so a person is shown the line to put there with an editor.

// instead returns a record of the file with other texts in some of its columns, by their names, and all else kept: as a line of CSV;
// and what the header lacks for that, to be added to its end, or "".
func (l *layout) instead(record []string, texts map[string]string) (line, adds string) {
	record = slices.Clone(record)
	for len(record) < len(l.header) {
		record = append(record, "")
	}
	for i, column := range l.columns {
		text, ok := texts[column]
		switch j := l.place[i]; {
		case !ok:
		case j >= 0:
			record[j] = text
		default:
			record, adds = append(record, text), adds+","+column
		}
	}
	return csvLine(record), adds
}

// csvLine writes a record as one line of CSV, without its end.
func csvLine(record []string) string {
	record = slices.Clone(record)
	for i := range record {
		record[i] = oneLine(record[i])
	}
	var b strings.Builder
	w := csv.NewWriter(&b)
	_ = w.Write(record) // a Builder takes all
	w.Flush()
	return strings.TrimSuffix(b.String(), "\n")
}

// WithGross returns the purchase as it stands in its file but with a gross, as a line of CSV to write in its place; and what its header
// lacks for that, to be added to its end, or "". The purchase must have been read from a book, without a gross.
func (p *Purchase) WithGross(gross Grams) (line, adds string) {
	line, adds = p.layout.instead(p.record(), map[string]string{"gross_g": gross.String()})
	if adds != "" && !slices.Contains(p.layout.header, "scale") {
		adds += ",scale" // the reading's scale goes there
	}
	return line, adds
}

// A StandsError says that a table has a row of that key already, which is to be edited by hand.
type StandsError struct {
	File         string
	Line         int
	Column, Name string  // the column of its name, and that name
	Old          string  // the row as it stands
	New          string  // the row to put there; blank where Old says all that was typed
	Adds         string  // what to add to the header for New, or ""
	Changed      []Value // what New says else
}

func (e *StandsError) Error() string {
	if e.New == "" {
		return fmt.Sprintf("%s %q stands in %s:%d already, as: %s", e.Column, e.Name, e.File, e.Line, e.Old)
	}
	return fmt.Sprintf("%s %q stands in %s:%d already; put there with an editor: %s", e.Column, e.Name, e.File, e.Line, e.New)
}

// keyColumns make up the keys of the tables, as far as a table has them.
var keyColumns = []string{"setting", "material", "core", "scale", "printer", "client", "from", "from_material", "from_colour", "to_material", "to_colour",
	"nozzle", "beside"}

// keyText returns a cell of a key as keys compare it: a blank material of a purge is any, and a nozzle is a number.
func keyText(column, text string) string {
	switch text = Fold(Trim(text)); column {
	case "from_material", "to_material":
		return cmp.Or(text, "*")
	case "nozzle":
		return shortestNumber(text)
	}
	return text
}

// find returns the index of the row of a table that has the key of what was typed, by column; -1 if there is none.
func (c *content) find(texts map[string]string) int {
	return slices.IndexFunc(c.raws, func(raw string) bool {
		record := split(raw)
		for j, column := range c.layout.columns {
			if slices.Contains(keyColumns, column) && keyText(column, texts[column]) != keyText(column, c.layout.field(record, j)) {
				return false
			}
		}
		return true
	})
}

// typedOver returns what row i says, by column, with what was typed in its place.
func (c *content) typedOver(i int, texts map[string]string) map[string]string {
	record, merged := split(c.raws[i]), map[string]string{}
	for j, column := range c.layout.columns {
		merged[column] = c.layout.field(record, j)
	}
	maps.Copy(merged, texts)
	return merged
}

// stands returns the error for row i of a table, which has the key of what was typed. How its names are spelled stays.
func (c *content) stands(i int, r tableRow, texts map[string]string) *StandsError {
	record, numbers := split(c.raws[i]), numbersOf(r)
	e := &StandsError{File: c.layout.file, Line: c.lines[i], Column: c.layout.columns[0], Name: r.label(), Old: oneLine(strings.TrimRight(c.raws[i], "\r\n"))}
	change := map[string]string{}
	for j, column := range c.layout.columns {
		text, typed := texts[column]
		text, has := Trim(text), c.layout.field(record, j)
		same := text == has || numbers[j] && shortestNumber(text) == shortestNumber(has)
		if typed && !same && !slices.Contains(keyColumns, column) {
			change[column] = text
			e.Changed = append(e.Changed, Value{column, text})
		}
	}
	if len(change) > 0 {
		e.New, e.Adds = c.layout.instead(record, change)
	}
	return e
}
