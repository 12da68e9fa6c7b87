package oracle

import (
	"math/big"
	"strconv"
)

// box is what a slot's part and support reach, in the machine's millimetres.
type box struct{ xMin, xMax, yMin, yMax, zMax *big.Rat }

// shift is how far the whole print is moved on the plate.
type shift struct{ x, y *big.Rat }

func (s shift) length() *big.Rat {
	return new(big.Rat).Add(new(big.Rat).Abs(s.x), new(big.Rat).Abs(s.y))
}

// nearEnough is outside and counts as within.
var nearEnough = big.NewRat(1, 1000)

// span is what a shift along one axis may be; nil: no bound.
type span struct{ least, greatest *big.Rat }

func (s *span) narrow(bounds *row, low, high string, from, to *big.Rat) {
	if text := bounds.get(low); text != "" {
		if x := new(big.Rat).Sub(rational(text), from); s.least == nil || x.Cmp(s.least) > 0 {
			s.least = x
		}
	}
	if text := bounds.get(high); text != "" {
		if x := new(big.Rat).Sub(rational(text), to); s.greatest == nil || x.Cmp(s.greatest) < 0 {
			s.greatest = x
		}
	}
}

// shortest gives the least shift within; ok is false if there is none, near if
// the thousandth that counts as within is just met.
//
// Reading taken: where two bounds leave less room than is needed, by no more than
// 0.001 mm, the shift goes to the one that asks for it.
func (s span) shortest(asItLies bool) (x *big.Rat, ok, near bool) {
	zero := new(big.Rat)
	beyond := func(a, b *big.Rat) bool { // a is more than a thousandth above b
		d := new(big.Rat).Sub(a, b)
		near = near || new(big.Rat).Abs(d.Sub(d, nearEnough)).Cmp(big.NewRat(1, 1000000)) < 0
		return new(big.Rat).Sub(a, b).Cmp(nearEnough) > 0
	}
	low := s.least != nil && beyond(s.least, zero)
	high := s.greatest != nil && beyond(zero, s.greatest)
	switch {
	case s.least != nil && s.greatest != nil && beyond(s.least, s.greatest), asItLies && (low || high):
		return nil, false, near
	case low:
		return s.least, true, near
	case high:
		return s.greatest, true, near
	}
	return zero, true, near
}

// reaches finds the least shift of an assignment, if the nozzles reach all.
func (p *planner) reaches(printer planPrinter, nozzles []int) (shift, bool) {
	var x, y span
	for i, n := range nozzles {
		b, bounds := p.slots[i].box, p.nozzle(printer, n)
		if b == nil || bounds == nil {
			continue
		}
		x.narrow(bounds, "x_min_mm", "x_max_mm", b.xMin, b.xMax)
		y.narrow(bounds, "y_min_mm", "y_max_mm", b.yMin, b.yMax)
		if text := bounds.get("z_max_mm"); text != "" && new(big.Rat).Sub(b.zMax, rational(text)).Cmp(nearEnough) > 0 {
			return shift{}, false
		}
	}
	dx, okX, nearX := x.shortest(p.asItLies)
	dy, okY, nearY := y.shortest(p.asItLies)
	p.tooNear = p.tooNear || nearX || nearY
	return shift{dx, dy}, okX && okY
}

func (p *planner) nozzle(printer planPrinter, n int) *row {
	for _, r := range p.f["nozzles.csv"] {
		if fold(r.get("printer")) == fold(printer.get("printer")) && int(number(r.get("nozzle"), 0)) == n+1 {
			return r
		}
	}
	return nil
}

// forbidden gives the row of limits.csv that an assignment breaks, nil: none.
func (p *planner) forbidden(printer planPrinter, nozzles []int) *row {
	for _, r := range p.f["limits.csv"] {
		if r.get("printer") != "*" && fold(r.get("printer")) != fold(printer.get("printer")) {
			continue
		}
		for i, n := range nozzles {
			if r.get("nozzle") != "*" && r.get("nozzle") != strconv.Itoa(n+1) || fold(p.slots[i].materialName()) != fold(r.get("material")) {
				continue
			}
			if r.get("beside") == "" {
				return r
			}
			for j, other := range nozzles {
				if j != i && other == n && fold(p.slots[j].materialName()) == fold(r.get("beside")) {
					return r
				}
			}
		}
	}
	return nil
}

// possible is whether the printer can serve an assignment, and how far the print is moved for it.
func (p *planner) possible(printer planPrinter, nozzles []int) (shift, bool) {
	if !p.fitsPrinter(printer, nozzles) || p.forbidden(printer, nozzles) != nil {
		return shift{}, false
	}
	return p.reaches(printer, nozzles)
}
