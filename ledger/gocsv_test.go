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

// The reference that the reader is held against: gocsv, row by row, over a csv.Reader.

// gocsvDecode is decode by gocsv.
func gocsvDecode[T any, R rowOf[T]](content string) (decoded[T], error) {
	var d decoded[T]
	file := R(new(T)).file()
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
	d.layout, err = newLayout(file, columnsOf(R(new(T))), um.Headers)
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
		case d.layout.checkWidth(fieldCount(raw)) != "": // before the values, which may have moved to other columns
			bad("the row "+d.layout.checkWidth(fieldCount(raw)), "a text with a comma wants quotes round it")
		case err != nil:
			explain[T](d.layout, split(raw), bad)
			if len(d.faults) == before {
				bad(err.Error(), "")
			}
		default:
			typed := value.(*T)
			r := R(typed)
			for _, text := range texts(r) {
				*text = Trim(*text)
			}
			r.check(&checker{bad: func(column, what, mend string) { bad(column+" "+what, mend) }})
			if len(d.faults) == before {
				if r, ok := any(typed).(Row); ok {
					h := r.head()
					h.Line, h.raw, h.layout = line, raw, d.layout
					h.setID()
				}
				if s, ok := any(typed).(*Setting); ok {
					s.Line = line
				}
				d.rows, d.lines, d.raws = append(d.rows, typed), append(d.lines, line), append(d.raws, raw)
			}
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
				var what *RowError
				if errors.As(reader.UnmarshalCSV(text), &what) {
					bad(name+" "+quoted(text)+" "+what.What, what.Mend)
				}
			}
		}
	}
	walk(fields)
}

func fieldCount(raw string) int {
	if strings.Contains(raw, `"`) {
		return len(split(raw))
	}
	return strings.Count(raw, ",") + 1
}
