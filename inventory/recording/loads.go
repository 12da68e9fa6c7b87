package recording

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// Loads are what stands on the tools of a sliced file, as typed.
type Loads struct {
	Texts    []string // SLOT=SPOOL or SLOT=MATERIAL/COLOUR
	Diameter string   // in mm, of what is loaded as MATERIAL/COLOUR
}

// Slots finds what stands on each slot.
func (l Loads) Slots(v *ledger.View, shelf *inventory.Shelf) ([]planning.SlotLoad, error) {
	diameter, err := ledger.ParseNumber(l.Diameter)
	if err != nil || !diameter.IsPositive() {
		return nil, badDiameter(l.Diameter)
	}
	var slots []planning.SlotLoad
	var errs []error
	for _, text := range l.Texts {
		slot, target, ok := strings.Cut(text, "=")
		load := planning.SlotLoad{Slot: ledger.Trim(slot)}
		if !ok || load.Slot == "" {
			errs = append(errs, fmt.Errorf("--load %q does not read TOOL=SPOOL, as 0=PLA-017, or TOOL=MATERIAL/COLOUR", text))
			continue
		}
		if load.Spool, load.Material, load.Colour, err = findTarget(v, shelf, target); err != nil {
			errs = append(errs, fmt.Errorf("--load %s: %w", text, err))
			continue
		}
		if load.Filament = shelf.Stock(load.Material, diameter.Float(0)); load.Spool != nil {
			load.Filament = load.Spool.Filament
		}
		slots = append(slots, load)
	}
	return slots, errors.Join(errs...)
}

// Tools finds what stands on each tool; a tool is a number, or T and a number.
func (l Loads) Tools(v *ledger.View, shelf *inventory.Shelf) ([]inventory.OnTool, error) {
	slots, err := l.Slots(v, shelf)
	var tools []inventory.OnTool
	for _, slot := range slots {
		load := slot.OnTool
		var wrong error
		if load.Tool, wrong = strconv.Atoi(strings.TrimPrefix(ledger.Fold(slot.Slot), "T")); wrong != nil || load.Tool < 0 {
			err = errors.Join(err, fmt.Errorf("--load %s: %q is no tool of a sliced file; write its number, as 0=PLA-017", load.Name(), slot.Slot))
		}
		tools = append(tools, load)
	}
	return tools, err
}

func badDiameter(text string) error {
	return fmt.Errorf("--diameter %q is not a number above 0; write millimetres, as 1.75", text)
}

// A File is a sliced file whose masses are to be recorded.
type File struct {
	*inventory.Sliced
	Loads
	Reference string // what the queue keeps of it
}

// needs returns what the file takes of what is loaded, as rows of the queue with all that shared has.
func (f *File) needs(loads []inventory.OnTool, shared ledger.Need) []ledger.Need {
	var needs []ledger.Need
	for _, load := range loads {
		need := shared
		need.Slot, need.Material, need.Colour = strconv.Itoa(load.Tool), load.Material, load.Colour
		need.Basis, need.File = ledger.Path, f.Reference
		need.Masses = inventory.MassesOf(f.Tool(load.Tool), load.Filament)
		if load.Spool != nil {
			need.Spool = load.Spool.ID
		}
		needs = append(needs, need)
	}
	return needs
}
