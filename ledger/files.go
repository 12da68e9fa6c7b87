package ledger

import (
	"reflect"
	"slices"
	"strings"
)

// The files of a book.
const (
	SettingsFile = "settings.csv"
	Materials    = "materials.csv"
	Cores        = "cores.csv"
	Scales       = "scales.csv"
	Printers     = "printers.csv"
	Purges       = "purges.csv"
	Nozzles      = "nozzles.csv"
	Limits       = "limits.csv"
	Clients      = "clients.csv"

	Purchases       = "purchases.csv"
	Weighins        = "weighins.csv"
	ConsumptionFile = "consumption.csv"
	Queue           = "queue.csv"
	Moves           = "moves.csv"
	Voids           = "voids.csv"
	Seals           = "seals.csv"
	Bills           = "bills.csv"
	SlicedFiles     = "sliced.csv"
)

// Tables and Ledgers list the files of a book, in the order in which they are documented and reported.
var (
	Tables  = []string{SettingsFile, Materials, Cores, Scales, Printers, Purges, Nozzles, Limits, Clients}
	Ledgers = []string{Purchases, Weighins, ConsumptionFile, Queue, Moves, Voids, Seals, SlicedFiles, Bills}
)

// optional columns may be absent from any file.
var optional = []string{"note", "why", "swatch", "maker", "lot", "supplier", "place", "from", "changes", "due", "repeat_g"}

// optionalOf are columns that one file may lack besides.
var optionalOf = map[string][]string{Queue: {"basis", "file"}, SlicedFiles: {"boxes"}, Printers: {"hour_cost", "price", "owned"}, Purges: {"from_material", "to_material"}}

// lateColumns were introduced when books existed already. The canonical form includes them only where they are not blank, so that
// the IDs of rows and the sums of seals in those books stay the same.
var lateColumns = map[string][]string{Purchases: {"gross_g", "scale"}, ConsumptionFile: {"slot", "file"}}

// filledAlone reports whether the program fills a column without being asked to. If the file has no such column, the value is left
// out; of any other column that is an error.
func filledAlone(file, column string) bool {
	return file == ConsumptionFile && (column == "slot" || column == "file")
}

// mayBeAbsent reports whether the header of a file may lack a column.
func mayBeAbsent(file, column string) bool {
	if file == Limits && column == "why" {
		return false
	}
	return slices.Contains(optional, column) || slices.Contains(lateColumns[file], column) || slices.Contains(optionalOf[file], column)
}

// Header returns the full header line of a file of the book, "" for other names.
func Header(file string) string {
	if columns, ok := columnsByFile()[file]; ok {
		return strings.Join(columns, ",") + "\n"
	}
	return ""
}

func columnsByFile() map[string][]string {
	return map[string][]string{
		SettingsFile: columnsOf(&Setting{}), Materials: columnsOf(&Material{}), Cores: columnsOf(&Core{}),
		Scales: columnsOf(&Scale{}), Printers: columnsOf(&Printer{}), Purges: columnsOf(&PairPurge{}), Nozzles: columnsOf(&Nozzle{}), Limits: columnsOf(&Limit{}), Clients: columnsOf(&Client{}),
		Purchases: columnsOf(&Purchase{}), Weighins: columnsOf(&Weighin{}), ConsumptionFile: columnsOf(&Consumption{}),
		Queue: columnsOf(&Need{}), Moves: columnsOf(&Move{}), Voids: columnsOf(&Void{}), Seals: columnsOf(&Seal{}), SlicedFiles: columnsOf(&SlicedFile{}), Bills: columnsOf(&Bill{}),
	}
}

// columnsOf returns the columns of a row type by its csv tags, in the order of its fields, as gocsv does.
func columnsOf(r row) []string { return tagged(nil, reflect.TypeOf(r).Elem()) }

// tagged appends the columns of a struct type, those of embedded structs included.
func tagged(columns []string, t reflect.Type) []string {
	for i := range t.NumField() {
		f := t.Field(i)
		switch name, ok := f.Tag.Lookup("csv"); {
		case f.Anonymous && !ok:
			columns = tagged(columns, f.Type)
		case ok && name != "-":
			columns = append(columns, name)
		}
	}
	return columns
}
