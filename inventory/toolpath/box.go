package toolpath

import "math"

var noBox = Box{math.MaxInt64, math.MinInt64, math.MaxInt64, math.MinInt64, math.MinInt64}

// enclose widens a box by the move at hand, from where it begins to the registers.
func (m *machine) enclose(b *Box, from *[axisE]Length) {
	x, y := m.offset[axisX], m.offset[axisY]
	x0, x1, y0, y1 := from[axisX]+x, m.register[axisX]+x, from[axisY]+y, m.register[axisY]+y
	b.XMin, b.XMax = min(b.XMin, x0, x1), max(b.XMax, x0, x1)
	b.YMin, b.YMax = min(b.YMin, y0, y1), max(b.YMax, y0, y1)
	b.ZMax = max(b.ZMax, from[axisZ]+m.offset[axisZ], m.register[axisZ]+m.offset[axisZ])
	if m.arc != 0 && !m.sidePlane {
		m.encloseArc(b, x0, y0, x1, y1)
	}
}

// encloseArc widens a box by the points of an arc that lie farthest out on each side. Its centre and radius are those of its
// start; the end may lie beside that circle a little, as rounding leaves it.
func (m *machine) encloseArc(b *Box, x0, y0, x1, y1 Length) {
	i, j, ok := m.centre(float64(x1-x0), float64(y1-y0))
	if !ok {
		return
	}
	cx, cy, r := float64(x0)+i, float64(y0)+j, math.Hypot(i, j)
	if cx-r >= float64(b.XMin) && cx+r <= float64(b.XMax) && cy-r >= float64(b.YMin) && cy+r <= float64(b.YMax) {
		return // most arcs of a print lie inside
	}
	start, end := math.Atan2(-j, -i), math.Atan2(float64(y1)-cy, float64(x1)-cx)
	if m.arc == 2 { // clockwise: the same points the other way round
		start, end = end, start
	}
	whole := x0 == x1 && y0 == y1
	const rounding = 1e-9 // of angles
	passes := func(quarter int) bool {
		return whole || turned(start, float64(quarter)*math.Pi/2) <= turned(start, end)+rounding
	}
	if passes(0) {
		b.XMax = max(b.XMax, rounded(cx+r))
	}
	if passes(1) {
		b.YMax = max(b.YMax, rounded(cy+r))
	}
	if passes(2) {
		b.XMin = min(b.XMin, rounded(cx-r))
	}
	if passes(3) {
		b.YMin = min(b.YMin, rounded(cy-r))
	}
}

// turned returns the angle from one direction to another, counterclockwise, 0 or more and below a full turn.
func turned(from, to float64) float64 {
	a := math.Mod(to-from, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	return a
}

// rounded returns the nearest Length, within what a Length may hold.
func rounded(v float64) Length { return Length(math.Round(max(min(v, 4*largest), -4*largest))) }

// centre returns where an arc's centre lies from its start; dx and dy lead to its end. There is none when nothing says where
// it is.
func (m *machine) centre(dx, dy float64) (i, j float64, ok bool) {
	if m.have&(hasI|hasJ) != 0 {
		if m.have&hasI != 0 {
			i = float64(m.word[axisI])
		}
		if m.have&hasJ != 0 {
			j = float64(m.word[axisJ])
		}
		return i, j, i != 0 || j != 0
	}
	chord := math.Hypot(dx, dy)
	if m.have&hasR == 0 || chord == 0 {
		return 0, 0, false
	}
	r := float64(m.word[axisR])
	half := chord / 2
	h := 0.0 // from the chord to the centre; a radius too short counts as half the chord
	if math.Abs(r) > half {
		h = math.Sqrt(r*r - half*half)
	}
	// The smaller arc, clockwise, has its centre to the right of the chord; each of the two turns that round.
	if (m.arc == 2) == (r > 0) {
		h = -h
	}
	return dx/2 - dy/chord*h, dy/2 + dx/chord*h, true
}
