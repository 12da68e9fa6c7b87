package reports

import (
	"encoding/csv"
	"fmt"
	"io"
	"strings"
	"unicode"

	"github.com/gocarina/gocsv"

	"tarebook/ledger"
)

// Formats are the formats in which every report can be written.
var Formats = []string{"table", "csv", "json", "md"}

// A Report is a value that can be written in every format. What is encoded as JSON is the value itself, or what its method JSON returns
// if it has one. CSV comes likewise from the value or its method CSV, and is a slice of structs with csv tags.
type Report interface {
	Sheets() Pages // tables for people
}

// Style describes the output.
type Style struct {
	Format string // one of Formats
	Colour bool   // only used for tables
	Width  int    // of the terminal, in cells; 0 means no limit
	Seen   bool   // the output is a terminal, so no cell may hold characters that it would act on
	UTF8   bool   // the terminal shows more than ASCII
}

// Render writes a report.
func Render(w io.Writer, r Report, s Style) error {
	switch s.Format {
	case "json":
		var value any = r
		if r, ok := r.(interface{ JSON() any }); ok {
			value = r.JSON()
		}
		return writeJSON(w, value)
	case "csv":
		var rows any = r
		if r, ok := r.(interface{ CSV() any }); ok {
			rows = r.CSV()
		}
		return gocsv.MarshalCSV(rows, guarded{csv.NewWriter(w), s.Seen})
	case "md":
		return writeSheets(w, r.Sheets(), Style{Format: "md"})
	case "table", "":
		return writeSheets(w, r.Sheets(), s)
	}
	return fmt.Errorf("no format %q; write table, csv, json or md", s.Format)
}

// guarded is a CSV writer that puts an apostrophe before text that a spreadsheet would run, and cleans text for a terminal.
type guarded struct {
	*csv.Writer
	seen bool
}

func (g guarded) Write(record []string) error {
	for i, field := range record {
		if ledger.Runs(field) && !isNumber(field) {
			record[i] = "'" + field
		}
		if g.seen {
			record[i] = ledger.Clean(record[i])
		}
	}
	return g.Writer.Write(record)
}

func isNumber(s string) bool {
	digits := strings.TrimPrefix(s, "-")
	return digits != "" && strings.IndexFunc(digits, func(r rune) bool { return !unicode.IsDigit(r) && r != '.' }) < 0
}
