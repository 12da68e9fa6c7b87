package ledger

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"hash/maphash"
	"slices"
	"strings"
)

// layout says where each column of a row type stands in the records of one file.
type layout struct {
	file    string
	header  []string // as the file has it, trimmed
	columns []string // of the row type, in its order
	place   []int    // for each of columns, its index in a record; -1 if the header lacks it
	numbers []bool   // for each of columns, whether it holds a number; only set by readHeader

	early, late []int // the columns that stand in every canonical form, and those that stand there where they are not blank
}

func newLayout(file string, columns, header []string) (*layout, error) {
	l := &layout{file: file, columns: columns, place: make([]int, len(columns))}
	var faults Faults
	for i, name := range columns {
		l.place[i] = -1
		if !slices.Contains(lateColumns[file], name) {
			l.early = append(l.early, i)
		}
	}
	for _, name := range lateColumns[file] {
		l.late = append(l.late, slices.Index(columns, name))
	}
	seen := make(map[string]bool, len(header))
	for j, name := range header {
		name = Trim(name)
		l.header = append(l.header, name)
		twice := name != "" && seen[name]
		if seen[name] = true; twice {
			faults = append(faults, &RowError{file, 1, "column " + quoted(name) + " stands twice", "rename one of them"})
		}
		if i := slices.Index(columns, name); i >= 0 {
			l.place[i] = j
		}
	}
	if len(header) == 1 && strings.Contains(header[0], ";") { // as spreadsheets save where the decimal mark is a comma
		return l, append(faults, &RowError{file, 1, "the cells are parted by semicolons", "save the file with commas between them"}).err()
	}
	var missing []string
	for i, name := range columns {
		if l.place[i] < 0 && !mayBeAbsent(file, name) {
			missing = append(missing, name)
		}
	}
	if missing != nil {
		faults = append(faults, &RowError{file, 1, "the header lacks " + strings.Join(missing, ", "),
			"it should read " + strings.Join(columns, ",")})
	}
	return l, faults.err()
}

// checkWidth returns what is wrong with a record of n fields, "" if nothing is. Columns that may be absent may also be left out at
// the end of a record.
func (l *layout) checkWidth(n int) string {
	if n == len(l.header) {
		return ""
	}
	if n > len(l.header) {
		return fmt.Sprintf("has %d fields where the header has %d", n, len(l.header))
	}
	for i, j := range l.place {
		if j >= n && !mayBeAbsent(l.file, l.columns[i]) {
			return fmt.Sprintf("has %d fields and lacks %s", n, l.columns[i])
		}
	}
	return ""
}

// field returns the trimmed text of the i-th of l.columns in a record, "" if the record lacks it.
func (l *layout) field(record []string, i int) string {
	if j := l.place[i]; j >= 0 && j < len(record) {
		return Trim(record[j])
	}
	return ""
}

// canonical returns the form in which rows are compared for identity and conflicts: the file's name, the trimmed text of each column
// in order but the late ones, and NAME=VALUE for each late column that is not blank; joined by U+001F and ended by LF.
func (l *layout) canonical(record []string) string { return string(l.appendCanonical(nil, record)) }

func (l *layout) appendCanonical(form []byte, record []string) []byte {
	return l.appendForm(form, record, func(_ int, field string) string { return field })
}

// shortest returns the form that seals sum up: canonical with each number in its shortest form, as a spreadsheet saves it.
func (l *layout) shortest(record []string) string {
	return string(l.appendForm(nil, record, func(i int, field string) string {
		if l.numbers[i] {
			return shortestNumber(field)
		}
		return field
	}))
}

// appendForm appends the canonical form with each field as edit returns it.
func (l *layout) appendForm(form []byte, record []string, edit func(i int, field string) string) []byte {
	form = append(slices.Grow(form, 256), l.file...)
	for _, i := range l.early {
		form = append(form, 0x1f)
		form = append(form, edit(i, l.field(record, i))...)
	}
	for _, i := range l.late {
		if text := l.field(record, i); text != "" {
			form = append(form, 0x1f)
			form = append(form, l.columns[i]...)
			form = append(form, '=')
			form = append(form, edit(i, text)...)
		}
	}
	return append(form, '\n')
}

// shortestNumber returns a sound number without redundant zeros: 12.50 becomes 12.5, 007 becomes 7.
func shortestNumber(s string) string {
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	for len(s) > 1 && s[0] == '0' && s[1] != '.' {
		s = s[1:]
	}
	return s
}

// numbersOf returns for each column of a row whether it holds a number.
func numbersOf(r row) (numbers []bool) {
	for _, f := range r.columns() {
		switch f.(type) {
		case *Grams, *Mass, *Number, *Count, *Bound:
			numbers = append(numbers, true)
		default:
			numbers = append(numbers, false)
		}
	}
	return numbers
}

// canonical returns the canonical form of a row that was read.
func (h *Head) canonical() string { return h.layout.canonical(h.record()) }

// hash returns a hash of the canonical form, of which nothing is kept in memory.
func (h *Head) hash(seed maphash.Seed) uint64 {
	var fields [32]string
	var form [512]byte
	return maphash.Bytes(seed, h.layout.appendCanonical(form[:0], h.appendRecord(fields[:0])))
}

// record returns the fields of the row's text.
func (h *Head) record() []string { return h.appendRecord(nil) }

func (h *Head) appendRecord(fields []string) []string {
	line, rest, _ := strings.Cut(h.raw, "\n")
	if line == "" || rest != "" || strings.Contains(line, `"`) {
		return append(fields, split(h.raw)...)
	}
	line = strings.TrimSuffix(line, "\r") // as scanner does, and faster
	for {
		field, rest, more := strings.Cut(line, ",")
		if fields = append(fields, field); !more {
			return fields
		}
		line = rest
	}
}

// split returns the fields of a record that was read before, so it can't be broken.
func split(raw string) []string {
	r := csv.NewReader(strings.NewReader(raw))
	r.FieldsPerRecord = -1
	record, err := r.Read()
	if err != nil {
		panic(err)
	}
	return record
}

// contentID returns the ID of a row without an entry: the first 26 hex digits of the SHA-256 of its canonical form.
func contentID(canonical string) string {
	sum := sha256.Sum256([]byte(canonical))
	return hex.EncodeToString(sum[:13])
}
