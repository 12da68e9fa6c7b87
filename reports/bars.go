package reports

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// bars is a bar chart: one bar for each key, stacked from the kinds of waste.
type bars struct {
	what     string // what the bars show, in words
	unit     string
	currency string // of the rows, even if they are in grams
	rows     []bar
	plain    bool // of one kind, which what names
	left     int  // number of rows that are left out, the smallest ones
}

// bar is one row. Its kinds add up to all, except for rounding.
type bar struct {
	key   string
	kinds [len(wasteKinds)]float64
	all   float64
	text  string // all, with its decimals
}

// wasteKinds are the kinds of waste in the order of the stack, with the character that draws each, in ASCII and in braille.
var wasteKinds = [...]struct{ name, plain, braille string }{{"support", "=", "⡪"}, {"prime", ":", "⠒"}, {"purge", "#", "⣿"}, {"scrap", "x", "⢕"}}

// chars are the characters that draw the kinds on a terminal.
func (s Style) chars() (all [len(wasteKinds)]string) {
	for i, k := range wasteKinds {
		if all[i] = k.plain; s.UTF8 {
			all[i] = k.braille
		}
	}
	return all
}

// mostBars is how many bars are drawn; the table beside them has all.
const mostBars = 24

// wasteBars returns the bars of a report, for each currency that has waste: in money if any gram has a price, else in grams.
func wasteBars(w Waste) (all []bars) {
	for _, total := range w.Totals {
		if total.WasteG == 0 {
			continue
		}
		priced := total.UnpricedG < total.PartG+total.WasteG
		b := bars{what: "waste by " + w.By, unit: "g", currency: total.Currency}
		if priced {
			b.unit = total.Currency
		}
		for _, r := range w.Rows {
			if r.Currency == total.Currency {
				b.rows = append(b.rows, wasteBar(r, priced))
			}
		}
		all = append(all, b.greatest(mostBars))
	}
	return all
}

func wasteBar(r WasteRow, priced bool) bar {
	if priced {
		in := func(m Money) float64 { return m.Amount.InexactFloat64() }
		return bar{named(r.Key), [...]float64{in(r.SupportCost), in(r.PrimeCost), in(r.PurgeCost), in(r.ScrapCost)}, in(r.WasteCost), r.WasteCost.String()}
	}
	return bar{named(r.Key), [...]float64{r.SupportG.Float(), r.PrimeG.Float(), r.PurgeG.Float(), r.ScrapG.Float()}, r.WasteG.Float(), gram(r.WasteG)}
}

// purgeBars returns the bars that compare machines by the purge of one change.
func purgeBars(machines []planning.ChangePurge) bars {
	b := bars{what: "purge per change by machine", unit: "g"}
	for _, m := range machines {
		each := m.PerChange()
		b.rows = append(b.rows, bar{named(m.Printer), [...]float64{2: each, 3: 0}, each, fmt.Sprintf("%.3f", each)})
	}
	return b.greatest(mostBars)
}

// greatest returns b with its greatest rows only, at most most of them, in their order.
func (b bars) greatest(most int) bars {
	if len(b.rows) <= most {
		return b
	}
	order := slices.Clone(b.rows)
	slices.SortStableFunc(order, func(p, q bar) int { return cmp.Compare(q.all, p.all) })
	least, same := order[most-1].all, 0
	for _, r := range order[:most] {
		if r.all == least {
			same++
		}
	}
	b.left = len(b.rows) - most
	b.rows = slices.DeleteFunc(slices.Clone(b.rows), func(r bar) bool {
		if r.all == least {
			same--
			return same < 0
		}
		return r.all < least
	})
	return b
}

// top returns the greatest amount.
func (b bars) top() (top float64) {
	for _, r := range b.rows {
		top = max(top, r.all)
	}
	return top
}

// leftOut says that rows are left out; "" if none are.
func (b bars) leftOut() string {
	if b.left == 0 {
		return ""
	}
	return fmt.Sprintf("the %d greatest of %d", len(b.rows), len(b.rows)+b.left)
}

// barsDrawing is the value of the template "bars", which draws bars as SVG. Coordinates are those of its view box, to 0.1.
type barsDrawing struct {
	Words  string
	Height string
	Foot   string // y of the axis labels
	Grid   string // a path
	Ticks  []axisLabel
	Rows   []barDrawing
	Hatch  string // a path over all bars, so that kinds differ without colour; a pattern makes printing slow and large
	Unit   string
	Above  bool // the keys stand above their bars, as one is too long to stand beside its own
}

type barDrawing struct {
	Y, TextY string
	Keys     []keyLine
	Text, At string // At is the x at which Text begins
	Kinds    []kindDrawing
}

// keyLine is one line of a key, and the y of its foot.
type keyLine struct{ Text, Y string }

type kindDrawing struct {
	Kind     string
	X, Width string
}

const (
	barsWidth  = 360.0
	barsLeft   = 96.0  // x of the axis; the keys are left of it, or above the bars
	barsAbove  = 44.0  // x of the axis if they are above; the unit is left of it
	barsKey    = 90.0  // width of a key left of the axis
	barsLine   = 15.0  // height of a line of a key above its bar
	barsRight  = 308.0 // x of the end of the axis; the text of the longest bar is right of it
	barsPitch  = 22.0
	barsThick  = 14.0
	barsMargin = 4.0
)

