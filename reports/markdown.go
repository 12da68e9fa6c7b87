package reports

import (
	"bufio"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"tarebook/ledger"
)

// literal cleans text as ledger.Clean does and escapes what Markdown would take for markup, a link, a picture or another character
// (CommonMark 0.31.2, 2.4, 2.5 and 6).
func literal(s string) string {
	s = ledger.Clean(s)
	var b strings.Builder
	for i, r := range s {
		switch {
		case r == '<':
			b.WriteString("&lt;")
			continue
		case strings.ContainsRune("\\`*_[", r), r == '&' && entity(s[i+1:]):
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}

// entity reports whether an ampersand before the text would begin a character reference.
func entity(s string) bool {
	return s != "" && (s[0] == '#' || s[0]|0x20 >= 'a' && s[0]|0x20 <= 'z')
}

// paragraph is literal for a whole line, which must not become a heading, list, quotation, rule or fence (4.1 to 4.5, 5.1 and 5.2).
func paragraph(s string) string {
	s = literal(s)
	digits := len(s) - len(strings.TrimLeft(s, "0123456789"))
	if at := s[digits:]; at != "" && (digits == 0 && strings.ContainsRune("#>+-=~|", rune(at[0])) || digits > 0 && (at[0] == '.' || at[0] == ')')) {
		return s[:digits] + "\\" + at
	}
	return s
}

// writeMarkdown writes a sheet, with a table for each of its blocks.
func writeMarkdown(b *bufio.Writer, sheet Sheet) {
	sheet.even()
	if sheet.Title != "" {
		b.WriteString(paragraph(sheet.Title) + "\n\n")
	}
	notes := func(all []string) {
		for _, note := range all {
			b.WriteString(paragraph(note) + "\n")
		}
	}
	if len(sheet.Columns) > 0 && len(sheet.Rows) > 0 {
		b.WriteString(markdown(sheet.Columns, sheet.Rows, sheet.Totals))
	}
	for i, block := range sheet.Blocks {
		if i > 0 {
			b.WriteByte('\n')
		}
		totals := sheet.Totals
		if i < len(sheet.Blocks)-1 {
			totals = nil
		}
		b.WriteString(paragraph(block.Head) + "\n\n" + markdown(sheet.Columns, block.Rows, totals))
		if len(block.Notes) > 0 {
			b.WriteByte('\n')
			notes(block.Notes)
		}
	}
	if sheet.Picture != nil {
		if lines := sheet.Picture(Style{Format: "md"}); len(lines) > 0 { // fenced, so that they are shown unchanged
			b.WriteString("\n```\n")
			for _, line := range lines {
				b.WriteString(strings.TrimRight(ledger.Clean(line), " ") + "\n")
			}
			b.WriteString("```\n")
		}
	}
	if len(sheet.Notes) > 0 && sheet.any() {
		b.WriteByte('\n')
	}
	notes(sheet.Notes)
}

func markdown(columns []Column, rows, totals [][]string) string {
	t := table.NewWriter()
	row := func(cells []string) table.Row {
		r := make(table.Row, len(cells))
		for i, cell := range cells {
			r[i] = literal(cell)
		}
		return r
	}
	header := table.Row{}
	var configs []table.ColumnConfig
	for i, c := range columns {
		header = append(header, c.Name)
		if c.Right {
			configs = append(configs, table.ColumnConfig{Number: i + 1, Align: text.AlignRight, AlignHeader: text.AlignRight, AlignFooter: text.AlignRight})
		}
	}
	t.SetColumnConfigs(configs)
	t.AppendHeader(header)
	for _, cells := range rows {
		t.AppendRow(row(cells))
	}
	for _, cells := range totals {
		t.AppendFooter(row(cells))
	}
	return t.RenderMarkdown() + "\n"
}
