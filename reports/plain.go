package reports

import (
	"bufio"
	"io"
	"slices"
	"strings"

	"tarebook/ledger"
)

func writeSheets(w io.Writer, sheets Pages, s Style) error {
	b := bufio.NewWriterSize(w, 64<<10)
	for i, sheet := range sheets {
		if i > 0 {
			b.WriteByte('\n')
		}
		if sheet.fill != nil {
			sheet.fill(&sheet)
		}
		if s.Format == "md" {
			writeMarkdown(b, sheet)
			continue
		}
		writeLines(b, s, 2, sheet.Title)
		if len(sheet.Columns) > 0 && sheet.any() {
			layOut(b, sheet, s)
		}
		if sheet.Picture != nil {
			lines := sheet.Picture(s)
			if len(lines) > 0 && (sheet.Title != "" || sheet.any()) {
				b.WriteByte('\n')
			}
			writePicture(b, lines, s)
		}
		writeLines(b, s, 2, sheet.Notes...)
	}
	return b.Flush()
}

// writeLines writes what is not blank, wrapped to the terminal.
func writeLines(b *bufio.Writer, s Style, indent int, all ...string) {
	for _, text := range all {
		if text == "" {
			continue
		}
		for _, line := range wrap(ledger.Clean(text), s.Width, indent) {
			b.WriteString(line + "\n")
		}
	}
}

// writePicture writes lines unchanged.
func writePicture(b *bufio.Writer, lines []string, s Style) {
	for _, line := range lines {
		if line = strings.TrimRight(ledger.Clean(line), " "); s.Width > 0 {
			line = shortened(line, s.Width, s.ellipsis())
		}
		b.WriteString(line + "\n")
	}
}

// layOut writes a table as plain text, no wider than the terminal if it can be.
func layOut(b *bufio.Writer, sheet Sheet, s Style) {
	sheet.clean()
	sheet.even()
	widths, without := sheet.fit(s.Width, s.ellipsis())
	p := plain{b: b, style: s, columns: sheet.Columns, widths: widths}
	p.rule, p.blanks = strings.Repeat("-", total(widths)), strings.Repeat(" ", slices.Max(widths))
	p.write(sheet)
	if without != nil {
		writeLines(b, s, 1, "(this terminal is too narrow for: "+strings.Join(without, ", ")+")")
	}
}

// plain writes a table with two blanks between columns, and a rule under the heading and above the totals. It is written by hand because
// go-pretty's tables would take a tenth of the time of a command on a small book.
type plain struct {
	style        Style
	columns      []Column
	widths       []int
	rule, blanks string
	b            *bufio.Writer
	line         []byte
}

func (p *plain) write(sheet Sheet) {
	names := make([]string, len(p.columns))
	for i, c := range p.columns {
		names[i] = c.Name
	}
	p.row(names)
	p.b.WriteString(p.rule + "\n")
	p.rows(sheet.Rows)
	for i, block := range sheet.Blocks {
		if i > 0 {
			p.b.WriteByte('\n')
		}
		writeLines(p.b, p.style, 4, block.Head)
		p.rows(block.Rows)
		writeLines(p.b, p.style, 2, block.Notes...)
	}
	if len(sheet.Totals) > 0 {
		p.b.WriteString(p.rule + "\n")
	}
	p.rows(sheet.Totals)
}

func (p *plain) rows(rows [][]string) {
	for _, cells := range rows {
		p.row(cells)
	}
}

// row writes one row, of several lines where a sentence is wrapped.
func (p *plain) row(cells []string) {
	for more := true; more; {
		more = false
		var rest []string
		p.line = p.line[:0]
		for i, cell := range cells {
			if p.columns[i].Wrap && cellWidth(cell) > p.widths[i] {
				lines := wrap(cell, p.widths[i], 0)
				if rest == nil {
					rest, more = make([]string, len(cells)), true
				}
				cell, rest[i] = lines[0], strings.Join(lines[1:], " ")
			}
			gap := p.blanks[:max(0, p.widths[i]-cellWidth(cell))]
			if cell = coloured(cell, p.style.Colour); p.columns[i].Right {
				p.line = append(append(p.line, gap...), cell...)
			} else {
				p.line = append(append(p.line, cell...), gap...)
			}
			p.line = append(p.line, "  "...)
		}
		p.b.WriteString(strings.TrimRight(string(p.line), " "))
		p.b.WriteByte('\n')
		cells = rest
	}
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
