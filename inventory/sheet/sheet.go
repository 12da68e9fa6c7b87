// Package sheet reads the CSV that spreadsheets write: it finds out how a sheet is encoded, what parts its cells, which
// mark its decimals have and in what order its dates stand, and says what it found.
//
// It looks at all rows before it decides, and it never guesses in silence: where a sheet can be read in two ways, it is
// refused, and the [Error] names the option that settles it. A cell that was evidence for one reading is never taken in the
// other: it is then no number, or no date. Line numbers are those of the file. Memory grows with the file alone.
//
// It knows nothing of any book. Start at [Read]; then [Table.Forms] for the columns that hold numbers and dates.
package sheet

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Options settle what a sheet leaves open; what is zero is found out.
type Options struct {
	Encoding  string // one of Encodings
	Delimiter rune   // one of Delimiters
	Decimal   rune   // ',' or '.'
	Dates     Order
	Header    int // the line of the header; 0: the first that is not blank
}

// Delimiters are what may part the cells.
const Delimiters = ",;\t|"

// Table is a sheet as text.
type Table struct {
	Encoding  string // one of Encodings
	Delimiter rune   // 0 where the sheet has one column
	Header    Row
	Rows      []Row // none of them blank
}

// Row is one row of a sheet. Cells are trimmed and as many as the header has, unless there is a fault.
type Row struct {
	Line  int
	Cells []string
	Fault *Error // its cells are not those of the header
}

// Error is what keeps a sheet, or a cell of it, from being read.
type Error struct {
	Line   int    // 0: the whole file, or a cell whose place the caller knows
	What   string // is wrong
	Mend   string // may be empty
	Settle string // the option that settles it: Encoding, Delimiter, Decimal, Dates or Header; may be empty
}

func (e *Error) Error() string {
	text := e.What
	if e.Line > 0 {
		text = fmt.Sprintf("line %d: %s", e.Line, text)
	}
	if e.Mend != "" {
		text += "; " + e.Mend
	}
	return text
}

func wrong(line int, mend, format string, args ...any) *Error {
	return &Error{Line: line, What: fmt.Sprintf(format, args...), Mend: mend}
}

// Read reads a sheet.
func Read(data []byte, o Options) (*Table, error) {
	text, encoding, err := decode(data, o.Encoding)
	if err != nil {
		return nil, err
	}
	if !strings.Contains(text, "\n") { // line ends of old
		text = strings.ReplaceAll(text, "\r", "\n")
	}
	t := &Table{Encoding: encoding}
	first, rest, err := begin(text, &o)
	if err != nil {
		return nil, err
	}
	if t.Delimiter, err = delimiter(rest, first, o.Delimiter); err != nil {
		return nil, err
	}
	err = records(rest, first, t.Delimiter, func(line int, cells []string) bool {
		for i, cell := range cells {
			cells[i] = strings.TrimSpace(cell)
		}
		row := Row{Line: line, Cells: cells}
		switch {
		case blank(cells):
		case t.Header.Line == 0:
			t.Header = row
		default:
			row.fit(len(t.Header.Cells))
			t.Rows = append(t.Rows, row)
		}
		return true
	})
	if e, ok := err.(*Error); ok && t.Delimiter == 0 && e.Line > first { // a title above the header has one cell, too
		return nil, &Error{Line: e.Line, What: fmt.Sprintf("a quote stands in the middle of a cell, or line %d is not the header", first), Settle: "Header"}
	}
	if err != nil {
		return nil, err
	}
	if t.Header.Line == 0 {
		return nil, &Error{What: fmt.Sprintf("is blank from line %d on", first), Settle: "Header"}
	}
	return t, nil
}

func hasPrefix(data []byte, prefix ...byte) bool {
	return strings.HasPrefix(string(data[:min(len(data), len(prefix))]), string(prefix))
}

func lineAt(text string, i int) int { return 1 + strings.Count(text[:i], "\n") }

// tail is the end of the line before a place, for a message.
func tail(s string) string {
	s = s[strings.LastIndexByte(s, '\n')+1:]
	if r := []rune(s); len(r) > 20 {
		s = string(r[len(r)-20:])
	}
	return s
}

