package reports

import (
	"bufio"
	"slices"
	"strings"

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

// markdown returns a table with its totals as last rows (GitHub Flavored Markdown 0.29, 4.10).
func markdown(columns []Column, rows, totals [][]string) string {
	var b strings.Builder
	line := func(cells []string, text func(string) string) {
		for i := range columns {
			cell := ""
			if i < len(cells) {
				cell = text(cells[i])
			}
			b.WriteString("| " + strings.ReplaceAll(cell, "|", "\\|") + " ")
		}
		b.WriteString("|\n")
	}
	var names []string
	for _, c := range columns {
		names = append(names, c.Name)
	}
	line(names, ledger.Clean)
	for _, c := range columns {
		if c.Right {
			b.WriteString("| ---:")
		} else {
			b.WriteString("| --- ")
		}
	}
	b.WriteString("|\n")
	for _, cells := range slices.Concat(rows, totals) {
		line(cells, literal)
	}
	return b.String()
}
