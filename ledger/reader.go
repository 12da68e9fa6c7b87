package ledger

import (
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// Every file of a book is read by one reader: the scanner finds the records, and each field of a record reads itself. Gocsv
// writes the rows, and is what the reader is held against in the tests: it boxes every cell, counts records instead of lines, and
// passes over missing and repeated columns in silence.

// field is a value that reads itself from a field of CSV.
type field interface{ UnmarshalCSV(string) error }

// scanRows calls each with every row of a file that keeps the file's rules, in the order of lines, and bad with what is wrong with
// every other, once for each fault, and its record as far as it is known. The row is reused; what each keeps, it clones. An error
// is about the header, or about reading; without a header there is no layout.
func scanRows[T any, R interface {
	*T
	row
}](s *scanner, each func(row R, line int, raw string), bad func(e *RowError, record []string)) (*layout, error) {
	row := R(new(T))
	file := row.file()
	record, raw, line, err := s.next()
	if err == io.EOF {
		return nil, nil
	}
	if _, ok := err.(*csv.ParseError); ok {
		return nil, Faults{syntaxError(file, line-1, raw, err)}
	}
	if err != nil {
		return nil, err
	}
	l, err := newLayout(file, columnsOf[T](), slices.Clone(record))
	if err != nil {
		return l, err
	}
	sound := true
	broken := func(what, mend string) {
		bad(&RowError{file, line, what, mend}, record)
		sound = false
	}
	check := &checker{bad: func(column, what, mend string) { broken(column+" "+what, mend) }}
	type column struct {
		text *string
		read field // where it is not plain text
	}
	var fields []column
	for _, f := range row.columns() {
		text, _ := f.(*string)
		read, _ := f.(field)
		fields = append(fields, column{text, read})
	}
	var head *Head // of a ledger's row
	if r, ok := any(row).(Row); ok {
		head = r.head()
	}
	for {
		record, raw, line, err = s.next()
		switch {
		case err == io.EOF:
			return l, nil
		case err != nil:
			if _, ok := err.(*csv.ParseError); !ok {
				return l, err
			}
			bad(syntaxError(file, line-1, raw, err), nil)
			continue
		case !utf8.ValidString(raw):
			broken("the row is not UTF-8", "save the file as UTF-8")
			continue
		case len(record) != len(l.header):
			if what := l.width(len(record)); what != "" {
				broken("the row "+what, "a text with a comma wants quotes round it")
				continue
			}
		}
		sound = true
		for i := range fields {
			text := l.field(record, i)
			if f := &fields[i]; f.text != nil {
				*f.text = text
			} else if err := f.read.UnmarshalCSV(text); err != nil {
				wrong := err.(*fault)
				broken(l.columns[i]+" "+quoted(text)+" "+wrong.what, wrong.mend)
			}
		}
		if head != nil {
			head.Line, head.ID, head.raw, head.layout = line, "", raw, l
		}
		if sound {
			row.check(check)
		}
		if sound {
			each(row, line, raw)
		}
	}
}

// texts returns the text fields of a row.
func texts(r row) (all []*string) {
	for _, f := range r.columns() {
		if text, ok := f.(*string); ok {
			all = append(all, text)
		}
	}
	return all
}

// decoded is what a table or a small ledger holds.
type decoded[T any] struct {
	rows   []*T
	lines  []int    // of rows
	raws   []string // of rows, as they stand in the file
	layout *layout
	faults Faults
	broken [][]string // the records of faults, so that what they name can still be known
	lost   bool       // a record, or more of them, of which nothing is known
}

// decode reads a table or a small ledger into rows. Rows that break a rule are faults; an error is about the header, which leaves
// nothing to read, or about reading.
func decode[T any, R interface {
	*T
	row
}](s *scanner) (d decoded[T], err error) {
	d.layout, err = scanRows(s, func(row R, line int, raw string) {
		kept := new(T)
		*kept = *row
		switch r := any(kept).(type) {
		case Row:
			r.head().setID()
		case *Setting:
			r.Line = line
		}
		d.rows = append(d.rows, kept)
		d.lines = append(d.lines, line)
		d.raws = append(d.raws, raw)
	}, func(e *RowError, record []string) {
		if record == nil {
			d.lost = true
		} else if n := len(d.faults); n == 0 || d.faults[n-1].Line != e.Line {
			d.broken = append(d.broken, slices.Clone(record))
		}
		d.faults = append(d.faults, e)
	})
	return d, err
}

func split(raw string) []string {
	r := csv.NewReader(strings.NewReader(raw))
	r.FieldsPerRecord = -1
	record, err := r.Read()
	if err != nil {
		return nil
	}
	return record
}

// syntaxError tells of raw, the text of a record that is not CSV by RFC 4180; lines are counted from after line base.
func syntaxError(file string, base int, raw string, err error) *RowError {
	var e *csv.ParseError
	if !errors.As(err, &e) {
		return &RowError{file, base, err.Error(), ""}
	}
	// csv tells a quote that is never closed and one with text behind it by the same error.
	if errors.Is(e.Err, csv.ErrQuote) && strings.Count(raw, `"`)%2 == 1 {
		return &RowError{file, base + e.StartLine, "a quote that opens in this row is never closed", `close it, or write "" for a quote within quotes`}
	}
	line := e.Line
	if errors.Is(e.Err, csv.ErrQuote) {
		line = e.StartLine
	}
	return &RowError{file, base + line, `a quote stands where RFC 4180 allows none`, `put the whole field in quotes and write "" for a quote within`}
}
