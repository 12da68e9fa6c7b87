package reports

import (
	"strings"

	"tarebook/ledger"
)

// Pages are the tables of one report, in order.
type Pages []Sheet

// Sheet is one table for people, with the text before and after it.
type Sheet struct {
	Title   string
	Columns []Column
	Rows    [][]string
	Blocks  []Block // after Rows
	Totals  [][]string
	Notes   []string

	// Spare are the columns that a narrow terminal can do without, the first ones first. Columns of one sum stand in one group: of
	// these the ones in which all is 0 go before any other column, and the rest go together.
	Spare [][]string

	// fill, if not nil, adds the rows when the sheet is written: of very many rows those of one sheet alone are in memory.
	fill func(*Sheet)

	// Picture, if not nil, returns the lines of a drawing for the place below the table, at most as wide as the style. The style has no
	// width without a terminal; then Picture may return nil.
	Picture func(Style) []string
}

// Block is rows that belong together, with a line of text before them and more after them. All blocks of a sheet have its columns.
type Block struct {
	Head  string
	Rows  [][]string
	Notes []string
}

// Column is a heading, and how the cells below it are shown.
type Column struct {
	Name  string
	Right bool
	Even  bool // all its numbers are given the same number of decimals
	Least int  // a narrow terminal may shorten its text to this many cells, by an ellipsis in the middle; 0: never
	Wrap  bool // it is wrapped to further lines instead
}

const (
	leastText = 12 // cells, before a column is left out; common practice, no source
	leastIDs  = 13
	leastEver = 6 // when no more column can be left out
	leastWrap = 24
)

func columns(c Column, names []string) []Column {
	all := make([]Column, len(names))
	for i, name := range names {
		c.Name = name
		all[i] = c
	}
	return all
}

// left are columns of short words, which are never cut.
func left(names ...string) []Column { return columns(Column{}, names) }

// texts are columns of names of any length.
func texts(names ...string) []Column { return columns(Column{Least: leastText}, names) }

// ids are columns of spools, of which two may stand in turn.
func ids(names ...string) []Column { return columns(Column{Least: leastIDs}, names) }

// wraps are columns of sentences.
func wraps(names ...string) []Column { return columns(Column{Least: leastWrap, Wrap: true}, names) }

// right are columns of figures as they are.
func right(names ...string) []Column { return columns(Column{Right: true}, names) }

// masses are columns of figures with the same number of decimals each.
func masses(names ...string) []Column { return columns(Column{Right: true, Even: true}, names) }

// parts are the rows of a sheet, of its blocks and its totals.
func (s *Sheet) parts() [][][]string {
	all := [][][]string{s.Rows}
	for _, b := range s.Blocks {
		all = append(all, b.Rows)
	}
	return append(all, s.Totals)
}

// any reports whether there is a row to show.
func (s *Sheet) any() bool { return len(s.Rows) > 0 || len(s.Blocks) > 0 }

// edit replaces each cell of a column.
func (s *Sheet) edit(column int, by func(cell string) string) {
	for _, rows := range s.parts() {
		for _, row := range rows {
			row[column] = by(row[column])
		}
	}
}

// clean replaces in all cells what may not reach a terminal.
func (s *Sheet) clean() {
	for i := range s.Columns {
		s.edit(i, ledger.Clean)
	}
}

// even gives the numbers of a column the same number of decimals, by adding noughts.
func (s *Sheet) even() {
	for i, c := range s.Columns {
		if !c.Even {
			continue
		}
		most := 0
		count := func(cell string) string {
			if isNumber(cell) {
				_, decimals, _ := strings.Cut(cell, ".")
				most = max(most, len(decimals))
			}
			return cell
		}
		s.edit(i, count)
		s.edit(i, func(cell string) string {
			if !isNumber(cell) || most == 0 {
				return cell
			}
			whole, decimals, _ := strings.Cut(cell, ".")
			return whole + "." + decimals + strings.Repeat("0", most-len(decimals))
		})
	}
}

// widths returns the width of each column in cells. The sheet must be clean.
func (s *Sheet) widths() []int {
	widths := make([]int, len(s.Columns))
	for i, c := range s.Columns {
		widths[i] = cellWidth(c.Name)
	}
	for _, rows := range s.parts() {
		for _, row := range rows {
			for i, cell := range row {
				widths[i] = max(widths[i], cellWidth(cell))
			}
		}
	}
	return widths
}

// total is the width of a table: two blanks part its columns.
func total(widths []int) int {
	sum := -2
	for _, w := range widths {
		sum += w + 2
	}
	return sum
}
