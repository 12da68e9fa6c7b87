package sheet

import (
	"fmt"
	"slices"
	"strings"
)

// Forms is how a sheet writes its numbers and dates.
type Forms struct {
	Decimal rune  // ',' or '.'; 0 where no number has a mark
	Dates   Order // "" where the year always stands first in full, or where there is no date

	table *Table
	mark  byte // between the numbers of the dates; 0 without a date
}

// Forms finds out the decimal mark and the order of dates over all rows, from the columns that hold numbers and those that
// hold dates. Cells that are neither are no evidence.
func (t *Table) Forms(numbers, dates []int, o Options) (*Forms, error) {
	f := &Forms{Decimal: o.Decimal, Dates: o.Dates, table: t}
	if err := f.findDecimal(numbers); err != nil {
		return nil, err
	}
	return f, f.findDates(dates)
}

// String says what was found, as "semicolons, decimal comma, dates day.month.year".
func (f *Forms) String() string {
	var found []string
	if f.table.Encoding != "UTF-8" {
		found = append(found, f.table.Encoding)
	}
	if name := map[rune]string{',': "commas", ';': "semicolons", '\t': "tabs", '|': "bars"}[f.table.Delimiter]; name != "" {
		found = append(found, name)
	}
	if f.Decimal != 0 {
		found = append(found, "decimal "+markName(f.Decimal))
	}
	switch {
	case f.mark != 0 && f.Dates != "":
		found = append(found, "dates "+f.Dates.words(f.mark))
	case f.mark != 0:
		found = append(found, "dates "+YMD.words(f.mark))
	}
	if found == nil {
		return "one column"
	}
	return strings.Join(found, ", ")
}

// cells calls each with every cell that is not blank of some columns of the sound rows.
func (t *Table) cells(columns []int, each func(line int, cell string)) {
	for _, row := range t.Rows {
		if row.Fault != nil {
			continue
		}
		for _, i := range columns {
			if cell := row.Cells[i]; cell != "" {
				each(row.Line, cell)
			}
		}
	}
}

// seen is a cell that speaks for something.
type seen struct {
	line int
	cell string
}

func (s seen) String() string { return fmt.Sprintf("%s on line %d", quoted(s.cell), s.line) }

// findDecimal weighs the numbers that can be read in one way alone. The few that speak for the other mark are then no numbers,
// and told as such; but where some could be read either way, that is too little to go by.
func (f *Forms) findDecimal(columns []int) error {
	if f.Decimal != 0 {
		return nil
	}
	var commas, points, either []seen
	f.table.cells(columns, func(line int, cell string) {
		body, _, err := split(cell)
		if err != nil {
			return
		}
		comma, point, both := readings(body)
		switch {
		case comma:
			commas = append(commas, seen{line, cell})
		case point:
			points = append(points, seen{line, cell})
		case both:
			either = append(either, seen{line, cell})
		}
	})
	unsettled := func(format string, args ...any) error {
		return &Error{What: fmt.Sprintf(format, args...), Settle: "Decimal"}
	}
	contradict := len(commas) > 0 && len(points) > 0
	switch {
	case contradict && (len(commas) == len(points) || len(either) > 0):
		return unsettled("has both decimal marks: %s, %s", commas[0], points[0])
	case len(commas) > len(points):
		f.Decimal = ','
	case len(points) > 0:
		f.Decimal = '.'
	case len(either) > 0:
		return unsettled("%s may have a decimal mark or groups of three digits, and no other number tells", either[0])
	}
	return nil
}

// findDates strikes out the orders in which a date of the sheet would not exist. Dates with dots are day.month.year, as they are
// wherever dots are used.
func (f *Forms) findDates(columns []int) error {
	left := slices.Clone(Orders)
	var first, narrowed seen
	var contradiction error
	dotted, ordered := false, false
	f.table.cells(columns, func(line int, cell string) {
		s, ok := shape(cell)
		if !ok {
			return
		}
		if f.mark == 0 || !ordered && !s.selfEvident() {
			f.mark = s.mark
		}
		if s.selfEvident() {
			return
		}
		ordered = true
		dotted = dotted || s.mark == '.'
		var fits []Order
		for _, o := range Orders {
			if _, ok := s.as(o); ok && (s.mark != '.' || o == DMY) {
				fits = append(fits, o)
			}
		}
		if len(fits) == 0 || contradiction != nil {
			return
		}
		if first.cell == "" {
			first = seen{line, cell}
		}
		var both []Order
		for _, o := range left {
			if slices.Contains(fits, o) {
				both = append(both, o)
			}
		}
		switch {
		case len(both) == 0:
			contradiction = &Error{What: fmt.Sprintf("no one order of dates fits both %s and %s", narrowed, seen{line, cell}), Settle: "Dates"}
		case len(both) < len(left):
			left, narrowed = both, seen{line, cell}
		}
	})
	switch {
	case !ordered: // whatever was asked for, there is nothing to order
		f.Dates = ""
	case f.Dates != "":
	case contradiction != nil:
		return contradiction
	case first.cell == "" && dotted:
		f.Dates = DMY
	case first.cell == "":
	case len(left) > 1:
		return &Error{What: fmt.Sprintf("%s may be more than one day, and no other date tells", first), Settle: "Dates"}
	default:
		f.Dates = left[0]
	}
	return nil
}
