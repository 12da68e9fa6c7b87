package reports

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"strings"

	"tarebook/ledger"
)

// manyBytes of JSON are written at a time. A value that cannot be encoded leaves a shorter answer unwritten.
const manyBytes = 1 << 20

// writeJSON writes a value as encoding/json does, indented by two blanks. It encodes a list, or each list of a struct, by its elements:
// encoding/json keeps all of what it encodes in memory, twice.
func writeJSON(w io.Writer, value any) error {
	j := jsonWriter{w: w}
	j.encoder = json.NewEncoder(&j.b)
	j.encoder.SetEscapeHTML(false)
	j.whole(value)
	j.text("\n")
	j.flush()
	return j.err
}

type jsonWriter struct {
	w       io.Writer
	b       bytes.Buffer
	encoder *json.Encoder // to b
	err     error
}

var marshaler = reflect.TypeFor[json.Marshaler]()

func (j *jsonWriter) whole(value any) {
	v := reflect.ValueOf(value)
	for v.Kind() == reflect.Pointer && !v.IsNil() && !v.Type().Implements(marshaler) {
		v = v.Elem()
	}
	switch {
	case isList(v):
		j.list(v, "")
	case isPlain(v):
		j.fields(v)
	default:
		j.element(value, "")
	}
}

// isList reports whether a value is a list with elements.
func isList(v reflect.Value) bool {
	return v.Kind() == reflect.Slice && v.Type().Elem().Kind() != reflect.Uint8 && v.Len() > 0 && !v.Type().Implements(marshaler)
}

// isPlain reports whether a value is a struct each field of which is written, by the name in its tag.
func isPlain(v reflect.Value) bool {
	if v.Kind() != reflect.Struct || v.Type().Implements(marshaler) || reflect.PointerTo(v.Type()).Implements(marshaler) {
		return false
	}
	written := false
	for f := range v.Type().Fields() {
		if f.Anonymous || f.IsExported() && !isName(f.Tag.Get("json")) {
			return false
		}
		written = written || f.IsExported()
	}
	return written
}

func isName(tag string) bool { return tag != "" && tag != "-" && !strings.Contains(tag, ",") }

func (j *jsonWriter) fields(v reflect.Value) {
	before := "{\n"
	for f, field := range v.Fields() {
		if !f.IsExported() {
			continue
		}
		j.text(before + `  "` + f.Tag.Get("json") + `": `)
		if isList(field) {
			j.list(field, "  ")
		} else {
			j.element(field.Interface(), "  ")
		}
		before = ",\n"
	}
	j.text("\n}")
}

func (j *jsonWriter) list(v reflect.Value, indent string) {
	before := "[\n"
	for i := range v.Len() {
		j.text(before + indent + "  ")
		j.element(v.Index(i).Interface(), indent+"  ")
		before = ",\n"
	}
	j.text("\n" + indent + "]")
}

// element encodes a value whose lines after the first begin with indent.
func (j *jsonWriter) element(value any, indent string) {
	if j.err != nil {
		return
	}
	j.encoder.SetIndent(indent, "  ")
	if j.err = j.encoder.Encode(value); j.err != nil {
		return
	}
	j.b.Truncate(j.b.Len() - len("\n"))
	if j.b.Len() >= manyBytes {
		j.flush()
	}
}

func (j *jsonWriter) text(s string) { j.b.WriteString(s) }

// flush writes what was encoded, with escapes for marks, which are whole there.
func (j *jsonWriter) flush() {
	if j.err != nil {
		return
	}
	text := j.b.Bytes()
	if bytes.IndexFunc(text, mark) >= 0 {
		text = []byte(escapeMarks(string(text)))
	}
	_, j.err = j.w.Write(text)
	j.b.Reset()
}

// escapeMarks replaces marks that change the direction of text by JSON escapes. In JSON they can only occur in strings.
func escapeMarks(s string) string {
	if strings.IndexFunc(s, mark) < 0 {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if mark(r) {
			fmt.Fprintf(&b, `\u%04x`, r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

func mark(r rune) bool { return r > 0x7e && ledger.Forbidden(r) }
