package planning

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"tarebook/inventory"
	"tarebook/inventory/assign"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

// A Print is what is to be printed: its slots, and the order in which they are used, by index, repeats joined. What it primes and
// purges depends on the machine and is no part of it.
type Print struct {
	Name     string // as messages name it
	Slots    []PrintSlot
	Sequence []uint8
}

// A PrintSlot is one filament of a print: how much of it, and what it comes from.
type PrintSlot struct {
	Slot          string
	Part, Support toolpath.Length  // of a sliced file
	Grams         ledger.Grams     // where grams are known and no length
	Changes       int              // to this slot
	Box           *assign.Box      // of part and support of a sliced file; nil without any
	On            inventory.OnTool // what it is loaded with; see Load
}

// masses returns part and support as grams of what the slot is loaded with.
func (p *PrintSlot) masses() ledger.Masses {
	g := inventory.MassesOf(toolpath.Tool{Use: toolpath.Use{toolpath.Part: p.Part, toolpath.Support: p.Support}}, p.On.Filament)
	g.PartG += p.Grams
	return g
}

// PrintOf returns what a sliced file prints, a slot for each tool; it was read with its sequence.
func PrintOf(s *inventory.Sliced) Print {
	p := Print{Name: s.Name}
	index := map[uint8]uint8{}
	for _, t := range s.Tools {
		index[uint8(t.Tool)] = uint8(len(p.Slots))
		p.Slots = append(p.Slots, PrintSlot{Slot: strconv.Itoa(t.Tool), Part: t.Use[toolpath.Part], Support: t.Use[toolpath.Support], Changes: t.Changes, Box: boxOf(t.Box)})
	}
	for _, tool := range s.Sequence {
		p.Sequence = append(p.Sequence, index[tool])
	}
	return p
}

func boxOf(b *toolpath.Box) *assign.Box {
	if b == nil {
		return nil
	}
	return &assign.Box{XMin: b.XMin.MM(), XMax: b.XMax.MM(), YMin: b.YMin.MM(), YMax: b.YMax.MM(), ZMax: b.ZMax.MM()}
}

// ReadSequence reads a CSV with the columns slot and grams: the slots in order of use, and the grams that each use takes of part and
// support. The error names every bad line.
func ReadSequence(r io.Reader, name string) (Print, error) {
	p := Print{Name: name}
	b := bufio.NewReader(r)
	if mark, err := b.Peek(3); err == nil && string(mark) == "\ufeff" {
		b.Discard(3)
	}
	rows := csv.NewReader(b)
	rows.ReuseRecord = true
	header, err := rows.Read()
	if err == io.EOF {
		return p, fmt.Errorf("%s is empty; write slot,grams and a line for each use", name)
	}
	if err != nil {
		return p, unread(name, err)
	}
	slotAt, gramsAt, err := sequenceColumns(header, name)
	if err != nil {
		return p, err
	}
	var errs []error
	bad := 0
	fault := func(line int, format string, args ...any) {
		if bad++; bad <= mostFaults {
			errs = append(errs, fmt.Errorf("%s:%d: "+format, append([]any{name, line}, args...)...))
		}
	}
	index := map[string]int{}
	for {
		record, err := rows.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			errs = append(errs, unread(name, err))
			break
		}
		line, _ := rows.FieldPos(0)
		slot := ledger.Trim(record[slotAt])
		grams, err := ledger.ParseGrams(ledger.Trim(record[gramsAt]))
		switch {
		case !slotName(slot):
			fault(line, "slot %.60q is no tool number or short word without / : or =", slot)
			continue
		case err != nil:
			fault(line, "grams %.60q %w", record[gramsAt], err)
		}
		i, known := index[ledger.Fold(slot)]
		if !known {
			if i = len(p.Slots); i > 255 {
				return p, fmt.Errorf("%s:%d: more than 256 slots; a print of so many is none", name, line)
			}
			index[ledger.Fold(strings.Clone(slot))] = i
			p.Slots = append(p.Slots, PrintSlot{Slot: strings.Clone(slot)})
		}
		p.Slots[i].Grams += grams
		switch n := len(p.Sequence); {
		case n == 0:
		case p.Sequence[n-1] == uint8(i):
			continue
		default:
			p.Slots[i].Changes++
		}
		p.Sequence = append(p.Sequence, uint8(i))
	}
	switch {
	case bad > mostFaults:
		errs = append(errs, fmt.Errorf("%s: %d more lines are wrong", name, bad-mostFaults))
	case len(p.Slots) == 0 && errs == nil:
		errs = append(errs, fmt.Errorf("%s uses no slot; write a line for each use", name))
	}
	return p, errors.Join(errs...)
}

