package ledger

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// tableRows is a Batch of rows of one table. No void reaches them: a table is mended by hand.
type tableRows[T any, R tableRowOf[T]] []T

func (b tableRows[T, R]) Len() int { return len(b) }

func (b tableRows[T, R]) Cancels() bool { return false }

func (b tableRows[T, R]) file() string { return R(new(T)).file() }

func (b tableRows[T, R]) eachRow(each func(row)) {
	for i := range b {
		each(R(&b[i]))
	}
}

func (b tableRows[T, R]) reopen(*View, string) error { return nil }

func (b tableRows[T, R]) encode(v *View, _ func() string) ([]byte, error) {
	header, err := v.header(b.file())
	if err != nil {
		return nil, err
	}
	if err := v.ended(b.file()); err != nil {
		return nil, err
	}
	return encodeRows(b.file(), header, []T(b))
}

// values returns what the only row of the batch says, of all columns of its table.
func (b tableRows[T, R]) values() (values []Value) {
	row := R(&b[0])
	text, err := encodeRows(b.file(), nil, []T(b))
	if err != nil {
		return nil // it was refused when it was made
	}
	records := strings.SplitN(string(text), "\n", 2)
	record := split(records[1])
	for i, column := range columnsOf(row) {
		values = append(values, Value{column, record[i]})
	}
	return values
}

// Defined returns what the row of a batch that Define returned says, of all columns of its table, blank ones too.
func Defined(b Batch) []Value { return b.(interface{ values() []Value }).values() }

// Kinds are what can be defined: a row of each of the tables.
var Kinds = []string{"material", "core", "scale", "printer", "purge", "nozzle", "limit", "client", "setting"}

// A Value is one column of a row to define. Its name may be typed without its unit.
type Value struct{ Column, Text string }

// Define returns a row of the table of that kind, ready to append. number reads a typed number, as 1,24, and returns it with a dot.
// A client's rates from another day are another row; of those that were not typed it has those of the day before. If the table has
// the row's key already, the error is a *StandsError.
func (v *View) Define(kind, name string, values []Value, number func(string) (string, error)) (Batch, error) {
	switch strings.ToLower(kind) {
	case "material":
		return define[Material](v, Materials, name, values, number)
	case "core":
		return define[Core](v, Cores, name, values, number)
	case "scale":
		return define[Scale](v, Scales, name, values, number)
	case "printer":
		return define[Printer](v, Printers, name, values, number)
	case "purge":
		return define[PairPurge](v, Purges, name, values, number)
	case "nozzle":
		return define[Nozzle](v, Nozzles, name, values, number)
	case "limit":
		return define[Limit](v, Limits, name, values, number)
	case "client":
		return define[Client](v, Clients, name, values, number)
	case "setting":
		if !slices.Contains(SettingNames, strings.ToLower(Trim(name))) {
			return nil, wrong(hintOr(Nearest(name, SettingNames), "the settings are "+strings.Join(SettingNames, ", ")), "no setting %q", name)
		}
		batch, err := define[Setting](v, SettingsFile, name, values, number)
		if rows, ok := batch.(tableRows[Setting, *Setting]); ok && rows[0].later() {
			return nil, wrong("leave it out", "format %s is not one that this program writes", rows[0].Value)
		}
		return batch, err
	}
	return nil, wrong(hintOr(Nearest(kind, Kinds), "write one of "+strings.Join(Kinds, ", ")), "no kind %q of thing to define", kind)
}

func hintOr(near, otherwise string) string {
	if near != "" {
		return "did you mean " + near + "?"
	}
	return otherwise
}

