package reports

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"tarebook/inventory"
	"tarebook/ledger"
)

// course is a chart of a spool's net over time: its weigh-ins, and what the book says between them.
type course struct {
	spool    string
	points   []weighing
	line     []moment // the book's net: a straight line between weigh-ins, and a vertical one where a weigh-in corrects it
	from, to time.Time
	nowU     float64 // standard uncertainty of the net at the end of the line; 0 where the spool has ended
}

// weighing is one weigh-in with a known net.
type weighing struct {
	at      ledger.Time
	net, u  float64 // grams, u a standard uncertainty
	outside bool
	lineEnd int // the two moments before this index of the line belong to it
}

// moment is a point of the line.
type moment struct {
	at  time.Time
	net float64
}

// newCourse returns the course of a spool until an instant, or until its end if that is earlier.
func newCourse(s *inventory.Spool, until ledger.Time) course {
	c := course{spool: s.ID}
	begin := s.Purchase.At
	readings := slices.DeleteFunc(slices.Clone(s.Readings), func(r inventory.Reading) bool { return r.Early })
	if s.Opening() != nil || len(readings) == 0 || begin.Before(readings[0].Weighin.At) {
		c.line = append(c.line, moment{begin.Std(), s.Start().Float()})
	}
	for i := range readings {
		r := &readings[i]
		at := r.Weighin.At.Std()
		if r.Measured.Given {
			c.line = append(c.line, moment{at, r.Book.Float()})
			c.points = append(c.points, weighing{r.Weighin.At, r.Measured.Grams.Float(), r.U, r.Outside, len(c.line) + 1})
			c.line = append(c.line, moment{at, r.Measured.Grams.Float()})
		}
		if r.Weighin.Ends() {
			c.line = append(c.line, moment{at, 0})
			break
		}
	}
	if !s.Ended && (len(c.line) == 0 || !until.Std().Before(c.line[len(c.line)-1].at)) {
		c.line = append(c.line, moment{until.Std(), s.Net.Float()})
		c.nowU = s.NetU()
	}
	if len(c.line) > 0 {
		c.from, c.to = c.line[0].at, c.line[len(c.line)-1].at
	}
	return c
}

// thinned returns the course with at most most weigh-ins: the first, the last, and an even choice between them. Those that stay keep
// their error bars and the book's net at them.
func (c course) thinned(most int) course {
	n := len(c.points)
	if n <= most {
		return c
	}
	t := course{spool: c.spool, from: c.from, to: c.to, nowU: c.nowU}
	taken := 0 // number of moments of c.line that were copied or skipped
	for i := range most {
		p := c.points[(i*(n-1)+(most-1)/2)/(most-1)]
		if i == 0 { // keep the line before the first weigh-in
			t.line = append(t.line, c.line[taken:p.lineEnd-2]...)
		}
		t.line = append(t.line, c.line[p.lineEnd-2:p.lineEnd]...)
		taken = p.lineEnd
		t.points = append(t.points, p)
	}
	t.line = append(t.line, c.line[taken:]...)
	return t
}

// grams returns the two ends of an axis of grams that includes 0 and the whole course, and its labels.
func (c course) grams(most int) (lo, hi float64, labels []float64) {
	for _, m := range c.line {
		lo, hi = min(lo, m.net), max(hi, m.net)
	}
	for _, p := range c.points {
		lo, hi = min(lo, p.net-2*p.u), max(hi, p.net+2*p.u)
	}
	if band := c.doubt(); band != nil {
		lo, hi = min(lo, band[1].net-2*c.nowU), max(hi, band[1].net+2*c.nowU)
	}
	if lo == hi {
		hi = 1
	}
	labels = roundTicks(lo, hi, most)
	return lo, hi, slices.DeleteFunc(labels, func(g float64) bool { return g < lo || g > hi })
}

