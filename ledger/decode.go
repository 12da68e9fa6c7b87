package ledger

import (
	"encoding/csv"
	"errors"
	"io"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/gocarina/gocsv"
)

// The tables are read whole and decoded by gocsv, row by row, over a csv.Reader of our own: gocsv itself
// counts records instead of lines and passes over missing and repeated columns in silence.

// decoded is what a table or a small ledger holds.
type decoded[T any] struct {
	rows   []*T
	lines  []int    // of rows
	raws   []string // of rows, as they stand in the file
	layout *layout
	faults Faults
	broken [][]string // the records of faults, so that what they name can still be known
}

// decode reads content, the whole of file, into rows that keep the file's rules; rows that do not are faults.
// An error is about the header, which leaves nothing to read. Memory is bounded by the content.
func decode[T any, R interface {
	*T
	row
}](file, content string) (decoded[T], error) {
	var d decoded[T]
	content = dropBlankLines(strings.TrimPrefix(content, "\ufeff"))
	reader := csv.NewReader(strings.NewReader(content))
	reader.FieldsPerRecord = -1
	reader.ReuseRecord = true
	um, err := gocsv.NewUnmarshaller(reader, new(T)) // a pointer: rows come back without being copied
	if errors.Is(err, io.EOF) {
		return d, nil
	}
	if err != nil {
		return d, Faults{syntaxError(file, 0, content[:reader.InputOffset()], err)}
	}
	d.layout, err = newLayout(file, columnsOf[T](), um.Headers)
	if err != nil {
		return d, err
	}
	// gocsv also takes a name with other blanks or zero-width characters in it; what the layout does not know is
	// kept from it.
	known := slices.Clone(d.layout.header)
	for i, name := range known {
		if !slices.Contains(d.layout.columns, name) {
			known[i] = ""
		}
	}
	if !slices.Equal(known, um.Headers) {
		if err := um.RenormalizeHeaders(func([]string) []string { return known }); err != nil {
			return d, err
		}
	}
	for {
		start := reader.InputOffset()
		value, err := um.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var syntax *csv.ParseError
		if errors.As(err, &syntax) {
			d.faults = append(d.faults, syntaxError(file, 0, content[start:reader.InputOffset()], err))
			if errors.Is(err, csv.ErrQuote) { // where the next record begins is not known
				break
			}
			continue
		}
		raw := content[start:reader.InputOffset()]
		if strings.Trim(raw, " \t\r\n") == "" {
			continue
		}
		line, _ := reader.FieldPos(0)
		bad := func(what, mend string) {
			d.faults = append(d.faults, &RowError{file, line, what, mend})
		}
		before := len(d.faults)
		switch {
		case !utf8.ValidString(raw):
			bad("the row is not UTF-8", "save the file as UTF-8")
		case d.layout.width(fieldCount(raw)) != "": // before the values, which may have moved to other columns
			bad("the row "+d.layout.width(fieldCount(raw)), "a text with a comma wants quotes round it")
		case err != nil:
			explain[T](d.layout, split(raw), bad)
			if len(d.faults) == before {
				bad(err.Error(), "")
			}
		default:
			typed := value.(*T)
			r := R(typed)
			for _, text := range r.texts() {
				*text = Trim(*text)
			}
			r.check(&checker{bad: func(column, what, mend string) { bad(column+" "+what, mend) }})
			if len(d.faults) == before {
				d.place(typed, r, line, raw)
			}
		}
		if len(d.faults) > before {
			d.broken = append(d.broken, split(raw))
		}
	}
	return d, nil
}

// dropBlankLines empties the lines of blanks before the header, which csv.Reader would take for it; they stay lines.
func dropBlankLines(content string) string {
	rest := strings.TrimLeft(content, " \t\r\n")
	end := strings.LastIndexByte(content[:len(content)-len(rest)], '\n') + 1
	return strings.Repeat("\n", strings.Count(content[:end], "\n")) + content[end:]
}

// place notes where a row stands and what it is called, and keeps it.
func (d *decoded[T]) place(typed *T, r row, line int, raw string) {
	switch r := r.(type) {
	case Row:
		h := r.head()
		h.Line, h.raw, h.layout = line, raw, d.layout
		h.setID()
	case *Setting:
		r.Line = line
	}
	d.rows = append(d.rows, typed)
	d.lines = append(d.lines, line)
	d.raws = append(d.raws, raw)
}

// explain finds which fields gocsv could not read, as its own error names a column by number alone.
func explain[T any](l *layout, record []string, bad func(what, mend string)) {
	fields := reflect.ValueOf(new(T)).Elem()
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if f.Anonymous && f.Tag.Get("csv") == "" {
				walk(v.Field(i))
				continue
			}
			if !f.IsExported() {
				continue
			}
			reader, ok := v.Field(i).Addr().Interface().(gocsv.TypeUnmarshaller)
			if !ok {
				continue
			}
			for c, name := range l.columns {
				if name != f.Tag.Get("csv") {
					continue
				}
				text := l.field(record, c)
				var what *fault
				if errors.As(reader.UnmarshalCSV(text), &what) {
					bad(name+" "+quoted(text)+" "+what.what, what.mend)
				}
			}
		}
	}
	walk(fields)
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

func fieldCount(raw string) int {
	if strings.Contains(raw, `"`) {
		return len(split(raw))
	}
	return strings.Count(raw, ",") + 1
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
