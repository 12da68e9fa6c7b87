package ledger

import (
	"encoding/csv"
	"errors"
	"io"
	"reflect"
	"strings"
	"unicode/utf8"

	"github.com/gocarina/gocsv"
)

// The small files are read whole and decoded by gocsv, row by row, over a csv.Reader of our own: gocsv itself
// counts records instead of lines and passes over missing and repeated columns in silence.

// decoded is what a small file holds.
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
	content = strings.TrimPrefix(content, "\ufeff")
	reader := csv.NewReader(strings.NewReader(content))
	reader.FieldsPerRecord = -1
	um, err := gocsv.NewUnmarshaller(reader, *new(T))
	if errors.Is(err, io.EOF) {
		return d, nil
	}
	if err != nil {
		return d, Faults{syntaxError(file, 0, err)}
	}
	d.layout, err = newLayout(file, columnsOf[T](), um.Headers)
	if err != nil {
		return d, err
	}
	if err := um.RenormalizeHeaders(func([]string) []string { return d.layout.header }); err != nil {
		return d, err
	}
	for {
		start := reader.InputOffset()
		value, err := um.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var syntax *csv.ParseError
		if errors.As(err, &syntax) {
			d.faults = append(d.faults, syntaxError(file, 0, err))
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
		case err != nil:
			explain[T](d.layout, split(raw), bad)
		default:
			if n := fieldCount(raw); n != len(d.layout.header) {
				if what := d.layout.width(n); what != "" {
					bad("the row "+what, "a text with a comma wants quotes round it")
					break
				}
			}
			typed := value.(T)
			r := R(&typed)
			for _, text := range r.texts() {
				*text = Trim(*text)
			}
			r.check(&checker{bad: func(column, what, mend string) { bad(column+" "+what, mend) }})
			if len(d.faults) == before {
				d.place(&typed, r, line, raw)
			}
		}
		if len(d.faults) > before {
			d.broken = append(d.broken, split(raw))
		}
	}
	return d, nil
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
			reader, ok := v.Field(i).Addr().Interface().(gocsv.TypeUnmarshaller)
			if !f.IsExported() || !ok {
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

// syntaxError tells of text that is not CSV by RFC 4180; lines are counted from after line base.
func syntaxError(file string, base int, err error) *RowError {
	var e *csv.ParseError
	if !errors.As(err, &e) {
		return &RowError{file, base, err.Error(), ""}
	}
	if errors.Is(e.Err, csv.ErrQuote) && e.Line != e.StartLine {
		return &RowError{file, base + e.StartLine, "a quote that opens in this row is never closed", `close it, or write "" for a quote within quotes`}
	}
	return &RowError{file, base + e.Line, `a quote stands where RFC 4180 allows none`, `put the whole field in quotes and write "" for a quote within`}
}
