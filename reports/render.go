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

	// Picture, if not nil, draws with plain characters what stands below the table, in lines of at most so many; width is 0 where
	// there is no terminal, and then it may draw nothing.
	Picture func(width int) []string
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

// Style says what the output can show.
type Style struct {
	Format string // one of Formats
	Colour bool   // of a table alone
	Width  int    // of a table, in cells; 0: as wide as it is
	Seen   bool   // on a terminal, where no cell may hold what it would act on
}

// Render writes a report.
func Render(w io.Writer, r Report, s Style) error {
	switch s.Format {
	case "json":
		return writeJSON(w, r.JSON())
	case "csv":
		return gocsv.MarshalCSV(r.CSV(), guarded{csv.NewWriter(w), s.Seen})
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

// guarded is a writer of CSV that puts an apostrophe before text that a spreadsheet would run, and cleans what is seen on a
// terminal.
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

// writePicture writes lines as they are; in md they are fenced, so that they stay so.
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

// fit leaves out spare columns until a table is no wider than width, and says which.
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

// clean leaves nothing in the cells that may not reach a terminal.
func (s *Sheet) clean() {
	for _, rows := range [][][]string{s.Rows, s.Totals} {
		for _, row := range rows {
			for i, cell := range row {
				row[i] = ledger.Clean(cell)
			}
		}
	}
}

// widths are those of the columns in cells, when the sheet is clean.
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

// plain writes a table in columns two blanks apart, with a rule under the heading and above the totals. Go-pretty
// measures what is not plain ASCII; its own tables would take a tenth of the time of a command on a small book.
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

// cellWidth returns how many cells of a line a clean text takes.
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

// coloured colours the words that need attention; without colour the word says the same.
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