// doubt returns the last weigh-in and the end of the line: between them what the book says is less and less sure. It is nil where the spool
// has ended or nothing was weighed.
func (c course) doubt() []moment {
	if c.nowU == 0 || len(c.points) == 0 || len(c.line) == 0 {
		return nil
	}
	last, now := c.points[len(c.points)-1], c.line[len(c.line)-1]
	if !now.at.After(last.at.Std()) {
		return nil
	}
	return []moment{{last.at.Std(), last.net}, now}
}

// courseDrawing is the value of the template "course", which draws a course as SVG. Coordinates are those of its view box, to 0.1.
type courseDrawing struct {
	Words                        string // the same in words, for people who can't see it
	Grid, Band, Line, Bars, Dots string // paths; the band is what the book says since the last weigh-in, within 2u
	Grams, Days                  []axisLabel
}

// axisLabel is a label of an axis.
type axisLabel struct {
	At   string // its coordinate along the axis
	Text string
}

const (
	courseWidth, courseHeight = 300.0, 132.0 // with text of 12.5, which is 11 px and more in the narrowest card
	courseLeft                = 38.0         // margin left of the axis
	courseBelow               = 16.0         // margin under the axis
	courseAbove               = 18.0         // margin above it, where the unit stands

	// mostDrawn is how many weigh-ins are drawn: then a drawing has at most 1500 bytes, which a test measures.
	mostDrawn = 16
)

// draw computes the layout of a course.
func (c course) draw() courseDrawing {
	d := courseDrawing{Words: c.words()}
	c = c.thinned(mostDrawn)
	lo, hi, grams := c.grams(5)
	y := scale{lo, hi, courseHeight - courseBelow, courseAbove}
	from, to := c.from, c.to
	if !to.After(from) {
		to = from.Add(time.Hour)
	}
	x := scale{0, to.Sub(from).Seconds(), courseLeft, courseWidth}
	across := func(t time.Time) float64 { return x.at(t.Sub(from).Seconds()) }

	var grid, band, line, bars, dots svgPath
	for _, g := range grams {
		at := y.at(g)
		grid.op('M', courseLeft, at).op('H', courseWidth)
		d.Grams = append(d.Grams, axisLabel{coordinate(at), tickLabel(g)})
	}
	for _, t := range calendarTicks(from, to, 3) {
		at := across(t.at)
		grid.op('M', at, y.from).op('v', 3)
		if at+3.1*float64(len(t.label)) < courseWidth+8 { // half of the text must be inside the view box, or it would be cut off
			d.Days = append(d.Days, axisLabel{coordinate(at), t.label})
		}
	}
	for i, m := range c.line {
		switch {
		case i == 0:
			line.op('M', across(m.at), y.at(m.net))
		case m.at.Equal(c.line[i-1].at):
			line.op('V', y.at(m.net))
		default:
			line.op('L', across(m.at), y.at(m.net))
		}
	}
	for _, p := range c.points {
		at := across(p.at.Std())
		bars.op('M', at, y.at(p.net-2*p.u)).op('V', y.at(p.net+2*p.u))
		dots.op('M', at, y.at(p.net)).op('h', 0)
	}
	if b := c.doubt(); b != nil {
		u := c.points[len(c.points)-1].u
		from, to := across(b[0].at), across(b[1].at)
		band.op('M', from, y.at(b[0].net+2*u)).op('L', to, y.at(b[1].net+2*c.nowU)).op('V', y.at(b[1].net-2*c.nowU)).op('L', from, y.at(b[0].net-2*u)).op('Z')
	}
	d.Band = string(band)
	d.Grid, d.Line, d.Bars, d.Dots = string(grid), string(line), string(bars), string(dots)
	return d
}

