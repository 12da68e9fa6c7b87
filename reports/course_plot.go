package reports

import (
	"math"
	"slices"
	"strings"
	"time"
)

// plot draws a course for a terminal: o is a weigh-in, an upright line its 2u, between them the net of the book, and after the last one the
// band within which the book's net is sure (2u).
func (c course) plot(s Style) []string {
	width := s.Width
	if width < 40 || !c.to.After(c.from) {
		return nil
	}
	lo, hi, grams := c.grams(5)
	margin := len("g")
	for _, g := range grams {
		margin = max(margin, len(tickLabel(g)))
	}
	field := newCanvas(min(width, 100)-margin-4, 13, s.UTF8)
	x := scale{0, c.to.Sub(c.from).Seconds(), 0, float64(field.width - 1)}
	y := scale{lo, hi, float64(field.height - 1), 0}
	c.drawOn(field, x, y)

	lines := []string{"net, g (o a weigh-in, with an upright line where its 2u is more; between them the book, within 2u at the end)"}
	if len(lines[0]) > width {
		lines = []string{"net, g (o weigh-in with 2u; the book)"}
	}
	labels := map[int]string{}
	for _, g := range grams {
		labels[int(math.Round(y.at(g)))/field.dy] = tickLabel(g)
	}
	for r, cells := range field.lines() {
		edge := " |"
		if labels[r] != "" {
			edge = " +"
		}
		lines = append(lines, strings.Repeat(" ", margin-len(labels[r]))+labels[r]+edge+cells)
	}
	return append(lines, c.days(x, field, strings.Repeat(" ", margin))...)
}

// drawOn draws band, line, whiskers and points on a field.
func (c course) drawOn(field *canvas, x, y scale) {
	column := func(t time.Time) int { return int(math.Round(x.at(t.Sub(c.from).Seconds()))) }
	row := func(net float64) int { return int(math.Round(y.at(net))) }
	// along calls draw for each column between two moments, with how far it is from the first to the second.
	along := func(a, b moment, draw func(column int, share float64)) {
		for at := column(a.at); at <= column(b.at); at++ {
			share := 1.0
			if seconds := b.at.Sub(a.at).Seconds(); seconds > 0 {
				share = min(1, max(0, (float64(at)/x.to*x.hi-a.at.Sub(c.from).Seconds())/seconds))
			}
			draw(at, share)
		}
	}
	if b := c.doubt(); b != nil {
		from := c.points[len(c.points)-1].u
		along(b[0], b[1], func(at int, share float64) {
			net, u := b[0].net+(b[1].net-b[0].net)*share, from+(c.nowU-from)*share
			field.upright(at, row(net+2*u), row(net-2*u), bandDot)
		})
	}
	for i := 1; i < len(c.line); i++ {
		a, b := c.line[i-1], c.line[i]
		before := -1
		along(a, b, func(at int, share float64) {
			r := row(a.net + (b.net-a.net)*share)
			if before < 0 || before == r {
				before = r
			} else if before < r {
				before++
			} else {
				before--
			}
			field.upright(at, before, r, lineDot)
			before = r
		})
	}
	for _, p := range c.points {
		field.upright(column(p.at.Std()), row(p.net+2*p.u), row(p.net-2*p.u), whiskerDot)
	}
	for _, p := range c.points {
		field.set(column(p.at.Std()), row(p.net), pointDot)
	}
}

// days returns the axis of time and its labels.
func (c course) days(x scale, field *canvas, left string) []string {
	rule, days := slices.Repeat([]byte{'-'}, field.columns), slices.Repeat([]byte{' '}, field.columns+9)
	free := 0
	for _, t := range calendarTicks(c.from, c.to, max(2, field.columns/12)) {
		at := int(math.Round(x.at(t.at.Sub(c.from).Seconds()))) / field.dx
		rule[at] = '+'
		if begin := max(0, at-len(t.label)/2); begin >= free && begin+len(t.label) <= field.columns+1 {
			copy(days[begin:], t.label)
			free = begin + len(t.label) + 1
		}
	}
	return []string{left + " +" + string(rule), left + "  " + strings.TrimRight(string(days), " ")}
}
