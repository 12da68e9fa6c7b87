package planning

import (
	"fmt"
	"strconv"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Replan returns the best plan on one printer of a sliced file that was made for another.
func Replan(s *inventory.Shelf, f *inventory.Sliced, loads []inventory.OnTool, printer *ledger.Printer, tables Tables) (*MachinePlan, error) {
	print := PrintOf(f)
	var slots []SlotLoad
	for _, l := range loads {
		slots = append(slots, SlotLoad{strconv.Itoa(l.Tool), l})
	}
	if err := print.Load(slots); err != nil {
		return nil, err
	}
	plans, err := Plan(s, print, Options{Printers: []*ledger.Printer{printer}, Tables: tables})
	if err != nil {
		return nil, err
	}
	if plans.Best() == nil {
		return nil, fmt.Errorf("%s can't be printed on %s: %s", print.Name, printer.Printer, plans.Printers[0].Why)
	}
	return plans.Best(), nil
}

// SetWaste sets the prime and purge of rows of the print to those of the plan.
func (m *MachinePlan) SetWaste(rows []ledger.Need) {
	for i := range rows {
		for _, n := range m.After {
			if n.Slot == rows[i].Slot {
				rows[i].PrimeG, rows[i].PurgeG = n.Row.PrimeG, n.Row.PurgeG
			}
		}
	}
}
