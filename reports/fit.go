package reports

import (
	"slices"
	"strings"
)

// A table that is too wide for a terminal is made to fit in this order: names are shortened, sentences wrapped; columns of a sum in which
// all is 0 are left out; then the columns that the sheet can spare, one after another; at last names are shortened further. No figure and
// no verdict is ever cut: what is wider still is left to the terminal.

// fit makes a clean sheet as narrow as width if it can, and returns the width of each column and the names of those that it left out.
func (s *Sheet) fit(width int, ellipsis string) (widths []int, without []string) {
	if widths = s.widths(); width == 0 || total(widths) <= width {
		return widths, nil
	}
	for _, group := range s.spare() {
		if narrowed := s.narrow(width, leastText); narrowed != nil {
			s.shorten(narrowed, ellipsis)
			return narrowed, without
		}
		for _, name := range group {
			if s.leaveOut(name) {
				without = append(without, name)
			}
		}
	}
	for _, least := range []int{leastText, leastEver} {
		if widths = s.narrow(width, least); widths != nil {
			break
		}
	}
	if widths == nil {
		widths = s.narrowed(width, leastEver)
	}
	s.shorten(widths, ellipsis)
	return widths, without
}

// spare returns what can be left out, in order: each column of a sum in which all is 0, then what Spare says.
func (s *Sheet) spare() (groups [][]string) {
	for _, group := range s.Spare {
		if len(group) < 2 {
			continue
		}
		for _, name := range group {
			if i := s.find(name); i >= 0 && s.nought(i) {
				groups = append(groups, []string{name})
			}
		}
	}
	return append(groups, s.Spare...)
}

func (s *Sheet) find(name string) int {
	return slices.IndexFunc(s.Columns, func(c Column) bool { return c.Name == name })
}

// nought reports whether no cell of a column says anything but 0.
func (s *Sheet) nought(column int) bool {
	for _, rows := range s.parts() {
		for _, row := range rows {
			if strings.Trim(row[column], "-0.") != "" {
				return false
			}
		}
	}
	return true
}

// leaveOut removes a column, if it is there, and totals that have nothing to say without it.
func (s *Sheet) leaveOut(name string) bool {
	i := s.find(name)
	if i < 0 {
		return false
	}
	without := func(rows [][]string) [][]string {
		out := make([][]string, len(rows))
		for n, row := range rows {
			out[n] = slices.Concat(row[:i], row[i+1:])
		}
		return out
	}
	s.Columns = slices.Concat(s.Columns[:i], s.Columns[i+1:])
	s.Rows, s.Totals = without(s.Rows), without(s.Totals)
	s.Blocks = slices.Clone(s.Blocks)
	for n := range s.Blocks {
		s.Blocks[n].Rows = without(s.Blocks[n].Rows)
	}
	s.Totals = slices.DeleteFunc(s.Totals, func(row []string) bool { return strings.Join(row, "") == "" })
	return true
}

// narrow returns widths with which the table fits, or nil: the widest of the columns that may be shortened gives way first, down to its
// least.
func (s *Sheet) narrow(width, least int) []int {
	if widths := s.narrowed(width, least); total(widths) <= width {
		return widths
	}
	return nil
}

func (s *Sheet) narrowed(width, least int) []int {
	widths := s.widths()
	floors := slices.Clone(widths)
	for i, c := range s.Columns {
		switch {
		case c.Wrap:
			floors[i] = max(c.Least*least/leastText, cellWidth(c.Name))
		case c.Least > 0:
			floors[i] = max(c.Least-leastText+least, cellWidth(c.Name))
		}
	}
	for total(widths) > width {
		widest := -1
		for i := range widths {
			if widths[i] > floors[i] && (widest < 0 || widths[i] > widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			break
		}
		widths[widest]--
	}
	return widths
}

// shorten cuts what is wider than its column may be.
func (s *Sheet) shorten(widths []int, ellipsis string) {
	for i, c := range s.Columns {
		if c.Least > 0 && !c.Wrap {
			s.edit(i, func(cell string) string { return middleCut(cell, widths[i], ellipsis) })
		}
	}
}
