package reports

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"tarebook/ledger"
)

// The layout of a label, and of labels on a sheet. All lengths are in mm.

// A4 (210 x 297, ISO 216) and Letter (215.9 x 279.4, ANSI/ASME Y14.1; both from memory) have 190 x 259.4 in common within margins of
// 10. A sheet is a little smaller, because browsers round to units of their own. So the same document prints to both.
const (
	sheetWidth  = 188.0
	sheetHeight = 258.0
)

const (
	minModule = 0.25  // of a symbol that a hand-held reader reads; common practice, no source
	minText   = 1.5   // of what is filled in, about 4 points; common practice, no source
	maxLabel  = 300.0 // a side of a single label
	maxGrid   = 99    // columns, or rows
)

// Widths of text in ems. The font is unknown here: it is the monospaced font of whoever opens the document. So text is cut where it could
// be too wide. The advance is 0.6 of an em in Courier (Adobe's metrics, from memory), and at most 0.602 in other fonts tried.
const (
	advance  = 0.61
	fallback = 0.9 // other scripts come from fonts of any width
	wide     = 1.0 // of East Asian scripts
	accent   = 0.1 // of combining marks; not 0, since a line could then hold any number of them
)

// LabelGrid is the number of columns and rows of labels on a sheet.
type LabelGrid struct{ Columns, Rows int }

// DefaultLabelGrid gives 24 labels of 62.7 x 32.3 mm.
var DefaultLabelGrid = LabelGrid{3, 8}

// ParseLabelGrid parses columns x rows, as 3x8.
func ParseLabelGrid(text string) (LabelGrid, error) {
	a, b, _ := byCross(text)
	columns, err1 := strconv.Atoi(a)
	rows, err2 := strconv.Atoi(b)
	if err1 != nil || err2 != nil || columns < 1 || rows < 1 {
		return LabelGrid{}, fmt.Errorf("%q is no grid; write columns x rows, as %s", text, DefaultLabelGrid)
	}
	if columns > maxGrid || rows > maxGrid {
		return LabelGrid{}, fmt.Errorf("%q has more than %d columns or rows; write columns x rows, as %s", text, maxGrid, DefaultLabelGrid)
	}
	return LabelGrid{columns, rows}, nil
}

// String formats the grid as ParseLabelGrid parses it.
func (g LabelGrid) String() string { return fmt.Sprintf("%dx%d", g.Columns, g.Rows) }

func (g LabelGrid) size() LabelSize {
	return LabelSize{sheetWidth / float64(g.Columns), sheetHeight / float64(g.Rows)}
}

// LabelSize is the size of one label in mm.
type LabelSize struct{ Width, Height float64 }

// DefaultLabelSize is the size of a single label.
var DefaultLabelSize = LabelSize{62, 29}

// ParseLabelSize parses width x height in mm, as 62x29.
func ParseLabelSize(text string) (LabelSize, error) {
	mend := "; write width x height in mm, as " + DefaultLabelSize.String()
	a, b, _ := byCross(text)
	width, err1 := ledger.ParseNumber(a)
	height, err2 := ledger.ParseNumber(b)
	s := LabelSize{width.Float(0), height.Float(0)}
	switch {
	case err1 != nil || err2 != nil || s.Width <= 0 || s.Height <= 0:
		return LabelSize{}, fmt.Errorf("%q is no size%s", text, mend)
	case s.Width > maxLabel || s.Height > maxLabel:
		return LabelSize{}, fmt.Errorf("%q is larger than %g mm%s", text, maxLabel, mend)
	}
	return s, nil
}

// String formats the size as ParseLabelSize parses it, to a tenth of a mm.
func (s LabelSize) String() string { return decimals(s.Width, 1) + "x" + decimals(s.Height, 1) }

func byCross(text string) (a, b string, ok bool) {
	return strings.Cut(strings.NewReplacer("X", "x", "×", "x", " ", "").Replace(text), "x")
}

