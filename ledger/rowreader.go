package ledger

import (
	"encoding/csv"
	"io"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"
)

// Ledgers are read by the scanner that consumption is streamed with: several times faster than gocsv, which boxes every
// cell. Gocsv reads the tables, writes every row, and is what this is held against in the tests.

// csvField is a field that reads itself.
type csvField interface{ UnmarshalCSV(string) error }

// fieldOf finds the field of each column in a row type; a string field takes text as it is.
type fieldOf struct {
	index []int
	text  bool
}

func fieldsOf(t reflect.Type, columns []string) []fieldOf {
	fields := make([]fieldOf, len(columns))
	var walk func(t reflect.Type, above []int)
	walk = func(t reflect.Type, above []int) {
		for i := range t.NumField() {
			f := t.Field(i)
			name, ok := f.Tag.Lookup("csv")
			if f.Anonymous && !ok {
				walk(f.Type, append(above, i))
			} else if c := slices.Index(columns, name); c >= 0 {
				fields[c] = fieldOf{append(slices.Clone(above), i), f.Type.Kind() == reflect.String}
			}
		}
	}
	walk(t, nil)
	return fields
}

// decodeLedger is decode for a ledger.
func decodeLedger[T any, R interface {
	*T
	Row
}](file, content string) (decoded[T], error) {
	var d decoded[T]
	s := &scanner{block: strings.TrimPrefix(content, "\ufeff"), started: true, eof: true}
	header, raw, line, err := s.next()
	if err == io.EOF {
		return d, nil
	}
	if err != nil {
		return d, Faults{syntaxError(file, line-1, raw, err)}
	}
	columns := columnsOf[T]()
	if d.layout, err = newLayout(file, columns, slices.Clone(header)); err != nil {
		return d, err
	}
	fields := fieldsOf(reflect.TypeFor[T](), columns)
	bad := func(what, mend string) { d.faults = append(d.faults, &RowError{file, line, what, mend}) }
	check := &checker{bad: func(column, what, mend string) { bad(column+" "+what, mend) }}
	for {
		var record []string
		record, raw, line, err = s.next()
		if err == io.EOF {
			return d, nil
		}
		before := len(d.faults)
		switch {
		case err != nil:
			if _, ok := err.(*csv.ParseError); !ok {
				return d, err
			}
			d.faults = append(d.faults, syntaxError(file, line-1, raw, err))
			continue
		case !utf8.ValidString(raw):
			bad("the row is not UTF-8", "save the file as UTF-8")
		case len(record) != len(d.layout.header) && d.layout.width(len(record)) != "":
			bad("the row "+d.layout.width(len(record)), "a text with a comma wants quotes round it")
		default:
			typed := new(T)
			value := reflect.ValueOf(typed).Elem()
			for i, f := range fields {
				text := d.layout.field(record, i)
				if text == "" {
					continue
				}
				field := value.FieldByIndex(f.index)
				if f.text {
					field.SetString(text)
				} else if err := field.Addr().Interface().(csvField).UnmarshalCSV(text); err != nil {
					wrong := err.(*fault)
					bad(columns[i]+" "+quoted(text)+" "+wrong.what, wrong.mend)
				}
			}
			if len(d.faults) == before {
				R(typed).check(check)
			}
			if len(d.faults) == before {
				d.place(typed, R(typed), line, raw)
			}
		}
		if len(d.faults) > before {
			d.broken = append(d.broken, slices.Clone(record))
		}
	}
}
