package reports

import (
	"fmt"
	"io"

	"tarebook/inventory"
	"tarebook/ledger"
)

// LabelSheet is how labels stand on sheets: in a grid to be cut, or on sheets of labels that are cut already, which have a pitch.
type LabelSheet struct {
	Grid LabelGrid
	Skip int // labels of the first sheet that are used already

	Pitch  LabelSize  // from the left edge of one label to that of the next, and from top to top; zero of a grid to be cut
	Size   LabelSize  // of one label of such a sheet
	Margin [2]float64 // from the left and the upper edge of the paper to the first label
}

// The largest paper, in mm: as wide as Letter and as high as A4.
const (
	paperWidth  = 215.9
	paperHeight = 297.0
)

// ParseLabelMargin parses the distances of the first label from the left and the upper edge of the paper in mm, as 7.2x12.9.
func ParseLabelMargin(text string) (margin [2]float64, err error) {
	a, b, _ := byCross(text)
	left, err1 := ledger.ParseNumber(a)
	top, err2 := ledger.ParseNumber(b)
	if err1 != nil || err2 != nil || !left.Given || !top.Given {
		return margin, fmt.Errorf("%q is no margin; write left x top in mm, as 7.2x12.9", text)
	}
	return [2]float64{left.Float(0), top.Float(0)}, nil
}

// Check refuses a sheet that can't be.
func (s LabelSheet) Check() error {
	if places := s.Grid.Columns * s.Grid.Rows; s.Skip < 0 || s.Skip >= places {
		return fmt.Errorf("--skip %d leaves no label of the first sheet, which has %d", s.Skip, places)
	}
	if !s.precut() {
		return nil
	}
	if s.Size.Width > s.Pitch.Width || s.Size.Height > s.Pitch.Height {
		return fmt.Errorf("labels of %s mm overlap at a pitch of %s mm; write the distance from one label's edge to the same edge of the next", s.Size, s.Pitch)
	}
	if w, h := s.extent(); w > paperWidth || h > paperHeight {
		return fmt.Errorf("the labels take %s x %s mm, and the paper has %g x %g; give a smaller --grid, --pitch or --margin", decimals(w, 1), decimals(h, 1), paperWidth, paperHeight)
	}
	return nil
}

func (s LabelSheet) precut() bool { return s.Pitch != LabelSize{} }

// extent is how far the labels of a sheet reach from its left and upper edge.
func (s LabelSheet) extent() (w, h float64) {
	if !s.precut() {
		return sheetWidth, sheetHeight
	}
	return s.Margin[0] + float64(s.Grid.Columns-1)*s.Pitch.Width + s.Size.Width, s.Margin[1] + float64(s.Grid.Rows-1)*s.Pitch.Height + s.Size.Height
}

func (s LabelSheet) size() LabelSize {
	if s.precut() {
		return s.Size
	}
	return s.Grid.size()
}

// place is where the nth label of a sheet stands.
func (s LabelSheet) place(n int) (x, y float64) {
	pitch := s.size()
	if s.precut() {
		pitch = s.Pitch
	}
	return s.Margin[0] + float64(n%s.Grid.Columns)*pitch.Width, s.Margin[1] + float64(n/s.Grid.Columns)*pitch.Height
}

// WriteSheets writes labels as an HTML document of sheets: a grid to print on A4 or Letter and cut along the lines, or sheets that are cut
// already. It refuses labels that would be too small to read.
func (l Labels) WriteSheets(w io.Writer, s LabelSheet) error {
	if err := s.Check(); err != nil {
		return err
	}
	symbols, err := l.symbols()
	if err != nil {
		return err
	}
	chars, modules := l.longest(symbols)
	if err := s.size().legible(chars, modules); err != nil {
		if s.precut() {
			return fmt.Errorf("%w; take a sheet of larger labels", err)
		}
		return fmt.Errorf("a grid of %s: %w; %s fits", s.Grid, err, s.Grid.fits(chars, modules))
	}
	type sheet struct{ Labels []labelDrawing }
	var sheets []sheet
	for i := range l {
		n := (s.Skip + i) % (s.Grid.Columns * s.Grid.Rows)
		if n == 0 || i == 0 {
			sheets = append(sheets, sheet{})
		}
		d := l[i].draw(s.size(), symbols[i], true)
		x, y := s.place(n)
		d.X, d.Y, d.Cut = mm(x), mm(y), !s.precut()
		last := &sheets[len(sheets)-1]
		last.Labels = append(last.Labels, d)
	}
	width, height := s.extent()
	edge := 0.2 // room for the outer lines
	how := "on A4 or Letter; then cut along the lines"
	if s.precut() {
		edge, how = 0, "without margins of the printer's own, on sheets of labels; hold the first against a sheet before you print all"
	}
	return document{"label", "Labels", map[string]any{
		"From": mm(-edge), "Width": mm(width + 2*edge), "Height": mm(height + 2*edge), "Sheets": sheets, "Count": inventory.Plural(len(l), "label", "labels"),
		"On": inventory.Plural(len(sheets), "sheet", "sheets"), "How": how, "Precut": s.precut(),
	}}.write(w)
}