// sequenceColumns finds the columns slot and grams.
func sequenceColumns(header []string, name string) (slot, grams int, err error) {
	column := map[string]int{}
	for i, cell := range header {
		cell = strings.ToLower(ledger.Trim(cell))
		if _, twice := column[cell]; twice && cell != "" {
			return 0, 0, fmt.Errorf("%s:1: column %s stands twice", name, cell)
		}
		column[cell] = i
	}
	slot, ok1 := column["slot"]
	grams, ok2 := column["grams"]
	if !ok1 || !ok2 {
		return 0, 0, fmt.Errorf("%s:1: the header needs the columns slot and grams", name)
	}
	return slot, grams, nil
}

// mostFaults is how many bad lines of one file are reported.
const mostFaults = 20

// slotName reports whether a text may name a slot.
func slotName(s string) bool {
	return s != "" && utf8.ValidString(s) && utf8.RuneCountInString(s) <= 32 && !strings.ContainsAny(s, "/:=") && strings.IndexFunc(s, ledger.Forbidden) < 0
}

// unread reports a line that is not CSV.
func unread(name string, err error) error {
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		return fmt.Errorf("%s:%d: %w; write slot,grams", name, parse.Line, parse.Err)
	}
	return fmt.Errorf("%s: %w", name, err)
}

// A SlotLoad says what a slot is loaded with.
type SlotLoad struct {
	Slot string
	inventory.OnTool
}

// Load puts loads on the slots. It refuses what can't be: a slot that has none or two, or that the print has not, and a spool on two.
func (p *Print) Load(loads []SlotLoad) error {
	var errs []error
	loaded := make([]bool, len(p.Slots))
	serves := map[*inventory.Spool]string{}
	for _, l := range loads {
		i := p.index(l.Slot)
		if i < 0 {
			errs = append(errs, fmt.Errorf("%s uses no slot %s; it uses %s", p.Name, l.Slot, inventory.List(p.Names(), "and")))
			continue
		}
		name := p.Slots[i].Slot
		if loaded[i] {
			errs = append(errs, fmt.Errorf("slot %s is loaded twice", name))
			continue
		}
		for _, spool := range l.Spools() {
			if other, twice := serves[spool]; twice {
				errs = append(errs, fmt.Errorf("%s cannot serve the slots %s and %s", spool.ID, other, name))
			}
			serves[spool] = name
		}
		loaded[i] = true
		p.Slots[i].On = l.OnTool
	}
	for i, slot := range p.Slots {
		if !loaded[i] {
			errs = append(errs, fmt.Errorf("slot %s of %s has no filament; say which with --load %s=SPOOL, or %s=MATERIAL/COLOUR", slot.Slot, p.Name, slot.Slot, slot.Slot))
		}
	}
	return errors.Join(errs...)
}

// index finds a slot; a tool may be written T0 too.
func (p *Print) index(name string) int {
	name = ledger.Fold(name)
	for _, name := range []string{name, strings.TrimPrefix(name, "T")} {
		if i := slices.IndexFunc(p.Slots, func(s PrintSlot) bool { return ledger.Fold(s.Slot) == name }); i >= 0 {
			return i
		}
	}
	return -1
}

// Names lists the slots.
func (p *Print) Names() []string {
	var names []string
	for _, s := range p.Slots {
		names = append(names, s.Slot)
	}
	return names
}
