package ledger

import (
	"fmt"
	"strings"
)

// The tables of a view.

// table is one table that was read.
type table[T any] struct {
	read   bool
	rows   []*T
	byKey  map[string]*T
	line   map[string]int  // of each key
	broken map[string]bool // folded names in rows that break a rule
	lost   bool            // rows with unknown names could not be read
	faults Faults
	err    error
}

func readTable[T any, R tableRowOf[T]](v *View, t *table[T], file string) error {
	if t.read {
		return t.err
	}
	d, err := decodeFile[T, R](v, file)
	return fillTable[T, R](t, file, d, err)
}

// fillTable is readTable of what was decoded, or of the error of doing so.
func fillTable[T any, R tableRowOf[T]](t *table[T], file string, d decoded[T], err error) error {
	t.read = true
	t.byKey, t.line, t.broken = map[string]*T{}, map[string]int{}, map[string]bool{}
	if t.lost = d.lost || err != nil; err != nil {
		t.faults, t.err = faultsOf(err), err
		return err
	}
	for _, record := range d.broken {
		t.broken[Fold(d.layout.field(record, 0))] = true
	}
	t.faults = d.faults
	first := map[string]int{}
	for i, row := range d.rows {
		r := R(row)
		j, twice := first[r.key()]
		if !twice {
			t.byKey[r.key()] = row
			t.line[r.key()] = d.lines[i]
			first[r.key()] = i
			t.rows = append(t.rows, row)
			continue
		}
		if d.layout.canonical(split(d.raws[i])) != d.layout.canonical(split(d.raws[j])) {
			t.faults = append(t.faults, &RowError{file, d.lines[i], fmt.Sprintf("%s %s stands on line %d too, with other content", strings.TrimSuffix(file, "s.csv"), quoted(r.label()), d.lines[j]), "keep one of them"})
		}
	}
	t.faults.sort()
	t.err = t.faults.err()
	return t.err
}

// sure reports whether a name without a row is certainly missing: no unreadable row may have it.
func (t *table[T]) sure(name string) bool { return !t.lost && !Named(t.broken, name) }

// settingLines is settings.csv as it was read.
type settingLines struct {
	decoded[Setting]
	err error
}

// settingsFile reads settings.csv once: its format is looked at before anything else, and its settings later.
func (v *View) settingsFile() (decoded[Setting], error) {
	if v.lines == nil {
		d, err := decodeFile[Setting](v, SettingsFile)
		v.lines = &settingLines{d, err}
	}
	return v.lines.decoded, v.lines.err
}

func (v *View) settingsTable() (t table[Setting], err error) {
	d, err := v.settingsFile()
	err = fillTable(&t, SettingsFile, d, err)
	return t, err
}

// Settings returns the shop's settings, each at its default where the file is silent.
func (v *View) Settings() (*Settings, error) {
	if v.settings != nil {
		return v.settings, nil
	}
	t, err := v.settingsTable()
	if err != nil {
		return nil, err
	}
	s := defaultSettings()
	for _, line := range t.rows {
		if err := s.set(line); err != nil {
			return nil, err
		}
	}
	v.settings = s
	return s, nil
}

// Materials returns the materials by folded name.
func (v *View) Materials() (map[string]*Material, error) {
	err := readTable(v, &v.materials, Materials)
	return v.materials.byKey, err
}

// Cores returns the cores by folded name.
func (v *View) Cores() (map[string]*Core, error) {
	err := readTable(v, &v.cores, Cores)
	return v.cores.byKey, err
}

// Scales returns the scales by folded name.
func (v *View) Scales() (map[string]*Scale, error) {
	err := readTable(v, &v.scales, Scales)
	return v.scales.byKey, err
}

// Printers returns the printers by folded name.
func (v *View) Printers() (map[string]*Printer, error) {
	err := readTable(v, &v.printers, Printers)
	return v.printers.byKey, err
}

// PrintersInOrder returns the printers in the order of their table.
func (v *View) PrintersInOrder() ([]*Printer, error) {
	err := readTable(v, &v.printers, Printers)
	return v.printers.rows, err
}

// Nozzles returns where nozzles can lay material, in the order of the table.
func (v *View) Nozzles() ([]*Nozzle, error) {
	err := readTable(v, &v.nozzles, Nozzles)
	return v.nozzles.rows, err
}

// Limits returns what can't be done, in the order of the table.
func (v *View) Limits() ([]*Limit, error) {
	err := readTable(v, &v.limits, Limits)
	return v.limits.rows, err
}

// Purges returns what is flushed by pair of filaments, in the order of the table.
func (v *View) Purges() ([]*PairPurge, error) {
	err := readTable(v, &v.purges, Purges)
	return v.purges.rows, err
}

// Clients returns, by folded name, one row of each client: the first in the table.
func (v *View) Clients() (map[string]*Client, error) {
	err := readTable(v, &v.clients, Clients)
	byName := map[string]*Client{}
	for _, c := range v.clients.rows {
		if name := Fold(c.Client); byName[name] == nil {
			byName[name] = c
		}
	}
	return byName, err
}

// ClientRows returns every row of the clients, of one client as many as it has dates.
func (v *View) ClientRows() ([]*Client, error) {
	err := readTable(v, &v.clients, Clients)
	return v.clients.rows, err
}

// ClientLine returns the line of clients.csv on which a row of ClientRows stands.
func (v *View) ClientLine(c *Client) int { return v.clients.line[c.key()] }
