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

// words is a field that is text, as text makes it of a string.
type words string

// UnmarshalCSV takes the text as it stands.
func (w *words) UnmarshalCSV(s string) error {
	*w = words(s)
	return nil
}

func text(s *string) field { return (*words)(s) }

// readHeader reads the header of a file of such rows.
func readHeader(s *scanner, of row) (*layout, error) {
	file := of.file()
	header, raw, line, err := s.next()
	if err == io.EOF {
		return nil, noHeader(file)
	}
	if _, ok := err.(*csv.ParseError); ok {
		return nil, Faults{syntaxError(file, line-1, raw, err)}
	}
	if err != nil {
		return nil, err
	}
	l, err := newLayout(file, columnsOf(of), header)
	if err != nil {
		return nil, err
	}
	l.numbers = numbersOf(of)
	return l, nil
}

// reader reads the rows of one file, all into the same row.
type reader struct {
	layout *layout
	row    row
	head   *Head // of a ledger's row
	fields []field
	check  *checker

	each func(line int, raw string)
	bad  func(e *RowError, record []string)

	// The record at hand.
	record []string
	line   int
	sound  bool
}

// newReader makes a reader that reads into row every row that keeps the rules of its file, in the order of lines, and calls each after it;
// and that calls bad with what is wrong with every other, once for each fault, and its record as far as it is known. Row is used again for
// the next: who keeps it, clones it.
func newReader(l *layout, row row, each func(line int, raw string), bad func(e *RowError, record []string)) *reader {
	r := &reader{layout: l, row: row, fields: row.columns(), each: each, bad: bad}
	r.check = &checker{bad: func(column, what, mend string) { r.broken(column+" "+what, mend) }}
	if row, ok := row.(Row); ok {
		r.head = row.head()
	}
	return r
}

func (r *reader) broken(what, mend string) {
	r.bad(&RowError{r.layout.file, r.line, what, mend}, r.record)
	r.sound = false
}

// read reads all rows that are left of a scanner past its header. An error is about reading.
func (r *reader) read(s *scanner) error {
	for {
		record, raw, line, err := s.next()
		r.record, r.line, r.sound = record, line, true
		switch {
		case err == io.EOF:
			return nil
		case err != nil:
			if _, ok := err.(*csv.ParseError); !ok {
				return err
			}
			r.bad(syntaxError(r.layout.file, line-1, raw, err), nil)
			continue
		case !utf8.ValidString(raw):
			r.broken("the row is not UTF-8", "save the file as UTF-8")
			continue
		case len(record) != len(r.layout.header):
			if len(record) == 1 && strings.Contains(raw, ";") {
				r.broken("the row's cells are parted by semicolons", "write commas between them")
				continue
			}
			if what := r.layout.width(len(record)); what != "" {
				r.broken("the row "+what, "a text with a comma wants quotes round it")
				continue
			}
		}
		for i, f := range r.fields {
			text := r.layout.field(record, i)
			if err := f.UnmarshalCSV(text); err != nil {
				wrong := err.(*fault)
				r.broken(r.layout.columns[i]+" "+quoted(text)+" "+wrong.what, wrong.mend)
			}
		}
		if r.head != nil {
			r.head.Line, r.head.ID, r.head.raw, r.head.layout = line, "", raw, r.layout
		}
		if r.sound {
			r.row.check(r.check)
		}
		if r.sound {
			r.each(line, raw)
		}
	}
}

// scanRows reads a file of such rows from its header on with a reader that it makes. An error is about the header, or about reading.
func scanRows(s *scanner, row row, each func(line int, raw string), bad func(e *RowError, record []string)) (*layout, error) {
	l, err := readHeader(s, row)
	if err != nil {
		return nil, err
	}
	return l, newReader(l, row, each, bad).read(s)
}

// texts returns the text fields of a row.
func texts(r row) (all []*string) {
	for _, f := range r.columns() {
		if text, ok := f.(*words); ok {
			all = append(all, (*string)(text))
		}
	}
	return all
}

// decoded is what a table or a small ledger holds.
type decoded[T any] struct {
	rows []*T
	content
}

// content is what is known of the rows of a file, whatever they are.
type content struct {
	lines  []int    // of sound rows
	raws   []string // of sound rows, as they stand in the file
	layout *layout
	faults Faults
	broken [][]string // the records of faults, so that what they name can still be known
	lost   bool       // a record, or more of them, of which nothing is known
}

// decode reads a table or a small ledger into rows. Rows that break a rule are faults; an error is about the header, which leaves
// nothing to read, or about reading.
func decode[T any, R rowOf[T]](s *scanner) (d decoded[T], err error) {
	row := new(T)
	err = d.read(s, R(row), func() {
		kept := *row
		d.rows = append(d.rows, &kept)
	})
	return d, err
}

// read reads the rows of a file into row, one after the other, and calls keep after each.
func (c *content) read(s *scanner, row row, keep func()) (err error) {
	c.layout, err = scanRows(s, row, func(line int, raw string) {
		switch r := row.(type) {
		case Row:
			r.head().setID()
		case *Setting:
			r.Line = line
		case *Material:
			r.Line = line
		}
		c.lines = append(c.lines, line)
		c.raws = append(c.raws, raw)
		keep()
	}, func(e *RowError, record []string) {
		if record == nil {
			c.lost = true
		} else if n := len(c.faults); n == 0 || c.faults[n-1].Line != e.Line {
			c.broken = append(c.broken, slices.Clone(record))
		}
		c.faults = append(c.faults, e)
	})
	return err
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
