package recording

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// mostKept bounds the text of one row of sliced.csv, so that a file whose order of tools does not repeat makes no book of its own.
const mostKept = 64 << 10

// kept returns the row of sliced.csv for a file that the book does not know yet; nil if it does, or where there is nothing to know it by.
// A file whose order of tools is too long to keep gets a note instead.
func (f *File) kept(v *ledger.View, at ledger.Time) (first ledger.Batch, note string, err error) {
	if f.Reference == "" {
		return nil, "", nil
	}
	rows, err := v.SlicedFiles()
	if err != nil {
		return nil, "", err
	}
	for _, row := range rows {
		if ledger.FileSum(row.File) == ledger.FileSum(f.Reference) {
			return nil, "", nil
		}
	}
	whole := cmp.Or(f.Whole, f.Sliced)
	row := ledger.SlicedFile{Head: ledger.Head{At: at}, File: f.Reference, Layers: ledger.Count{N: whole.Layers, Given: true}}
	if len(whole.Sequence) <= ledger.MostTools {
		row.Sequence = ledger.FoldSequence(whole.Sequence)
	}
	if n := len(row.Sequence); n > mostKept || n == 0 && whole.Changes > 0 {
		return nil, fmt.Sprintf("%s: its order of tools is too long to keep in %s, so machines leaves its prints out", f.Name, ledger.SlicedFiles), nil
	}
	var boxes []ledger.ToolBox
	for _, t := range whole.Tools {
		if b := t.Box; b != nil {
			boxes = append(boxes, ledger.ToolBox{Tool: t.Tool, XMin: b.XMin.MM(), XMax: b.XMax.MM(), YMin: b.YMin.MM(), YMax: b.YMax.MM(), ZMax: b.ZMax.MM()})
		}
	}
	row.Boxes = ledger.NewBoxes(boxes)
	return ledger.NewBatch[ledger.SlicedFile]([]ledger.SlicedFile{row}), "", nil
}

// keep lets a booking record the file first, if the book does not know it yet, and says where the booking itself can't name it.
func (b *Booking) keep(v *ledger.View, f *File, at ledger.Time) error {
	lacking, err := v.Lacking(ledger.ConsumptionFile, "slot", "file")
	if err != nil {
		return err
	}
	if len(lacking) > 0 {
		b.Warnings = append(b.Warnings, CannotKeep(lacking))
	}
	first, note, err := f.kept(v, at)
	if note != "" {
		b.Warnings = append(b.Warnings, note)
	}
	b.Batch = ledger.Following(first, b.Batch)
	return err
}

// CannotKeep says how consumption.csv comes to keep slots and files where it lacks columns for them.
func CannotKeep(columns []string) string {
	return fmt.Sprintf("%s has no column %s, so machines cannot count its prints; write at the end of its first line: ,%s", ledger.ConsumptionFile, strings.Join(columns, " and "), strings.Join(columns, ","))
}

// fitsReference refuses a typed reference that is none, or that does not stand beside typed masses.
func fitsReference(reference string, file *File, typed []string) error {
	switch _, _, _, ok := inventory.FileReference(reference); {
	case reference == "":
		return nil
	case file != nil || !slices.ContainsFunc(typed, func(text string) bool { return strings.Contains(text, ":") }):
		return errors.New("--file goes with typed masses alone; --from and the queue name the file themselves")
	case !ok:
		return fmt.Errorf("--file %s is not NAME LENGTH SHA256, as a ledger names a sliced file; to read a file write: --from FILE", strconv.Quote(reference))
	}
	return nil
}