func define[T any, R tableRowOf[T]](v *View, file, name string, values []Value, number func(string) (string, error)) (Batch, error) {
	var t table[T]
	if err := readTable[T, R](v, &t, file); err != nil {
		return nil, err
	}
	texts, err := typedTexts(file, R(new(T)), name, values, number)
	if err != nil {
		return nil, err
	}
	d, err := decodeFile[T, R](v, file)
	if err != nil {
		return nil, err
	}
	if i := d.find(texts); i >= 0 {
		merged := d.typedOver(i, texts)
		if _, err := madeOf[T, R](merged); err != nil {
			return nil, err
		}
		return nil, d.stands(i, R(d.rows[i]), texts)
	}
	row, err := madeOf[T, R](texts)
	if err != nil {
		return nil, err
	}
	if client, ok := any(row).(*Client); ok {
		if err := v.continueRates(client); err != nil {
			return nil, err
		}
	}
	switch any(row).(type) {
	case *Nozzle, *Limit:
		if err := v.fitsMachines(row); err != nil {
			return nil, err
		}
	}
	return tableRows[T, R]{*row}, nil
}

// continueRates gives a client's row what it leaves blank of the row that was in force before.
func (v *View) continueRates(c *Client) error {
	rows, err := v.ClientRows()
	var before *Client
	for _, r := range rows {
		if Fold(r.Client) == Fold(c.Client) && r.From < c.From && (before == nil || before.From < r.From) {
			before = r
		}
	}
	if before == nil {
		return err
	}
	c.Client, c.Name = before.Client, cmp.Or(c.Name, before.Name)
	if !c.WasteBilled.Given {
		c.WasteBilled = before.WasteBilled
	}
	if !c.ScrapBilled.Given {
		c.ScrapBilled = before.ScrapBilled
	}
	return err
}

// typedTexts returns what was typed of a row by the names of its columns, numbers with a dot.
func typedTexts(file string, r row, name string, values []Value, number func(string) (string, error)) (map[string]string, error) {
	columns, numbers := columnsOf(r), numbersOf(r)
	texts := map[string]string{columns[0]: name}
	for _, value := range values {
		i := slices.IndexFunc(columns, func(c string) bool { return c == value.Column || withoutUnit(c) == value.Column })
		if i < 0 {
			return nil, wrong("they are "+strings.Join(namesOf(columns[1:]), ", "), "%s has no column for %q", file, value.Column)
		}
		if _, twice := texts[columns[i]]; twice {
			return nil, wrong("write it once", "%s stands twice", columns[i])
		}
		text := value.Text
		if numbers[i] || file == SettingsFile && new(Settings).set(&Setting{Setting: Trim(name), Value: Trim(text)}) != nil {
			digits, below := strings.CutPrefix(Trim(text), "-")
			dotted, err := number(digits)
			if err != nil {
				return nil, fmt.Errorf("%s %w", columns[i], err)
			}
			if text = dotted; below {
				text = "-" + dotted // what may not be below 0 is refused when the row is read
			}
		}
		if err := CheckText(columns[i], text); err != nil {
			return nil, err
		}
		texts[columns[i]] = text
	}
	return texts, nil
}

// madeOf returns the row that says so, as a reader reads it.
func madeOf[T any, R tableRowOf[T]](texts map[string]string) (*T, error) {
	columns := columnsOf(R(new(T)))
	record := make([]string, len(columns))
	for i, column := range columns {
		record[i] = texts[column]
	}
	var text strings.Builder
	w := csv.NewWriter(&text)
	if err := errors.Join(w.Write(columns), w.Write(record)); err != nil {
		return nil, err
	}
	w.Flush()
	d, err := decode[T, R](scanText(text.String()))
	if err != nil {
		return nil, err
	}
	var faults []error
	for _, f := range d.faults {
		faults = append(faults, wrong(f.Mend, "%s", f.What))
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	if len(d.rows) == 0 {
		return nil, wrong("write its name", "%s is blank", columns[0])
	}
	return d.rows[0], nil
}

// withoutUnit is a column's name as it may be typed too.
func withoutUnit(column string) string {
	for _, unit := range []string{"_g_cm3", "_mm3", "_mm", "_s", "_g", "_colour", "_billed"} {
		if name, ok := strings.CutSuffix(column, unit); ok {
			return name
		}
	}
	return column
}

func namesOf(columns []string) []string {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = withoutUnit(c)
	}
	return names
}
