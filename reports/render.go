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
	"github.com/jedib0t/go-pretty/v6/text"

	"tarebook/ledger"
)

// Formats are the formats in which every report can be written.
var Formats = []string{"table", "csv", "json", "md"}

// A Report is a value that can be written in every format. What is encoded as JSON is the value itself, or what its method JSON returns
// if it has one. CSV comes likewise from the value or its method CSV, and is a slice of structs with csv tags.
type Report interface {
	Sheets() Pages // tables for people
}

// Pages are the tables of one report, in order.
type Pages []Sheet

// Sheet is one table for people, with the text before and after it.
type Sheet struct {
	Title   string
	Columns []Column
	Rows    [][]string
	Totals  [][]string
	Notes   []string
	Spare   []string // columns that are left out on a narrow terminal, the first one first

	// Picture, if not nil, returns the lines of a drawing in plain characters, at most width wide, for the place below the table. width
	// is 0 without a terminal; then Picture may return nil.
	Picture func(width int) []string
}

// Column is a heading. Columns of numbers are aligned right.
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

// Style describes the output.
type Style struct {
	Format string // one of Formats
	Colour bool   // only used for tables
	Width  int    // of the terminal, in cells; 0 means no limit
	Seen   bool   // the output is a terminal, so no cell may hold characters that it would act on
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

// escapeMarks replaces marks that change the direction of text by JSON escapes. In JSON they can only occur in strings.
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

func writeSheets(w io.Writer, sheets Pages, s Style) error {
	var b strings.Builder
	clean := ledger.Clean
	if s.Format == "md" {
		clean = paragraph
	}
	for i, sheet := range sheets {
		if i > 0 {
			b.WriteByte('\n')
		}
		if sheet.Title != "" {
			b.WriteString(clean(sheet.Title) + "\n")
			if s.Format == "md" {
				b.WriteByte('\n')
			}
		}
		if len(sheet.Columns) > 0 && len(sheet.Rows) > 0 {
			b.WriteString(layOut(sheet, s))
		}
		if sheet.Picture != nil {
			writePicture(&b, sheet.Picture(s.Width), s)
		}
		for n, note := range sheet.Notes {
			if n == 0 && s.Format == "md" && len(sheet.Rows) > 0 {
				b.WriteByte('\n')
			}
			b.WriteString(clean(note) + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// writePicture writes lines unchanged. In Markdown they are fenced, so that they are shown unchanged too.
func writePicture(b *strings.Builder, lines []string, s Style) {
	if len(lines) == 0 {
		return
	}
	b.WriteByte('\n')
	fence := ""
	if s.Format == "md" {
		fence = "```\n"
	}
	b.WriteString(fence)
	for _, line := range lines {
		b.WriteString(cut(strings.TrimRight(ledger.Clean(line), " "), s.Width) + "\n")
	}
	b.WriteString(fence)
}

// fit leaves out spare columns until the table fits width, and returns a line that names them.
func (s *Sheet) fit(width int) (left []string) {
	for _, spare := range s.Spare {
		i := slices.IndexFunc(s.Columns, func(c Column) bool { return c.Name == spare })
		if total(s.widths()) <= width {
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
	s.Totals = slices.DeleteFunc(s.Totals, func(row []string) bool { return strings.Join(row, "") == "" }) // what it totals was left out
	return left
}

// clean replaces in all cells what may not reach a terminal.
func (s *Sheet) clean() {
	for _, rows := range [][][]string{s.Rows, s.Totals} {
		for _, row := range rows {
			for i, cell := range row {
				row[i] = ledger.Clean(cell)
			}
		}
	}
}

// widths returns the width of each column in cells. The sheet must be clean.
func (s *Sheet) widths() []int {
	widths := make([]int, len(s.Columns))
	for i, c := range s.Columns {
		widths[i] = cellWidth(c.Name)
	}
	for _, rows := range [][][]string{s.Rows, s.Totals} {
		for _, row := range rows {
			for i, cell := range row {
				widths[i] = max(widths[i], cellWidth(cell))
			}
		}
	}
	return widths
}

func layOut(sheet Sheet, s Style) string {
	if s.Format == "md" {
		return markdown(sheet)
	}
	sheet.clean()
	note := ""
	if s.Width > 0 {
		if left := sheet.fit(s.Width); left != nil {
			note = "(this terminal is too narrow for: " + strings.Join(left, ", ") + ")\n"
		}
	}
	return plain(sheet, s) + note
}

// plain writes a table with two blanks between columns, and a rule under the heading and above the totals. It uses go-pretty only to
// measure text that is not ASCII, because go-pretty's tables would take a tenth of the time of a command on a small book.
func plain(sheet Sheet, s Style) string {
	widths := sheet.widths()
	rule, blanks := strings.Repeat("-", total(widths)), strings.Repeat(" ", slices.Max(widths))
	var b strings.Builder
	b.Grow((len(sheet.Rows) + len(sheet.Totals) + 3) * (len(rule) + 1))
	write := func(text string) {
		b.WriteString(cut(strings.TrimRight(text, " "), s.Width))
		b.WriteByte('\n')
	}
	var line []byte
	row := func(cells []string) {
		line = line[:0]
		for i, cell := range cells {
			gap := blanks[:widths[i]-cellWidth(cell)]
			if cell = coloured(cell, s.Colour); sheet.Columns[i].Right {
				line = append(append(line, gap...), cell...)
			} else {
				line = append(append(line, cell...), gap...)
			}
			line = append(line, "  "...)
		}
		write(string(line))
	}
	names := make([]string, len(sheet.Columns))
	for i, c := range sheet.Columns {
		names[i] = c.Name
	}
	row(names)
	write(rule)
	for _, cells := range sheet.Rows {
		row(cells)
	}
	if len(sheet.Totals) > 0 {
		write(rule)
	}
	for _, cells := range sheet.Totals {
		row(cells)
	}
	return b.String()
}

// cut truncates a line to width and marks the cut with ~. 0 means no limit.
func cut(line string, width int) string {
	if width == 0 || len(line) <= width || text.StringWidthWithoutEscSequences(line) <= width {
		return line
	}
	return text.Trim(line, width-1) + "~"
}

// cellWidth returns how many cells of a line clean text takes.
func cellWidth(s string) int {
	for i := 0; i < len(s); i++ {
		if s[i] > '~' {
			return text.StringWidth(s)
		}
	}
	return len(s)
}

func total(widths []int) int {
	sum := -2
	for _, w := range widths {
		sum += w + 2
	}
	return sum
}

// coloured colours words that need attention. The colour only repeats what the word says.
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
