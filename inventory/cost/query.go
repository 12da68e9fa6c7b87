package cost

import (
	"fmt"
	"maps"
	"slices"

	"tarebook/inventory"
	"tarebook/ledger"
)

// GroupKeys are what costs can be grouped by.
var GroupKeys = []string{"client", "printer", "material", "colour", "spool", "lot", "maker", "job", "month"}

// Query says which consumption is wanted, and by which key. Names are matched without case; what is blank leaves nothing out.
type Query struct {
	By       string // one of GroupKeys
	From, To string // inclusive dates by each row's own offset, as 2026-10-31

	// Rows of these alone. The lot and the maker of a spool that was wound off another are that one's, unless it has its own.
	Client, Spool, Lot, Maker, Material string
}

// nameKinds are the keys that are names, which may differ in case.
var nameKinds = map[string]inventory.NameKind{"job": inventory.JobName, "client": inventory.ClientName, "printer": inventory.PrinterName,
	"lot": inventory.LotName, "maker": inventory.MakerName}

// spellTables notes how the tables and the purchases spell the names that may be keys.
func (c *Costing) spellTables(v *ledger.View, shelf *inventory.Shelf) error {
	switch c.by {
	case "client", "job": // a job is shown with its clients
		clients, err := v.Clients()
		for _, client := range clients {
			c.tables.Table(inventory.ClientName, client.Client)
		}
		return err
	case "printer":
		printers, err := v.Printers()
		for _, printer := range printers {
			c.tables.Table(c.kind, printer.Printer)
		}
		return err
	}
	for _, spool := range shelf.Spools {
		c.tables.Purchase(inventory.LotName, spool.Purchase.Lot, spool.Purchase)
		c.tables.Purchase(inventory.MakerName, spool.Purchase.Maker, spool.Purchase)
	}
	return nil
}

// filter bars the spools that are not wanted, and notes names that no spool has.
func (c *Costing) filter(shelf *inventory.Shelf, q Query) {
	c.barred = map[*inventory.Spool]bool{}
	for _, f := range []struct {
		what, name string
		of         func(*inventory.Spool) string
	}{
		{"spool", q.Spool, func(s *inventory.Spool) string { return s.ID }},
		{"lot", q.Lot, func(s *inventory.Spool) string { return s.Lot }},
		{"maker", q.Maker, func(s *inventory.Spool) string { return s.Maker }},
		{"material", q.Material, func(s *inventory.Spool) string { return s.Material }},
	} {
		name := ledger.Fold(ledger.Trim(f.name))
		if name == "" {
			continue
		}
		found, known := false, map[string]bool{}
		for _, spool := range shelf.Spools {
			if ledger.Fold(f.of(spool)) == name {
				found = true
			} else {
				c.barred[spool] = true
				known[f.of(spool)] = true
			}
		}
		if !found {
			hint := fmt.Sprintf("no spool of %s %q", f.what, f.name)
			if f.what == "spool" {
				hint = fmt.Sprintf("no spool %q", f.name)
			}
			if near := ledger.Nearest(f.name, slices.Sorted(maps.Keys(known))); near != "" {
				hint += "; did you mean " + near + "?"
			}
			c.hints = append(c.hints, hint)
		}
	}
}

// Hints name what was asked for and no spool has, with what may have been meant.
func (c *Costing) Hints() []string { return c.hints }
