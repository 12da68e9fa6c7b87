package reports

import (
	"slices"

	"tarebook/inventory/recording"
)

// ImportColumns are our columns that a sheet may fill.
type ImportColumns []ImportColumn

// ImportColumn is one column that a sheet may fill.
type ImportColumn struct {
	Column string `json:"column" csv:"column"` // its name
	Holds  string `json:"holds" csv:"holds"`   // what it holds, in words
}

// NewImportColumns returns the view of columns.
func NewImportColumns(columns []recording.ImportColumn) ImportColumns {
	all := ImportColumns{}
	for _, c := range columns {
		all = append(all, ImportColumn{c.Name, c.About})
	}
	return all
}

// Sheets returns the table for people.
func (c ImportColumns) Sheets() Pages {
	sheet := Sheet{Columns: slices.Concat(left("column"), wraps("holds"))}
	for _, column := range c {
		sheet.Rows = append(sheet.Rows, []string{column.Column, column.Holds})
	}
	return Pages{sheet}
}
