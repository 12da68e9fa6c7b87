package reports

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"github.com/gocarina/gocsv"
	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"tarebook/ledger"
)

// Formats are the ways in which every report can be written.
var Formats = []string{"table", "csv", "json", "md"}

// A Report is one view.
type Report interface {
	JSON() any     // the value of the contract
	CSV() any      // a slice of structs with csv tags
	Sheets() Pages // tables for people
}

// Pages are the tables of one report, in order.
type Pages []Sheet

// Sheet is one table for people, with what is said before and after it.
type Sheet struct {
	Title   string
	Columns []Column
	Rows    [][]string
	Totals  [][]string
	Notes   []string
	Spare   []string // columns that a narrow terminal may do without, the first to go first
}

// Column is a heading; numbers stand right.
type Column struct {
	Name  string
	Right bool
}

func left(names ...string) (c []Column) {
	for _, name := range names {
		c = append(c, Column{name, false})
	}
	return c
}

func right(names ...string) (c []Column) {
	for _, name := range names {
		c = append(c, Column{name, true})
	}
	return c
}

// Style is what the output can show.
type Style struct {
	Format string // one of Formats
	Colour bool   // of a table alone
	Width  int    // of a table, in cells; 0: as wide as it is
}

// Render writes a report.
func Render(w io.Writer, r Report, s Style) error {
	switch s.Format {
	case "json":
		return writeJSON(w, r.JSON())
	case "csv":
		return writeCSV(w, r.CSV())
	case "md":
		return writeSheets(w, r.Sheets(), Style{Format: "md"})
	case "table", "":
		return writeSheets(w, r.Sheets(), s)
	}
	return fmt.Errorf("no format %q; write table, csv, json or md", s.Format)
}

func writeJSON(w io.Writer, value any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(value); err != nil {
		return err
	}
	_, err := io.WriteString(w, escapeMarks(b.String()))
	return err
}

// escapeMarks writes marks that turn the direction of text as JSON escapes; outside strings JSON has none.
func escapeMarks(s string) string {
	if strings.IndexFunc(s, mark) < 0 {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if mark(r) {
			fmt.Fprintf(&b, `\u%04x`, r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

func mark(r rune) bool { return r > 0x7e && ledger.Forbidden(r) }

// Clean shows characters that may not reach a terminal as their code.
func Clean(s string) string {
	if strings.IndexFunc(s, ledger.Forbidden) < 0 {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if ledger.Forbidden(r) {
			fmt.Fprintf(&b, "<%04X>", r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// guarded is a writer of CSV that puts an apostrophe before text that a spreadsheet would run.
type guarded struct{ *csv.Writer }

func (g guarded) Write(record []string) error {
	for i, field := range record {
		if ledger.Runs(field) && !isNumber(field) {
			record[i] = "'" + field
		}
	}
	return g.Writer.Write(record)
}

func isNumber(s string) bool {
	digits := strings.TrimPrefix(s, "-")
	return digits != "" && strings.IndexFunc(digits, func(r rune) bool { return !unicode.IsDigit(r) && r != '.' }) < 0
}

func writeCSV(w io.Writer, rows any) error { return gocsv.MarshalCSV(rows, guarded{csv.NewWriter(w)}) }

// plain is the look of our tables: columns two blanks apart, a rule under the heading.
var plain = table.Style{
	Name:    "plain",
	Box:     table.BoxStyle{MiddleHorizontal: "-", MiddleVertical: " ", MiddleSeparator: "-", PaddingRight: " ", UnfinishedRow: "~", PageSeparator: "\n"},
	Format:  table.FormatOptions{Header: text.FormatDefault, Footer: text.FormatDefault, Row: text.FormatDefault},
	Options: table.Options{SeparateHeader: true, SeparateFooter: true, SeparateColumns: true},
}

func writeSheets(w io.Writer, sheets Pages, s Style) error {
	var b strings.Builder
	for i, sheet := range sheets {
		if i > 0 {
			b.WriteByte('\n')
		}
		if sheet.Title != "" {
			b.WriteString(Clean(sheet.Title) + "\n")
			if s.Format == "md" {
				b.WriteByte('\n')
			}
		}
		if len(sheet.Columns) > 0 && len(sheet.Rows) > 0 {
			b.WriteString(layOut(sheet, s))
		}
		for n, note := range sheet.Notes {
			if n == 0 && s.Format == "md" && len(sheet.Rows) > 0 {
				b.WriteByte('\n')
			}
			b.WriteString(Clean(note) + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// fit leaves out spare columns until a table is no wider than width, and says which.
func (s *Sheet) fit(width int) (left []string) {
	for _, spare := range s.Spare {
		i := slices.IndexFunc(s.Columns, func(c Column) bool { return c.Name == spare })
		if s.width() <= width {
			break
		}
		if i < 0 {
			continue
		}
		without := func(rows [][]string) [][]string {
			out := make([][]string, len(rows))
			for n, row := range rows {
				out[n] = slices.Concat(row[:i], row[i+1:])
			}
			return out
		}
		s.Columns = slices.Concat(s.Columns[:i], s.Columns[i+1:])
		s.Rows, s.Totals = without(s.Rows), without(s.Totals)
		left = append(left, spare)
	}
	return left
}

// width is that of the table in cells, columns two blanks apart.
func (s *Sheet) width() int {
	total := -2
	for i, c := range s.Columns {
		widest := text.StringWidth(c.Name)
		for _, row := range slices.Concat(s.Rows, s.Totals) {
			widest = max(widest, text.StringWidth(Clean(row[i])))
		}
		total += widest + 2
	}
	return total
}

func layOut(sheet Sheet, s Style) string {
	if s.Width > 0 {
		if left := sheet.fit(s.Width); left != nil {
			return layOut(sheet, Style{s.Format, s.Colour, -s.Width}) + "(this terminal is too narrow for: " + strings.Join(left, ", ") + ")\n"
		}
	}
	t := table.NewWriter()
	style := plain
	style.Size.WidthMax = max(s.Width, -s.Width) // what is still too wide is cut off
	t.SetStyle(style)
	header := table.Row{}
	var configs []table.ColumnConfig
	for i, c := range sheet.Columns {
		header = append(header, c.Name)
		if c.Right {
			configs = append(configs, table.ColumnConfig{Number: i + 1, Align: text.AlignRight, AlignHeader: text.AlignRight, AlignFooter: text.AlignRight})
		}
	}
	t.SetColumnConfigs(configs)
	t.AppendHeader(header)
	row := func(cells []string) table.Row {
		r := make(table.Row, len(cells))
		for i, cell := range cells {
			r[i] = coloured(Clean(cell), s.Colour)
		}
		return r
	}
	for _, cells := range sheet.Rows {
		t.AppendRow(row(cells))
	}
	for _, cells := range sheet.Totals {
		t.AppendFooter(row(cells))
	}
	if s.Format == "md" {
		return t.RenderMarkdown() + "\n"
	}
	var lines []string
	for line := range strings.SplitSeq(t.Render(), "\n") {
		lines = append(lines, strings.TrimRight(line, " "))
	}
	return strings.Join(lines, "\n") + "\n"
}

// coloured lifts the words that call for someone; the word itself says the same without.
func coloured(cell string, on bool) string {
	if !on {
		return cell
	}
	switch cell {
	case "short":
		return "\x1b[1;31m" + cell + "\x1b[0m"
	case "marginal":
		return "\x1b[33m" + cell + "\x1b[0m"
	}
	return cell
}
