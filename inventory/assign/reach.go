package assign

import "math"

// A Box is where a slot's part and support lie, in mm in the machine's own coordinates.
type Box struct{ XMin, XMax, YMin, YMax, ZMax float64 }

// Bounds are where a nozzle can lay material, in mm in the machine's own coordinates; nil for a bound that is not known.
type Bounds struct{ XMin, XMax, YMin, YMax, ZMax *float64 }

// A Shift moves the whole print on the plate, in mm. A box at most 0.001 mm outside its bounds counts as within and asks for no shift.
// Else the shift goes to the bound, by the least way on each axis.
type Shift struct{ X, Y float64 }

func (s Shift) length() int64 { return abs(nanometres(s.X)) + abs(nanometres(s.Y)) }

// slack is how far outside its bounds a box still counts as within, in nanometres. It is 0.001 mm, the step in which files and
// tables give lengths.
const slack = 1000

// far is beyond all lengths.
const far = int64(1) << 61

// nanometres makes lengths whole numbers, so that equal shifts compare as equal and 0.001 mm is the same everywhere on the plate.
// Lengths beyond 10^12 mm are cut to that.
func nanometres(mm float64) int64 {
	const most = 1e12
	return int64(math.Round(max(-most, min(most, mm)) * 1e6))
}

func millimetres(nm int64) float64 { return float64(nm) / 1e6 }

func abs(n int64) int64 {
	if n < 0 {
		return -n
	}
	return n
}

// A window is the shifts along one axis that bring a box between two bounds, both in nanometres.
type window struct{ lo, hi int64 }

func (w window) and(other window) window { return window{max(w.lo, other.lo), min(w.hi, other.hi)} }

// shift returns the least shift in the window, and false if there is none. A box at most slack outside isn't shifted.
// One that is shifted goes to its bound, and may then be slack outside at the other end.
func (w window) shift() (int64, bool) {
	switch {
	case w.allows(0):
		return 0, true
	case w.lo > slack:
		return w.lo, w.allows(w.lo)
	}
	return w.hi, w.allows(w.hi)
}

// allows reports whether a shift is in the window. A shift other than 0 must be greater than slack.
func (w window) allows(shift int64) bool {
	lo, hi := w.lo, w.hi
	if shift <= 0 {
		lo -= slack
	}
	if shift >= 0 {
		hi += slack
	}
	return lo <= shift && shift <= hi
}

// windows are the shifts along both axes.
type windows struct{ x, y window }

var (
	everywhere = window{-far, far}
	nowhere    = window{far, -far}
	anywhere   = windows{everywhere, everywhere}
)

func (w windows) and(other windows) windows { return windows{w.x.and(other.x), w.y.and(other.y)} }

func (w windows) shift() (dx, dy int64, ok bool) {
	dx, okX := w.x.shift()
	dy, okY := w.y.shift()
	return dx, dy, okX && okY
}

// windows returns the shifts that bring a box within bounds along one axis. No shift changes Z.
func (b *Box) windows(bounds Bounds, axis Axis) windows {
	w := anywhere
	switch axis {
	case X:
		w.x = between(b.XMin, b.XMax, bounds.XMin, bounds.XMax)
	case Y:
		w.y = between(b.YMin, b.YMax, bounds.YMin, bounds.YMax)
	case Z:
		if bounds.ZMax != nil && nanometres(b.ZMax) > nanometres(*bounds.ZMax)+slack {
			w.x = nowhere
		}
	}
	return w
}

func between(lo, hi float64, least, most *float64) window {
	w := everywhere
	if least != nil {
		w.lo = nanometres(*least) - nanometres(lo)
	}
	if most != nil {
		w.hi = nanometres(*most) - nanometres(hi)
	}
	return w
}
