package ledger

import (
	"errors"
	"fmt"
)

// Names in the tables of machines: they must be those of printers.csv and materials.csv, and nozzles those that a printer has.

// checkMachines reports rows of nozzles.csv, limits.csv and purges.csv that name what no table has, or a nozzle that its printer lacks.
func (c *verification) checkMachines() {
	t := tableNames{c.v, c.printers}
	for _, p := range c.purges {
		c.addMachine(Purges, c.v.purges.line[p.key()], t.printer(p.Printer), t.material("from_material", p.FromMaterial), t.material("to_material", p.ToMaterial))
	}
	for _, n := range c.nozzles {
		c.addMachine(Nozzles, c.v.nozzles.line[n.key()], t.ofNozzle(n)...)
	}
	for _, l := range c.limits {
		c.addMachine(Limits, c.v.limits.line[l.key()], t.ofLimit(l)...)
	}
}

// addMachine adds what is wrong with a row; a blank text is nothing.
func (c *verification) addMachine(file string, line int, whats ...string) {
	for _, what := range whats {
		if what != "" {
			c.add(file, line, "", what)
		}
	}
}

// fitsMachines refuses a row to define that verify would name.
func (v *View) fitsMachines(row any) error {
	printers, err := v.Printers()
	_, err2 := v.Materials()
	if err := JoinFaults(err, err2); err != nil {
		return err
	}
	t := tableNames{v, printers}
	var whats []string
	switch row := row.(type) {
	case *Nozzle:
		whats = t.ofNozzle(row)
	case *Limit:
		whats = t.ofLimit(row)
	}
	var errs []error
	for _, what := range whats {
		if what != "" {
			errs = append(errs, errors.New(what))
		}
	}
	return errors.Join(errs...)
}

// tableNames says what is wrong with names in rows; blank where nothing is.
type tableNames struct {
	v        *View
	printers map[string]*Printer
}

func (t tableNames) ofNozzle(n *Nozzle) []string {
	if n.Printer == "*" {
		return []string{"printer * is no printer; each has its own bounds, so write a row for each"}
	}
	return []string{t.printer(n.Printer), t.nozzle(n.Printer, n.Nozzle.N)}
}

func (t tableNames) ofLimit(l *Limit) []string {
	whats := []string{t.printer(l.Printer), t.nozzle(l.Printer, l.At())}
	for _, of := range []struct{ column, material string }{{"material", l.Material}, {"beside", l.Beside}} {
		if of.material == "*" {
			whats = append(whats, of.column+" * is no material; write a row for each that it is about")
		} else {
			whats = append(whats, t.material(of.column, of.material))
		}
	}
	if Fold(l.Beside) == Fold(l.Material) {
		whats = append(whats, fmt.Sprintf("material %s stands beside itself; name the other one", quoted(l.Material)))
	}
	return whats
}

func (t tableNames) printer(name string) string {
	if name == "*" || Named(t.printers, name) != nil || !t.v.printers.sure(name) {
		return ""
	}
	return fmt.Sprintf("printer %s is not in %s", quoted(name), Printers)
}

// nozzle says so of a nozzle that a printer, or every printer, lacks.
func (t tableNames) nozzle(printer string, nozzle int) string {
	if printer != "*" {
		if p := Named(t.printers, printer); p != nil && nozzle > len(p.FeedsOf()) {
			return fmt.Sprintf("printer %s has no nozzle %d; its feeds are %s", p.Printer, nozzle, p.Feeds)
		}
		return ""
	}
	if nozzle == 0 || !t.v.printers.sure("*") {
		return ""
	}
	for _, p := range t.printers {
		if nozzle <= len(p.FeedsOf()) {
			return ""
		}
	}
	return fmt.Sprintf("no printer has a nozzle %d", nozzle)
}

func (t tableNames) material(column, name string) string {
	if name == "" || name == "*" || Named(t.v.materials.byKey, name) != nil || !t.v.materials.sure(name) {
		return ""
	}
	return fmt.Sprintf("%s %s is not in %s", column, quoted(name), Materials)
}
