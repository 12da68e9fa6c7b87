package recording

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"tarebook/ledger"
)

// ourWords are the words that a column takes, by the kind of sheet.
var ourWords = map[string]map[string][]string{
	OfWeighins: {"state": {ledger.Loaded, ledger.Dried, ledger.Empty, ledger.Discarded}},
	OfJobs:     {"outcome": {ledger.Finished, ledger.Failed}, "basis": {ledger.Sliced, ledger.Path, ledger.Weighed}},
}

// MapValues takes which word of the sheet stands for which of ours, as outcome.fertig: finished.
func (in *Import) MapValues(pairs map[string]string) error {
	var errs []error
	in.words = map[string]map[string]string{}
	known := ourWords[in.Kind]
	for _, key := range slices.Sorted(maps.Keys(pairs)) {
		column, theirs, ok := strings.Cut(key, ".")
		ours := strings.ToLower(pairs[key])
		switch {
		case !ok || theirs == "":
			errs = append(errs, fmt.Errorf("--map-value %q is no COLUMN.WORD; write it as outcome.fertig=finished", key))
		case known[column] == nil:
			errs = append(errs, fmt.Errorf("--map-value %s: of %s only these columns take fixed words: %s", key, in.Kind, cmp.Or(strings.Join(slices.Sorted(maps.Keys(known)), ", "), "none")))
		case !slices.Contains(known[column], ours):
			errs = append(errs, fmt.Errorf("--map-value %s=%s: %s is none of %s", key, pairs[key], ours, strings.Join(known[column], ", ")))
		default:
			if in.words[column] == nil {
				in.words[column] = map[string]string{}
			}
			in.words[column][ledger.Fold(theirs)] = ours
		}
	}
	return errors.Join(errs...)
}

// word returns a cell of a column that takes fixed words, in ours.
func (l *line[T]) word(column string) string {
	text := l.text(column)
	if ours, ok := l.in.words[column][ledger.Fold(text)]; ok {
		return ours
	}
	ours, known := strings.ToLower(text), ourWords[l.in.Kind][column]
	if text != "" && !slices.Contains(known, ours) {
		l.refuse(fmt.Sprintf("%s %s is none of %s", column, strconv.Quote(text), strings.Join(known, ", ")),
			"say which it is, as --map-value "+shellWord(column+"."+text+"="+known[0]))
		return ""
	}
	return ours
}

// ImportColumn is a column of ours that a sheet may fill.
type ImportColumn struct {
	Name, About string
}

// ImportColumns returns the columns of a kind of sheet.
func ImportColumns(kind string) (columns []ImportColumn, err error) {
	if !slices.Contains(ImportKinds, kind) {
		return nil, fmt.Errorf("--as %q is none of %s; write one of them", kind, strings.Join(ImportKinds, ", "))
	}
	for _, name := range importColumns(kind) {
		about := columnAbout[name]
		switch words := ourWords[kind][name]; {
		case words != nil:
			about = "one of " + strings.Join(words, ", ")
		case name == "gross_g" && kind == OfWeighins:
			about = "grams that the scale showed"
		}
		columns = append(columns, ImportColumn{name, about})
	}
	return columns, nil
}

var columnAbout = map[string]string{
	"at": "when it happened; of a print, when it ended", "spool": "the spool's id", "material": "one of materials.csv", "colour": "its colour", "swatch": "its colour as #RRGGBB",
	"maker": "who made it", "lot": "its lot", "diameter_mm": "millimetres, 1.75 where blank", "net_g": "grams of filament when it was bought", "gross_g": "grams that the scale showed of an opened spool",
	"label_g": "grams of filament when an opened spool was full", "core": "one of cores.csv", "tare_g": "grams of the empty spool", "price": "what that spool cost in all", "currency": "ISO 4217",
	"supplier": "who sold it", "place": "where it is; PRINTER/SLOT when loaded", "from": "the spool it was wound off", "note": "free text", "scale": "one of scales.csv", "job": "the job's name",
	"client": "one of clients.csv", "printer": "one of printers.csv", "part_g": "grams of the parts", "support_g": "grams of support", "prime_g": "grams of the prime tower", "purge_g": "grams flushed",
	"changes": "how many changes brought the spool to a nozzle",
}
