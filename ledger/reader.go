package ledger

import (
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// All files of a book are read by one type of reader. A scanner splits the file into records, and each field of a row parses its own
// text. gocsv writes the rows, and tests compare this reader with it. It does not read them, because it allocates for every cell,
// counts records instead of lines, and silently accepts missing and repeated columns.

// field is a value that can parse a field of CSV.
type field interface{ UnmarshalCSV(string) error }

// textField is a string as a field.
type textField string

// UnmarshalCSV stores the text unchanged.
func (f *textField) UnmarshalCSV(s string) error {
	*f = textField(s)
	return nil
}

func text(s *string) field { return (*textField)(s) }

// readHeader reads the header of a file that holds rows of the type of example.
func readHeader(s *scanner, example row) (*layout, error) {
	file := example.file()
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
	l, err := newLayout(file, columnsOf(example), header)
	if err != nil {
		return nil, err
	}
	l.numbers = numbersOf(example)
	return l, nil
}

// reader decodes the rows of one file, one after the other into the same row.
type reader struct {
	layout *layout
	row    row
	head   *Head // of a ledger's row
	fields []field
	check  *checker

	each func(line int, raw string)
	bad  func(e *RowError, record []string)

	// Of the present record.
	record []string
	line   int
	sound  bool
}

// newReader returns a reader that decodes each record into row, in the order of lines. It calls each after a row that keeps the rules of
// its file, else bad once for each fault, with the record as far as it is known. row is reused: clone it to keep it.
func newReader(l *layout, row row, each func(line int, raw string), bad func(e *RowError, record []string)) *reader {
	r := &reader{layout: l, row: row, fields: row.columns(), each: each, bad: bad}
	r.check = &checker{bad: func(column, what, mend string) { r.broken(column+" "+what, mend) }}
	if row, ok := row.(Row); ok {
		r.head = row.head()
	}
	return r
}

// broken reports a fault of the present record.
func (r *reader) broken(what, mend string) {
	r.bad(&RowError{r.layout.file, r.line, what, mend}, r.record)
	r.sound = false
}

// read decodes all records that are left in a scanner, whose header was read before. An error is about reading, not about rows.
func (r *reader) read(s *scanner) error {
	for {
		if more, err := r.next(s); err != nil || !more {
			return err
		}
	}
}

// next decodes the next record of a scanner and reports whether there was one.
func (r *reader) next(s *scanner) (more bool, err error) {
	record, raw, line, err := s.next()
	r.record, r.line, r.sound = record, line, true
	if err == io.EOF {
		return false, nil
	}
	if err != nil {
		if _, ok := err.(*csv.ParseError); !ok {
			return false, err
		}
		r.bad(syntaxError(r.layout.file, line-1, raw, err), nil)
		return true, nil
	}
	if !r.wellFormed(raw) {
		return true, nil
	}
	for i, f := range r.fields {
		text := r.layout.field(record, i)
		if err := f.UnmarshalCSV(text); err != nil {
			wrong := err.(*RowError)
			r.broken(r.layout.columns[i]+" "+quoted(text)+" "+wrong.What, wrong.Mend)
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
	return true, nil
}

// wellFormed reports a record that is not UTF-8 or not of the width of its header.
func (r *reader) wellFormed(raw string) bool {
	switch n := len(r.record); {
	case !utf8.ValidString(raw):
		r.broken("the row is not UTF-8", "save the file as UTF-8")
	case n == len(r.layout.header):
	case n == 1 && strings.Contains(raw, ";"):
		r.broken("the row's cells are parted by semicolons", "write commas between them")
	default:
		if what := r.layout.checkWidth(n); what != "" {
			r.broken("the row "+what, "a text with a comma wants quotes round it")
		}
	}
	return r.sound
}

// scanRows reads a whole file with newReader. An error is about its header or about reading, not about rows.
func scanRows(s *scanner, row row, each func(line int, raw string), bad func(e *RowError, record []string)) (*layout, error) {
	l, err := readHeader(s, row)
	if err != nil {
		return nil, err
	}
	return l, newReader(l, row, each, bad).read(s)
}

// texts returns pointers to the text fields of a row.
func texts(r row) (all []*string) {
	for _, f := range r.columns() {
		if text, ok := f.(*textField); ok {
			all = append(all, (*string)(text))
		}
	}
	return all
}

// decoded is the content of a table or a small ledger.
type decoded[T any] struct {
	rows []*T
	room []T // behind the last row, for more
	content
}

// keep keeps a copy of a row. Rows lie in pieces of up to 256: a stock with 55,000 weigh-ins takes a twentieth less memory so than with each
// by itself.
func (d *decoded[T]) keep(row *T) {
	if len(d.room) == cap(d.room) {
		d.room = make([]T, 0, min(max(4, 2*cap(d.room)), 256))
	}
	d.room = append(d.room, *row)
	d.rows = append(d.rows, &d.room[len(d.room)-1])
}

// content is the part of decoded that does not depend on the type of rows.
type content struct {
	lines  []int    // of sound rows of a table; rows of a ledger have it in their heads
	raws   []string // and their text
	layout *layout
	faults Faults
	broken [][]string // the records with faults: a name in them still counts as known
	lost   bool       // there are records of which no field is known
}

// decode reads a table or a small ledger. Rows that break a rule are d.faults; an error is about the header, without which no row can
// be read, or about reading.
func decode[T any, R rowOf[T]](s *scanner) (d decoded[T], err error) {
	row := new(T)
	err = d.read(s, R(row), func() { d.keep(row) })
	return d, err
}

// read decodes the rows of a file into row, one after the other, and calls keep after each.
func (c *content) read(s *scanner, row row, keep func()) (err error) {
	if c.layout, err = readHeader(s, row); err != nil {
		return err
	}
	return c.more(s, row, keep)
}

// more is read for a scanner whose header was read before.
func (c *content) more(s *scanner, row row, keep func()) error {
	return newReader(c.layout, row, func(line int, raw string) {
		switch r := row.(type) {
		case Row:
			r.head().setID()
			keep()
			return
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
	}).read(s)
}

// syntaxError returns the fault of raw, the text of a record that is not CSV by RFC 4180. Line base+1 of the file is its first line.
func syntaxError(file string, base int, raw string, err error) *RowError {
	var e *csv.ParseError
	if !errors.As(err, &e) {
		return &RowError{file, base, err.Error(), ""}
	}
	// encoding/csv has one error for a quote that is never closed and for one with text behind it.
	if errors.Is(e.Err, csv.ErrQuote) && strings.Count(raw, `"`)%2 == 1 {
		return &RowError{file, base + e.StartLine, "a quote that opens in this row is never closed", `close it, or write "" for a quote within quotes`}
	}
	line := e.Line
	if errors.Is(e.Err, csv.ErrQuote) {
		line = e.StartLine
	}
	return &RowError{file, base + line, `a quote stands where RFC 4180 allows none`, `put the whole field in quotes and write "" for a quote within`}
}
