package ledger

import (
	"encoding/csv"
	"errors"
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

// Kinds are what can be defined: a row of each of the tables.
var Kinds = []string{"material", "core", "scale", "printer", "purge", "client", "setting"}

// A Value is one column of a row to define, by the column's name with or without its unit.
type Value struct{ Column, Text string }

// Define returns a row of the table of that kind, ready to append. A name that the table has already is refused, with the line to
// edit by hand; a client may come again with rates from another day.
func (v *View) Define(kind, name string, values []Value) (Batch, error) {
	switch strings.ToLower(kind) {
	case "material":
		return define[Material](v, Materials, name, values)
	case "core":
		return define[Core](v, Cores, name, values)
	case "scale":
		return define[Scale](v, Scales, name, values)
	case "printer":
		return define[Printer](v, Printers, name, values)
	case "purge":
		return define[PairPurge](v, Purges, name, values)
	case "client":
		return define[Client](v, Clients, name, values)
	case "setting":
		if !slices.Contains(settingNames, strings.ToLower(Trim(name))) {
			return nil, wrong(hintOr(Nearest(name, settingNames), "the settings are "+strings.Join(settingNames, ", ")), "no setting %q", name)
		}
		return define[Setting](v, SettingsFile, name, values)
	}
	return nil, wrong(hintOr(Nearest(kind, Kinds), "write one of "+strings.Join(Kinds, ", ")), "no kind %q of thing to define", kind)
}

func hintOr(near, otherwise string) string {
	if near != "" {
		return "did you mean " + near + "?"
	}
	return otherwise
}

func define[T any, R tableRowOf[T]](v *View, file, name string, values []Value) (Batch, error) {
	var t table[T]
	if err := readTable[T, R](v, &t, file); err != nil {
		return nil, err
	}
	columns := columnsOf(R(new(T)))
	record := make([]string, len(columns))
	given := make([]bool, len(columns))
	record[0], given[0] = name, true
	for _, value := range values {
		i := slices.IndexFunc(columns, func(c string) bool { return c == value.Column || withoutUnit(c) == value.Column })
		switch {
		case i < 0:
			return nil, wrong("they are "+strings.Join(namesOf(columns[1:]), ", "), "%s has no column for %q", file, value.Column)
		case given[i]:
			return nil, wrong("write it once", "%s stands twice", columns[i])
		}
		record[i], given[i] = value.Text, true
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
	row := d.rows[0]
	if line, ok := t.line[R(row).key()]; ok {
		mend := "edit that line by hand"
		if file == Clients {
			mend += ", or give new rates with from=DATE"
		}
		return nil, wrong(mend, "%s %q stands in %s:%d already", columns[0], R(row).label(), file, line)
	}
	return tableRows[T, R]{*row}, nil
}

// withoutUnit is a column's name as it may be typed too.
func withoutUnit(column string) string {
	for _, unit := range []string{"_g_cm3", "_mm3", "_mm", "_s", "_g", "_colour"} {
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
