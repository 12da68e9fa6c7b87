package recording

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/planning"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

// Loads are what stands on the tools of a sliced file, as typed.
type Loads struct {
	Texts    []string // SLOT=SPOOL, SLOT=SPOOL+SPOOL or SLOT=MATERIAL/COLOUR; or the like without slots, parted by blanks, of all slots in order
	Diameter string   // in mm, of what is loaded as MATERIAL/COLOUR
}

// Slots finds what stands on each of the slots: what is typed, else the spool that stands at that slot of the printer, if one does. A
// blank printer has none.
func (l Loads) Slots(v *ledger.View, shelf *inventory.Shelf, slots []string, printer string) ([]planning.SlotLoad, error) {
	loads, err := l.typed(v, shelf, slots)
	for _, slot := range slots {
		if i := slices.IndexFunc(loads, func(l planning.SlotLoad) bool { return sameSlot(l.Slot, slot) }); i >= 0 {
			continue
		}
		spool := shelf.At(printer + "/" + slot)
		if spool != nil && !slices.ContainsFunc(loads, func(l planning.SlotLoad) bool { return slices.Contains(l.Spools(), spool) }) {
			loads = append(loads, planning.SlotLoad{Slot: slot, OnTool: inventory.NewOnTool(spool)})
		}
	}
	return loads, err
}

// sameSlot compares a slot as typed with one of a file: a tool may be written T0 too.
func sameSlot(typed, slot string) bool {
	typed, slot = ledger.Fold(typed), ledger.Fold(slot)
	return typed == slot || strings.TrimPrefix(typed, "T") == slot
}

// typed finds what was typed to stand on slots.
func (l Loads) typed(v *ledger.View, shelf *inventory.Shelf, slots []string) ([]planning.SlotLoad, error) {
	diameter, err := inventory.TypedNumber(l.Diameter)
	if err != nil || !diameter.IsPositive() {
		return nil, badDiameter(l.Diameter)
	}
	var loads []planning.SlotLoad
	var errs []error
	texts, err := l.each(slots)
	if err != nil {
		errs = append(errs, err)
	}
	for _, text := range texts {
		slot, target, ok := strings.Cut(text, "=")
		load := planning.SlotLoad{Slot: ledger.Trim(slot)}
		if !ok || load.Slot == "" {
			errs = append(errs, fmt.Errorf("--load %q does not read TOOL=SPOOL, as 0=PLA-017, or TOOL=MATERIAL/COLOUR", text))
			continue
		}
		spools, material, colour, err := findTarget(v, shelf, target)
		switch {
		case err != nil:
			errs = append(errs, fmt.Errorf("--load %s: %w", text, err))
			continue
		case spools != nil:
			load.OnTool = inventory.NewOnTool(spools...)
		default:
			load.OnTool = inventory.OnTool{Material: material, Colour: colour, Filament: shelf.Stock(material, diameter.Float(0))}
		}
		loads = append(loads, load)
	}
	return loads, errors.Join(errs...)
}

// each returns the texts with a slot before each: one without = names what stands on all slots, in their order.
func (l Loads) each(slots []string) (texts []string, err error) {
	for _, text := range l.Texts {
		if strings.Contains(text, "=") {
			texts = append(texts, text)
			continue
		}
		words := strings.Fields(text)
		if len(words) != len(slots) {
			err = errors.Join(err, fmt.Errorf("--load %q names %s for %s (%s); name one for each in this order, or each on its own as %s=SPOOL or %[5]s=MATERIAL/COLOUR",
				text, inventory.Plural(len(words), "filament", "filaments"), inventory.Plural(len(slots), "tool", "tools"), strings.Join(slots, " "), cmp.Or(strings.Join(slots[:min(1, len(slots))], ""), "0")))
			continue
		}
		for i, word := range words {
			texts = append(texts, slots[i]+"="+word)
		}
	}
	return texts, err
}

// Tools finds what was typed to stand on the tools of a file; a tool is a number, or T and a number.
func (l Loads) Tools(v *ledger.View, shelf *inventory.Shelf, file *inventory.Sliced) ([]inventory.OnTool, error) {
	var names []string
	for _, t := range file.Tools {
		names = append(names, strconv.Itoa(t.Tool))
	}
	slots, err := l.typed(v, shelf, names)
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

	Whole *inventory.Sliced // the whole file, where only a part was printed; nil: all of it was

	Ordered *inventory.Sliced                              // the same with its sequence; nil where that is not known
	Until   func(toolpath.Stop) (*inventory.Sliced, error) // reads it again, to where a stop is reached
}

// onTools returns what stands on each tool that the file uses: what was typed, else the spool on which the queue has that slot of the
// job, else the one that stands at that tool of the printer. A blank printer has none. job may be nil.
func (f *File) onTools(v *ledger.View, shelf *inventory.Shelf, job *inventory.Job, printer string) ([]inventory.OnTool, error) {
	loads, err := f.Tools(v, shelf, f.Sliced)
	if err == nil {
		err = f.Loaded(loads)
	}
	if err != nil {
		return nil, err
	}
	var errs []error
	for _, t := range f.Sliced.Tools {
		if slices.ContainsFunc(loads, func(l inventory.OnTool) bool { return l.Tool == t.Tool }) {
			continue
		}
		place := printer + "/" + strconv.Itoa(t.Tool)
		spools := queuedOn(job, t.Tool)
		if spool := shelf.At(place); spools == nil && spool != nil {
			spools = []*inventory.Spool{spool}
		}
		why := ""
		taken := slices.IndexFunc(loads, func(l inventory.OnTool) bool {
			return slices.ContainsFunc(spools, func(spool *inventory.Spool) bool { return slices.Contains(l.Spools(), spool) })
		})
		switch {
		case spools != nil && taken < 0:
			load := inventory.NewOnTool(spools...)
			load.Tool = t.Tool
			loads = append(loads, load)
			continue
		case spools != nil:
			why = fmt.Sprintf(", and %s serves tool %d", loads[taken].Name(), loads[taken].Tool)
		case printer != "":
			why = fmt.Sprintf(", and nothing stands at %s", place)
		}
		errs = append(errs, fmt.Errorf("tool %d takes %.1f m in %s%s; say of what with --load %d=SPOOL, or %[1]d=MATERIAL/COLOUR", t.Tool, t.Total().MM()/1000, f.Name, why, t.Tool))
	}
	slices.SortStableFunc(loads, func(a, b inventory.OnTool) int { return a.Tool - b.Tool })
	return loads, errors.Join(errs...)
}

// queuedOn returns the spools on which the queue has a tool of the job; nil when it has none that is named or loaded.
func queuedOn(job *inventory.Job, tool int) []*inventory.Spool {
	if job == nil {
		return nil
	}
	for _, n := range job.Needs {
		if sameSlot(n.Slot, strconv.Itoa(tool)) && n.Assigned() {
			return n.Spools()
		}
	}
	return nil
}

// needs returns what the file takes of what is loaded, as rows of the queue with all that shared has.
func (f *File) needs(loads []inventory.OnTool, shared ledger.Need) []ledger.Need {
	var needs []ledger.Need
	for _, load := range loads {
		need := shared
		need.Slot, need.Material, need.Colour = strconv.Itoa(load.Tool), load.Material, load.Colour
		need.Basis, need.File = ledger.Path, f.Reference
		need.Masses = inventory.MassesOf(f.Tool(load.Tool), load.Filament)
		need.Spool = inventory.IDs(load.Spools())
		needs = append(needs, need)
	}
	return needs
}
