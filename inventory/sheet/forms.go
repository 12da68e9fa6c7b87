package sheet

import (
	"fmt"
	"strings"
	"unicode"
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

// odd is how many cells that can be read one way alone stand against one that can be read the other way alone, before that one is
// taken for a slip of the pen and not for another hand. Common practice, no source.
const odd = 20

// findDecimal weighs the numbers that can be read in one way alone. The few that speak for the other mark are then no numbers, and
// told as such; but where others could be read either way, only if they are few indeed.
func (f *Forms) findDecimal(columns []int) error {
	if f.Decimal != 0 {
		return nil
	}
	var commas, points, either []seen
	f.table.cells(columns, func(line int, cell string) {
		body, unit, err := split(cell)
		if err != nil || !usual(unit) {
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
	few, many := min(len(commas), len(points)), max(len(commas), len(points))
	switch {
	case few == many && few > 0, few > 0 && len(either) > 0 && few*odd > many:
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

// usual tells whether a unit is one of those that stand beside numbers of a shelf, not a slip of the pen as in 1.00O.
func usual(unit string) bool {
	switch strings.ToLower(unit) {
	case "", "g", "gr", "kg", "m", "mm":
		return true
	}
	r := []rune(unit)
	return len(r) == 3 || len(r) == 1 && unicode.Is(unicode.Sc, r[0]) // a currency
}

// findDates looks for the order that beats both others: there are dates that exist in it alone, and none, or next to none, the other
// way round. Dates with dots are day.month.year, as they are wherever dots are used.
func (f *Forms) findDates(columns []int) error {
	var first seen
	var only [3][3]struct { // dates that exist in one order and not in another
		n     int
		first seen
	}
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
		var fits [3]bool
		for i, o := range Orders {
			_, exists := s.as(o)
			fits[i] = exists && (s.mark != '.' || o == DMY)
		}
		if first.cell == "" && fits != [3]bool{} {
			first = seen{line, cell}
		}
		for i := range fits {
			for j := range fits {
				if o := &only[i][j]; fits[i] && !fits[j] {
					if o.n++; o.n == 1 {
						o.first = seen{line, cell}
					}
				}
			}
		}
	})
	switch {
	case !ordered: // whatever was asked for, there is nothing to order
		f.Dates = ""
		return nil
	case f.Dates != "":
		return nil
	case first.cell == "" && dotted:
		f.Dates = DMY
		return nil
	case first.cell == "":
		return nil
	}
	for i, o := range Orders {
		beats := 0
		for j := range Orders {
			if only[i][j].n > 0 && only[j][i].n*odd <= only[i][j].n {
				beats++
			}
		}
		if beats == 2 {
			f.Dates = o
			return nil
		}
	}
	for i := range Orders {
		for j := range i {
			if only[i][j].n > 0 && only[j][i].n > 0 {
				return &Error{What: fmt.Sprintf("no one order of dates fits both %s and %s", only[j][i].first, only[i][j].first), Settle: "Dates"}
			}
		}
	}
	return &Error{What: fmt.Sprintf("%s may be more than one day, and no other date tells", first), Settle: "Dates"}
}
