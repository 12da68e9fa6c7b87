package ledger

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// The files of a book.
const (
	SettingsFile = "settings.csv"
	Materials    = "materials.csv"
	Cores        = "cores.csv"
	Scales       = "scales.csv"
	Printers     = "printers.csv"
	Purges       = "purges.csv"
	Clients      = "clients.csv"

	Purchases       = "purchases.csv"
	Weighins        = "weighins.csv"
	ConsumptionFile = "consumption.csv"
	Queue           = "queue.csv"
	Moves           = "moves.csv"
	Voids           = "voids.csv"
	Seals           = "seals.csv"
	Bills           = "bills.csv"
)

// Tables and Ledgers list the files of a book in the order of the contract.
var (
	Tables  = []string{SettingsFile, Materials, Cores, Scales, Printers, Purges, Clients}
	Ledgers = []string{Purchases, Weighins, ConsumptionFile, Queue, Moves, Voids, Seals, Bills}
)

var optional = []string{"note", "why", "swatch", "maker", "lot", "supplier", "place", "from", "changes", "due", "repeat_g", "hour_cost"}

// lateColumns came into the contract after books were written. The canonical form has them only where they are not blank, so that the
// rows and seals of those books keep their names and sums.
var lateColumns = map[string][]string{Purchases: {"gross_g", "scale"}, ConsumptionFile: {"slot", "file"}}

// added tells whether the program fills a column by itself: where a header lacks it, the value is left out.
func added(file, column string) bool {
	return file == ConsumptionFile && (column == "slot" || column == "file")
}

func mayLack(file, column string) bool {
	return slices.Contains(optional, column) || slices.Contains(lateColumns[file], column) || file == Queue && (column == "basis" || column == "file")
}

// Header returns the header line of a file of the book, by the contract.
func Header(file string) string {
	if columns, ok := columnsByFile()[file]; ok {
		return strings.Join(columns, ",") + "\n"
	}
	return ""
}

func columnsByFile() map[string][]string {
	return map[string][]string{
		SettingsFile: columnsOf(&Setting{}), Materials: columnsOf(&Material{}), Cores: columnsOf(&Core{}),
		Scales: columnsOf(&Scale{}), Printers: columnsOf(&Printer{}), Purges: columnsOf(&PairPurge{}), Clients: columnsOf(&Client{}),
		Purchases: columnsOf(&Purchase{}), Weighins: columnsOf(&Weighin{}), ConsumptionFile: columnsOf(&Consumption{}),
		Queue: columnsOf(&Need{}), Moves: columnsOf(&Move{}), Voids: columnsOf(&Void{}), Seals: columnsOf(&Seal{}),
		Bills: columnsOf(&Bill{}),
	}
}

// records catches what gocsv writes, so that it can be put in the order of a file's own header.
type records [][]string

func (r *records) Write(record []string) error {
	*r = append(*r, slices.Clone(record))
	return nil
}
func (*records) Flush()       {}
func (*records) Error() error { return nil }

// columnsOf returns the columns of a row type, from its csv tags; a test holds them against what gocsv derives.
func columnsOf(r row) []string { return tagged(nil, reflect.TypeOf(r).Elem()) }

func tagged(columns []string, t reflect.Type) []string {
	for i := range t.NumField() {
		f := t.Field(i)
		switch name, ok := f.Tag.Lookup("csv"); {
		case f.Anonymous && !ok:
			columns = tagged(columns, f.Type)
		case ok && name != "-":
			columns = append(columns, name)
		}
	}
	return columns
}

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

// record splits the row's text again.
func (h *Head) record() []string {
	r := csv.NewReader(strings.NewReader(h.raw))
	r.FieldsPerRecord = -1
	record, err := r.Read()
	if err != nil {
		panic(err) // it was read once already
	}
	return record
}

// contentID names a row that has no entry: the first 26 hex digits of the SHA-256 of its canonical form.
func contentID(canonical string) string {
	sum := sha256.Sum256([]byte(canonical))
	return hex.EncodeToString(sum[:13])
}

// The digits of Crockford's base 32, which leaves out I, L, O and U, by their letters' case.
const (
	upperDigit = 1 << iota
	lowerDigit
)

var crockford = func() (kind [256]byte) {
	for _, c := range []byte("0123456789ABCDEFGHJKMNPQRSTVWXYZ") {
		kind[c] = upperDigit
	}
	for _, c := range []byte("abcdefghjkmnpqrstvwxyz") {
		kind[c] = lowerDigit
	}
	return kind
}()

// entryID returns the ID of an entry, which is the ULID in upper case, and whether it is one.
func entryID(s string) (string, bool) {
	if len(s) != 26 || s[0] > '7' {
		return "", false
	}
	var kinds byte
	for i := 0; i < len(s); i++ {
		kind := crockford[s[i]]
		if kind == 0 {
			return "", false
		}
		kinds |= kind
	}
	if kinds&lowerDigit != 0 {
		s = strings.ToUpper(s)
	}
	return s, true
}

func quoted(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "..."
	}
	return fmt.Sprintf("%q", s)
}