// draw computes the layout of bars.
func (b bars) draw() barsDrawing {
	ticks := roundTicks(0, b.top(), 4)
	d := barsDrawing{Words: b.words(), Unit: b.unit, Above: b.above()}
	x := scale{0, ticks[len(ticks)-1], barsLeft, barsRight}
	if d.Above {
		x.from = barsAbove
	}
	foot := barsMargin
	tops := make([]float64, len(b.rows))
	for i, r := range b.rows {
		row := barDrawing{}
		if tops[i] = foot; d.Above {
			for _, line := range keyLines(ledger.Clean(r.key), barsWidth-barsMargin) {
				tops[i] += barsLine
				row.Keys = append(row.Keys, keyLine{line, coordinate(tops[i] - 2)})
			}
		}
		foot = tops[i] + barsPitch
		d.Rows = append(d.Rows, row)
	}
	d.Height, d.Foot = coordinate(foot+18), coordinate(foot+13)
	var grid, hatch svgPath
	for _, t := range ticks {
		grid.op('M', x.at(t), barsMargin).op('V', foot)
		d.Ticks = append(d.Ticks, axisLabel{coordinate(x.at(t)), tickLabel(t)})
	}
	d.Grid = string(grid)
	for i, r := range b.rows {
		y := tops[i] + (barsPitch-barsThick)/2
		row := &d.Rows[i]
		row.Y, row.TextY, row.Text, row.At = coordinate(y), coordinate(y+barsThick-3), r.text, coordinate(x.at(r.all)+4)
		if !d.Above {
			row.Keys = []keyLine{{ledger.Clean(r.key), row.TextY}}
		}
		from := 0.0
		for kind, amount := range r.kinds {
			if amount > 0 {
				row.Kinds = append(row.Kinds, kindDrawing{wasteKinds[kind].name, coordinate(x.at(from)), coordinate(x.at(from+amount) - x.at(from))})
				hatch.fill(wasteKinds[kind].name, x.at(from), y, x.at(from+amount)-x.at(from), barsThick)
				from += amount
			}
		}
	}
	d.Hatch = string(hatch)
	return d
}

// hatchPitch is how far the lines of a hatch are apart.
const hatchPitch = 5.0

// fill hatches a box with the lines of a kind: support rising, scrap falling, prime level, purge none.
func (p *svgPath) fill(kind string, x, y, w, h float64) {
	switch kind {
	case "prime":
		p.op('M', x, y+h/3).op('h', w).op('M', x, y+2*h/3).op('h', w)
	case "support", "scrap":
		for c := hatchPitch; c < w+h; c += hatchPitch {
			right, left := min(c, w), max(c-h, 0) // along x + y = c
			top, foot := y+c-right, y+c-left
			if kind == "scrap" {
				top, foot = y+h-(c-right), y+h-(c-left)
			}
			p.op('M', x+right, top).op('L', x+left, foot)
		}
	}
}

// words describes the chart, for people who can't see it.
func (b bars) words() string {
	parts := make([]string, len(b.rows))
	for i, r := range b.rows {
		parts[i] = ledger.Clean(r.key) + " " + r.text
	}
	return strings.Join(slices.DeleteFunc([]string{b.what + " in " + b.unit, b.leftOut(), strings.Join(parts, ", ")}, func(s string) bool { return s == "" }), ": ")
}

// plot draws bars for a terminal, with their axis. The longest bar reaches the end of the line.
func (b bars) plot(s Style) []string {
	width := s.Width
	if width < 40 || b.top() == 0 {
		return nil
	}
	width = min(width, 120)
	keys, numbers := len(b.unit), 0
	for _, r := range b.rows {
		keys, numbers = max(keys, cellWidth(ledger.Clean(r.key))), max(numbers, len(r.text))
	}
	keys = min(keys, width/3)
	room := width - keys - numbers - 3
	chars := s.chars()
	title := b.what + ", " + b.unit
	if more := b.leftOut(); more != "" {
		title += ", " + more
	}
	legend := []string{}
	for i, k := range wasteKinds {
		legend = append(legend, chars[i]+" "+k.name)
	}
	lines := []string{title + " (" + strings.Join(legend, ", ") + ")"}
	if b.plain {
		lines = []string{title}
	} else if cellWidth(lines[0]) > width {
		lines = []string{title, strings.Join(legend, ", ")}
	}
	x := scale{0, b.top(), 0, float64(room)}
	for _, r := range b.rows {
		key := middleCut(ledger.Clean(r.key), keys, s.ellipsis())
		line := key + strings.Repeat(" ", keys-cellWidth(key)) + " |"
		drawn, sum := 0, 0.0
		for kind, amount := range r.kinds { // round ends, not lengths, so that the whole bar has the right length
			sum += amount
			n := int(math.Round(x.at(sum))) - drawn
			line += strings.Repeat(chars[kind], n)
			drawn += n
		}
		lines = append(lines, line+" "+r.text)
	}
	return append(lines, b.axis(x, keys, room)...)
}

// axis returns the axis below the bars, its unit below the keys.
func (b bars) axis(x scale, keys, room int) []string {
	rule, labels := slices.Repeat([]byte{'-'}, room+1), slices.Repeat([]byte{' '}, room+12)
	free := 0
	for _, t := range roundTicks(0, b.top(), max(3, min(6, room/10))) {
		at := int(math.Round(x.at(t)))
		if at > room {
			break
		}
		rule[at] = '+'
		if label := tickLabel(t); at >= free && at+len(label) <= room+1 {
			copy(labels[at:], label)
			free = at + len(label) + 1
		}
	}
	return []string{strings.Repeat(" ", keys) + " " + string(rule), strings.Repeat(" ", keys-len(b.unit)) + b.unit + " " + strings.TrimRight(string(labels), " ")}
}
