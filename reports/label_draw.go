package reports

import (
	"bytes"
	"errors"
	"fmt"
	"html/template"
	"io"
	"runtime"
	"strings"
	"sync"

	"tarebook/ledger"
)

// WriteSVG writes a single label as an SVG drawing of that size, without a swatch: a label printer has black and white alone. It refuses a size that is too small to read.
func (l Labels) WriteSVG(w io.Writer, size LabelSize) error {
	if len(l) != 1 {
		return errors.New("a drawing is of one label")
	}
	symbols, err := l.symbols()
	if err != nil {
		return err
	}
	chars, modules := l.longest(symbols)
	if err := size.legible(chars, modules); err != nil {
		return fmt.Errorf("%w; %s fits", err, size.fits(chars, modules))
	}
	t, err := template.ParseFS(web, "web/label.html")
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "single", l[0].draw(size, symbols[0], false)); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}

// symbols returns the symbol of each label. Encoding takes most of the time of a large sheet, so all processors share it.
func (l Labels) symbols() ([]symbol, error) {
	symbols, errs := make([]symbol, len(l)), make([]error, len(l))
	var wait sync.WaitGroup
	workers := min(runtime.GOMAXPROCS(0), len(l))
	for first := range workers {
		wait.Go(func() {
			for i := first; i < len(l); i += workers {
				symbols[i], errs[i] = encode(l[i].Spool)
			}
		})
	}
	wait.Wait()
	return symbols, errors.Join(errs...)
}

// longest returns the number of characters of the longest id, and of modules of the largest symbol.
func (l Labels) longest(symbols []symbol) (chars, modules int) {
	for i := range l {
		chars, modules = max(chars, len(l[i].Spool)), max(modules, symbols[i].modules)
	}
	return chars, modules
}

// mm is a length on a label.
type mm float64

// String formats the length to a hundredth.
func (m mm) String() string { return decimals(float64(m), 2) }

// labelDrawing is the value of the template of a label.
type labelDrawing struct {
	X, Y, Width, Height mm
	Cut                 bool // draw a line around it to cut along
	Rule                rule
	ID                  ink
	Form                labelForm
	CodeX, CodeY, Side  mm
	From, Modules       int // of the symbol with its quiet zone
	Path                string
}

// labelForm is the ruled part. It is clipped to its box, whatever the font.
type labelForm struct {
	X, Y, Width, Height mm
	Rules               string // all rules are one path, which keeps the number of elements low
	Texts               []ink
	Swatch              *patch
}

type ink struct {
	X, Y, Size mm
	Bold       bool
	Text       string
}

type rule struct{ X, Y, To, Width mm }

type patch struct {
	X, Y, Width, Height mm
	Fill                string
}

func (x *Label) draw(size LabelSize, s symbol, swatch bool) labelDrawing {
	l, rows := x.rows(newLabelLayout(size, len(x.Spool)), swatch)
	under := l.head.y + l.head.h
	return labelDrawing{Width: mm(size.Width), Height: mm(size.Height),
		Rule:  rule{mm(l.head.x), mm(under), mm(l.head.x + l.head.w), ruleWidth},
		ID:    ink{mm(l.head.x), mm(l.head.y + middle(l.head.h, l.id)), mm(l.id), true, x.Spool},
		Form:  x.form(&l, rows),
		CodeX: mm(l.code.x), CodeY: mm(l.code.y), Side: mm(l.code.w), From: -quiet, Modules: s.modules + 2*quiet, Path: s.path}
}

// middle returns the baseline that centres capitals in a row.
func middle(row, size float64) float64 { return row/2 + 0.35*size }

// form returns the form: the tare first and largest, then its rows.
func (x *Label) form(l *labelLayout, rows []formRow) labelForm {
	f := labelForm{X: mm(l.form.x), Y: mm(l.form.y), Width: mm(l.form.w), Height: mm(l.form.h)}
	caption, column := captionShare*l.text, captionWidth*l.text
	room := l.form.w - column
	put := func(at, y, size float64, bold bool, text string) {
		f.Texts = append(f.Texts, ink{mm(at), mm(y), mm(size), bold, text})
	}

	tare := tareText(x.TareG, " g", "not known")
	top := tareShare * l.form.h
	figure := min(l.figure, room/(advance*float64(len(tare)))) // a figure is made smaller, never cut
	put(0, 0.44*top, caption, false, "tare from")
	put(0, 0.82*top, caption, false, fitted(printable(x.TareFrom), captionChars*advance))
	put(column, middle(top, figure), figure, true, tare)

	for i, r := range rows {
		y := top + float64(i)*l.row()
		if r.caption != "" {
			f.Rules += fmt.Sprintf("M0 %vH%v", mm(y), mm(l.form.w-0.6)) // the rule ends before the symbol's quiet zone
			put(0, y+middle(l.row(), l.text), caption, false, r.caption)
		}
		base, at := y+middle(l.row(), l.text), column
		if r.swatch != "" {
			f.Swatch = &patch{mm(at), mm(base - 0.72*l.text), mm((patchWidth - 0.4) * l.text), mm(0.76 * l.text), r.swatch}
			at += patchWidth * l.text
		}
		put(at, base, l.text, false, r.value)
	}
	f.Rules += fmt.Sprintf("M%v 0V%v", mm(column-0.35*l.text), f.Height)
	return f
}

// printable replaces characters that a document can't hold by their codes. XML excludes even U+FFFE and U+FFFF (XML 1.0, 2.2).
func printable(s string) string {
	return strings.NewReplacer("\ufffe", "<FFFE>", "\uffff", "<FFFF>").Replace(ledger.Clean(s))
}