// begin returns the number of the header's line and the text from there on. A line sep=; above it, by which some programs
// are told what parts the cells, settles the delimiter.
func begin(text string, o *Options) (first int, rest string, err error) {
	first = 1
	for rest = text; ; first++ {
		line, after, more := strings.Cut(rest, "\n")
		line = strings.TrimRight(line, "\r")
		sep, ok := strings.CutPrefix(strings.Trim(line, `"`), "sep=")
		settles := first == 1 && ok && len(sep) == 1 && strings.Contains(Delimiters, sep)
		if settles && o.Delimiter == 0 {
			o.Delimiter = rune(sep[0])
		}
		if o.Header > 0 && first == o.Header || o.Header == 0 && !settles && strings.Trim(line, " \u00a0\r\""+Delimiters) != "" {
			return first, rest, nil
		}
		if !more {
			if o.Header > 0 {
				if rest == "" { // what follows the last line end is no line
					first--
				}
				return 0, "", &Error{What: fmt.Sprintf("ends before line %d, with line %d", o.Header, first), Settle: "Header"}
			}
			return 0, "", wrong(0, "", "is empty")
		}
		rest = after
	}
}

// delimiter finds what parts the cells: the header must fall into two cells at least, and most rows into as many.
func delimiter(text string, first int, given rune) (rune, error) {
	if given != 0 {
		return given, nil
	}
	type candidate struct {
		mark      rune
		even, odd int // rows that have as many cells as the header, and that have not
	}
	var found []candidate
	var syntax error
	for _, mark := range Delimiters {
		c := candidate{mark: mark}
		width := 0
		err := records(text, first, mark, func(_ int, cells []string) bool {
			switch {
			case width == 0:
				width = len(cells)
				return width > 1
			case blank(cells):
			case len(cells) == width || len(cells) > width && blank(cells[width:]):
				c.even++
			default:
				c.odd++
			}
			return true
		})
		switch {
		case err != nil && (width > 1 || syntax == nil):
			syntax = err
		case err == nil && width > 1:
			found = append(found, c)
		}
	}
	if len(found) == 0 {
		return 0, syntax // nil: one column
	}
	best, tied := found[0], false
	for _, c := range found[1:] {
		switch a, b := c.even*(best.even+best.odd), best.even*(c.even+c.odd); {
		case a > b:
			best, tied = c, false
		case a == b:
			tied = true
		}
	}
	if tied {
		return 0, &Error{Line: first, What: "cells may be parted in more than one way", Settle: "Delimiter"}
	}
	return best.mark, nil
}

// records calls each with every record of a text whose first line has that number in its file, until it returns false. A
// delimiter of 0 stands for one column.
func records(text string, first int, delimiter rune, each func(line int, cells []string) bool) error {
	r := csv.NewReader(strings.NewReader(text))
	r.FieldsPerRecord = -1
	if r.Comma = delimiter; delimiter == 0 {
		r.Comma = '\x1f' // stands in no sheet but by mistake
	}
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		var syntax *csv.ParseError
		if errors.As(err, &syntax) {
			return wrong(first+syntax.StartLine-1, "put such a cell in quotes, and each quote within it twice", "a quote stands in the middle of a cell, or is never closed")
		}
		if err != nil {
			return err
		}
		line, _ := r.FieldPos(0)
		if !each(first+line-1, cells) {
			return nil
		}
	}
}

func blank(cells []string) bool {
	for _, cell := range cells {
		if strings.TrimSpace(cell) != "" {
			return false
		}
	}
	return true
}

// fit holds a row against the width of the header; blank cells beyond it are none.
func (r *Row) fit(width int) {
	if len(r.Cells) > width && blank(r.Cells[width:]) {
		r.Cells = r.Cells[:width]
	}
	if n := len(r.Cells); n != width {
		r.Fault = wrong(r.Line, "write one for each, blank ones too; text that holds the mark between cells goes in quotes", "has %d cells where the header has %d", n, width)
	}
}