// words describes the whole course, and says how many weigh-ins are left out of the drawing.
func (c course) words() string {
	first, last := c.points[0], c.points[len(c.points)-1]
	outsides := 0
	for _, p := range c.points {
		if p.outside {
			outsides++
		}
	}
	words := fmt.Sprintf("Net of %s by %d weigh-ins: %s g on %s, %s g (2u %s) on %s", c.spool, len(c.points),
		tenth(first.net), first.at.Date(), tenth(last.net), tenth(2*last.u), last.at.Date())
	if outsides > 0 {
		words += fmt.Sprintf("; %d outside", outsides)
	}
	if len(c.points) > mostDrawn {
		words += fmt.Sprintf("; %d of them drawn", mostDrawn)
	}
	return words
}

// svgPath gathers the commands of an SVG path (SVG 2, 9.3).
type svgPath []byte

func (p *svgPath) op(command byte, coordinates ...float64) *svgPath {
	*p = append(*p, command)
	for i, c := range coordinates {
		if i > 0 {
			*p = append(*p, ' ')
		}
		*p = append(*p, coordinate(c)...)
	}
	return p
}

// coordinate formats a coordinate to 0.1, with as few characters as possible.
func coordinate(x float64) string {
	return noMinusZero(strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64))
}

// plot draws a course with plain characters: o is a weigh-in, | its 2u if that is more than a line, and . the book.
func (c course) plot(s Style) []string {
	width := s.Width
	if width < 40 || !c.to.After(c.from) {
		return nil
	}
	lo, hi, grams := c.grams(5)
	margin := 0
	for _, g := range grams {
		margin = max(margin, len(tickLabel(g)))
	}
	columns, rows := min(width, 100)-margin-4, 13
	x := scale{0, c.to.Sub(c.from).Seconds(), 0, float64(columns - 1)}
	y := scale{lo, hi, float64(rows - 1), 0}
	column := func(t time.Time) int { return int(math.Round(x.at(t.Sub(c.from).Seconds()))) }
	row := func(net float64) int { return int(math.Round(y.at(net))) }

	canvas := make([][]byte, rows)
	for i := range canvas {
		canvas[i] = slices.Repeat([]byte{' '}, columns)
	}
	for i := 1; i < len(c.line); i++ {
		a, b := c.line[i-1], c.line[i]
		for at := column(a.at); at <= column(b.at); at++ {
			net := b.net
			if seconds := b.at.Sub(a.at).Seconds(); seconds > 0 {
				moved := (float64(at)/x.to*x.hi - a.at.Sub(c.from).Seconds()) / seconds
				net = a.net + (b.net-a.net)*min(1, max(0, moved))
			}
			canvas[row(net)][at] = '.'
		}
	}
	for _, p := range c.points {
		for r := row(p.net + 2*p.u); r <= row(p.net-2*p.u); r++ {
			canvas[r][column(p.at.Std())] = '|'
		}
	}
	for _, p := range c.points {
		canvas[row(p.net)][column(p.at.Std())] = 'o'
	}

	lines := []string{"net g (o a weigh-in, with | where its 2u is more than a line; . the book between)"}
	if len(lines[0]) > width {
		lines = []string{"net g (o weigh-in, | its 2u, . the book)"}
	}
	labels := map[int]string{}
	for _, g := range grams {
		labels[row(g)] = tickLabel(g)
	}
	for r, cells := range canvas {
		edge := " |"
		if labels[r] != "" {
			edge = " +"
		}
		lines = append(lines, strings.Repeat(" ", margin-len(labels[r]))+labels[r]+edge+string(cells))
	}
	rule, days := slices.Repeat([]byte{'-'}, columns), slices.Repeat([]byte{' '}, columns+9)
	free := 0
	for _, t := range calendarTicks(c.from, c.to, max(2, columns/12)) {
		at := column(t.at)
		rule[at] = '+'
		if begin := max(0, at-len(t.label)/2); begin >= free && begin+len(t.label) <= columns+1 {
			copy(days[begin:], t.label)
			free = begin + len(t.label) + 1
		}
	}
	left := strings.Repeat(" ", margin)
	return append(lines, left+" +"+string(rule), left+"  "+strings.TrimRight(string(days), " "))
}
