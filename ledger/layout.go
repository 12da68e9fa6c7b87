package ledger

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
)

// layout is the header of one file: where each column of the contract stands.
type layout struct {
	file    string
	header  []string // as the file has it, trimmed
	columns []string // of the contract, in its order
	at      []int    // for each of columns its place in the file, -1 where the header lacks it
	numbers []bool   // which of columns hold a number; nil where nobody asks
}

func newLayout(file string, columns, header []string) (*layout, error) {
	l := &layout{file: file, columns: columns, at: make([]int, len(columns))}
	var faults Faults
	for i := range columns {
		l.at[i] = -1
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
			l.at[i] = j
		}
	}
	if len(header) == 1 && strings.Contains(header[0], ";") { // as a spreadsheet of a country with a decimal comma saves
		return l, append(faults, &RowError{file, 1, "the cells are parted by semicolons", "save the file with commas between them"}).err()
	}
	var missing []string
	for i, name := range columns {
		if l.at[i] < 0 && !mayLack(file, name) {
			missing = append(missing, name)
		}
	}
	if missing != nil {
		faults = append(faults, &RowError{file, 1, "the header lacks " + strings.Join(missing, ", "),
			"it should read " + strings.Join(columns, ",")})
	}
	return l, faults.err()
}

// width tells what is wrong with a record of n fields: only optional fields at the end may be left out.
func (l *layout) width(n int) string {
	if n == len(l.header) {
		return ""
	}
	if n > len(l.header) {
		return fmt.Sprintf("has %d fields where the header has %d", n, len(l.header))
	}
	for i, j := range l.at {
		if j >= n && !mayLack(l.file, l.columns[i]) {
			return fmt.Sprintf("has %d fields and lacks %s", n, l.columns[i])
		}
	}
	return ""
}

// field returns column i of the contract from a record of the file, trimmed; absent is empty.
func (l *layout) field(record []string, i int) string {
	if j := l.at[i]; j >= 0 && j < len(record) {
		return Trim(record[j])
	}
	return ""
}

// canonical is the form that identity and conflicts compare: the file's name, then the contract's columns in table order as
// trimmed text, but for the late ones, then of those that are not blank NAME=VALUE; joined by U+001F and ended by LF.
func (l *layout) canonical(record []string) string {
	return l.form(record, func(_ int, field string) string { return field })
}

// shortest is the form that seals compare: canonical with each number in its shortest form, as a spreadsheet writes it.
func (l *layout) shortest(record []string) string {
	return l.form(record, func(i int, field string) string {
		if l.numbers[i] {
			return shortestNumber(field)
		}
		return field
	})
}

func (l *layout) form(record []string, of func(i int, field string) string) string {
	var b strings.Builder
	b.WriteString(l.file)
	late := lateColumns[l.file]
	for i, name := range l.columns {
		if late == nil || !slices.Contains(late, name) {
			b.WriteByte(0x1f)
			b.WriteString(of(i, l.field(record, i)))
		}
	}
	for _, name := range late {
		i := slices.Index(l.columns, name)
		if text := l.field(record, i); text != "" {
			b.WriteByte(0x1f)
			b.WriteString(name + "=" + of(i, text))
		}
	}
	b.WriteByte('\n')
	return b.String()
}

// shortestNumber returns a number that keeps the rules without zeros that say nothing: 12.50 is 12.5, 007 is 7.
func shortestNumber(s string) string {
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	for len(s) > 1 && s[0] == '0' && s[1] != '.' {
		s = s[1:]
	}
	return s
}

// numbersOf tells which columns of a row hold a number.
func numbersOf(r row) (numbers []bool) {
	for _, f := range r.columns() {
		switch f.(type) {
		case *Grams, *Mass, *Number, *Count:
			numbers = append(numbers, true)
		default:
			numbers = append(numbers, false)
		}
	}
	return numbers
}

// canonical returns the canonical form of a row that was read.
func (h *Head) canonical() string { return h.layout.canonical(h.record()) }

// record returns the fields of the row's text.
func (h *Head) record() []string { return split(h.raw) }

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

// contentID names a row that has no entry: the first 26 hex digits of the SHA-256 of its canonical form.
func contentID(canonical string) string {
	sum := sha256.Sum256([]byte(canonical))
	return hex.EncodeToString(sum[:13])
}