func decimals(x float64, n int) string {
	s := strconv.FormatFloat(x, 'f', n, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return noMinusZero(s)
}

// floored formats a length that is too small. It rounds down, so that the text is not equal to the least length.
func floored(x float64) string { return decimals(math.Floor(100*x)/100, 2) }

// box is a rectangle on a label.
type box struct{ x, y, w, h float64 }

// labelLayout holds the places of the parts of a label. The id takes the whole width. Below it, after a rule, is the form, with the symbol
// beside it, or under it if the label is taller than wide.
type labelLayout struct {
	size             LabelSize
	head, form, code box
	id, figure, text float64 // sizes of text: of the id, of the tare, of all else
	rows             int     // of the form below the tare
}

// Shares of the label's height, or of the form's.
const (
	headShare    = 0.25
	tareShare    = 0.32
	formShare    = 0.6  // of what is below the head, where the symbol stands under the form
	codeShare    = 0.42 // of the width at most, where it stands beside it
	captionShare = 0.72 // of the size of text
	formRows     = 4    // at least, below that of the tare
	captionChars = 9    // tare from
	valueChars   = 10   // a date
	ruleWidth    = 0.4  // below the id
)

// captionWidth is the width of captions and the gap after them, in ems of the form's text.
const captionWidth = advance * (captionChars*captionShare + 0.9)

// newLabelLayout returns the layout of a label whose id has the given number of characters.
func newLabelLayout(size LabelSize, chars int) labelLayout {
	l := labelLayout{size: size, rows: formRows}
	pad := min(max(0.04*min(size.Width, size.Height), 0.8), 2)
	w, h := max(size.Width-2*pad, 0), max(size.Height-2*pad, 0)
	l.head = box{pad, pad, w, headShare * h}
	below := box{pad, pad + l.head.h + ruleWidth/2, w, max(h-l.head.h-ruleWidth/2, 0)}
	if size.Height > size.Width {
		l.form = box{below.x, below.y, w, formShare * below.h}
		side := min(w, below.h-l.form.h)
		l.code = box{pad + (w-side)/2, size.Height - pad - side, side, side}
	} else {
		side := min(below.h, codeShare*w)
		l.code = box{size.Width - pad - side, below.y, side, side}
		l.form = box{below.x, below.y, w - side, below.h}
	}
	l.id = min(1.05*l.head.h, w/(advance*float64(chars)))
	l.figure = min(0.85*tareShare*l.form.h, 0.95*l.id)
	return l.withRows(formRows)
}

// withRows returns the layout with that many rows in its form.
func (l labelLayout) withRows(rows int) labelLayout {
	l.rows = rows
	l.text = min(0.74*l.row(), 0.95*l.figure, l.form.w/(captionWidth+valueChars*advance))
	return l
}

// row returns the height of a row of the form.
func (l *labelLayout) row() float64 { return (1 - tareShare) * l.form.h / float64(l.rows) }

// fault says in words why a label can't be read; "" if it can.
func (l *labelLayout) fault(modules int) string {
	if m := l.code.w / float64(modules+2*quiet); m < minModule {
		return fmt.Sprintf("the modules of its QR Code would be %s mm, and a reader wants %g", floored(m), minModule)
	}
	if l.text < minText {
		return fmt.Sprintf("its text would be of %s mm, and the eye wants %g", floored(l.text), minText)
	}
	return ""
}

// legible returns an error if labels of this size can't be read. chars and modules are those of the longest id and the largest symbol.
func (s LabelSize) legible(chars, modules int) error {
	l := newLabelLayout(s, chars)
	if fault := l.fault(modules); fault != "" {
		return fmt.Errorf("a label of %s mm is too small: %s", s, fault)
	}
	return nil
}

// fits returns the nearest grid with fewer labels than g whose labels can be read.
func (g LabelGrid) fits(chars, modules int) LabelGrid {
	ok := func(g LabelGrid) bool { return g.size().legible(chars, modules) == nil }
	for less := g; less.Rows > 0; less.Rows-- {
		if ok(less) {
			return less
		}
	}
	for less := g; less.Columns > 0; less.Columns-- {
		if ok(less) {
			return less
		}
	}
	less := g
	for !ok(less) && (less.Rows > 1 || less.Columns > 1) {
		if less.Rows > 1 && (less.size().Height < less.size().Width || less.Columns == 1) {
			less.Rows--
		} else {
			less.Columns--
		}
	}
	return less
}

// fits returns the least size in whole mm, at least s and of its shape or nearer to a square, whose labels can be read.
func (s LabelSize) fits(chars, modules int) LabelSize {
	least := LabelSize{math.Ceil(s.Width), math.Ceil(s.Height)}
	side := func(least, grown float64) float64 { return min(max(least, math.Ceil(grown)), maxLabel) }
	for short := min(least.Width, least.Height); short <= maxLabel; short++ {
		times := short / min(s.Width, s.Height)
		larger := LabelSize{side(least.Width, times*s.Width), side(least.Height, times*s.Height)}
		if larger.legible(chars, modules) == nil {
			return larger
		}
	}
	return DefaultLabelSize // never reached: any label of the largest size can be read
}

// fitted returns s if it is at most ems wide, else a beginning of it with an ellipsis that is.
func fitted(s string, ems float64) string {
	width, end, last := 0.0, 0, true
	for i, r := range s {
		w := emWidth(r)
		if width+w > ems {
			last = false
			break
		}
		if width += w; width+wide <= ems { // an ellipsis may come from a font of wide characters
			end = i + utf8.RuneLen(r)
		}
	}
	if last {
		return s
	}
	return strings.TrimRight(s[:end], " ") + "…"
}

func emWidth(r rune) float64 {
	switch {
	case r < 0x250 || r >= 0x370 && r < 0x530: // Latin, Greek and Cyrillic are in most monospaced fonts
		return advance
	case runeWidth(r) == 0:
		return accent
	case runeWidth(r) > 1:
		return wide
	}
	return fallback
}
