package reports

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"slices"
	"strings"

	"github.com/gocarina/gocsv"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

// Import is what an import would book: rows of one ledger, with the columns of its file but the entry.
type Import struct {
	rows    any        // as they are
	columns []string   // of the file
	cells   [][]string // of the rows, as the file would have them
}

// NewImport returns the view of rows that are not booked; their entries are none yet.
func NewImport[T any, R ledger.RowOf[T]](rows []T) Import {
	rows = slices.Clone(rows)
	for i := range rows {
		ledger.HeadOf(R(&rows[i])).Entry = ""
	}
	if rows == nil {
		rows = []T{}
	}
	in := Import{rows: rows}
	var text bytes.Buffer
	if err := gocsv.MarshalCSV(rows, csv.NewWriter(&text)); err != nil {
		panic(err) // every value writes itself
	}
	all, err := csv.NewReader(&text).ReadAll()
	if err != nil {
		panic(err) // it has just been written
	}
	in.columns, in.cells = all[0], all[1:]
	return in
}

// JSON returns the rows as objects of the file's columns: numbers as numbers, and null for a number that is blank.
func (in Import) JSON() any {
	all := make([]map[string]any, len(in.cells))
	for i, cells := range in.cells {
		all[i] = map[string]any{}
		for j, column := range in.columns {
			switch cell := cells[j]; {
			case column == "entry":
			case recording.IsNumber(column) && cell == "":
				all[i][column] = nil
			case recording.IsNumber(column):
				all[i][column] = json.RawMessage(plainNumber(cell))
			default:
				all[i][column] = cell
			}
		}
	}
	return all
}

// plainNumber writes a number as JSON does, without noughts before it.
func plainNumber(s string) string {
	if t := strings.TrimLeft(s, "0"); t == "" || t[0] == '.' {
		return "0" + t
	} else {
		return t
	}
}

// CSV returns the rows as the ledger would have them.
func (in Import) CSV() any { return in.rows }

// Sheets returns the table for people: the columns in which any row has something.
func (in Import) Sheets() Pages {
	var sheet Sheet
	if len(in.cells) == 0 {
		sheet.Notes = []string{"Nothing is new to the book."}
		return Pages{sheet}
	}
	sheet.Rows = make([][]string, len(in.cells))
	for j, column := range in.columns {
		if column == "entry" || !slices.ContainsFunc(in.cells, func(cells []string) bool { return cells[j] != "" }) {
			continue
		}
		of := texts
		if recording.IsNumber(column) {
			of = right
		}
		sheet.Columns = append(sheet.Columns, of(column)...)
		for i, cells := range in.cells {
			sheet.Rows[i] = append(sheet.Rows[i], dash(cells[j]))
		}
	}
	sheet.Spare = [][]string{{"note"}, {"supplier"}, {"lot"}, {"swatch"}, {"maker"}, {"basis"}, {"currency"}, {"diameter_mm"}}
	return Pages{sheet}
}
