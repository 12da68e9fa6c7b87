package assign

import (
	"errors"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"
)

// A second calculation, written from the rules alone: every assignment is tried, each is played step by step, and each shift that
// brings a box to a bound is tried. It counts in whole units and shares nothing with the package but the shapes of what goes in.
//
// A small case: volumes in mm3, densities in thousandths of a g/cm3, so grams in millionths; prices in whole units a gram; lengths
// in thousandths of a mm.
type small struct {
	feeds           []int
	sequence        []int
	purge           [][]int64 // by slot held and slot loaded
	prime           int64
	swap, load      int64 // seconds
	density, price  []int64
	likely, need, k []float64
	hour            int64 // price of an hour; 0 for none
	pins            map[int]int
	limits          []Limit
	boxes           []*[5]int64 // by slot: x min, x max, y min, y max, z max
	bounds          [][5]*int64 // by nozzle, likewise
	asItLies        bool
	heeded          map[heed]bool // if not nil, the only bounds that count
}

type heed struct {
	slot, nozzle int
	axis         Axis
}

// worth is what is compared, level by level: waste times 3600 where an hour has a price, so that it stays whole.
type worth struct{ short, waste, time, shift int64 }

func (a worth) better(b worth) bool {
	return slices.Compare([]int64{a.short, a.waste, a.time, a.shift}, []int64{b.short, b.waste, b.time, b.shift}) < 0
}

func (c *small) play(on []int) worth {
	var w worth
	micro := make([]int64, len(c.price)) // grams wasted by slot, in millionths
	loaded := map[int]int{}
	for i, slot := range c.sequence {
		if i > 0 && c.sequence[i-1] != slot {
			last := c.sequence[i-1]
			if on[last] != on[slot] {
				w.time += c.swap
			}
			if held, there := loaded[on[slot]]; there && held != slot {
				w.time += c.load
				micro[slot] += c.purge[held][slot] * c.density[slot]
			}
			micro[slot] += c.prime * c.density[slot]
		}
		loaded[on[slot]] = slot
	}
	for slot := range micro {
		w.waste += 3600 * micro[slot] * c.price[slot]
		if c.likely[slot]-c.k[slot]*(c.need[slot]+float64(micro[slot])/1e6) < -1e-9 {
			w.short++
		}
	}
	w.waste += w.time * c.hour * 1e6
	return w
}

// keeps tells whether an assignment keeps feeds and limits.
func (c *small) keeps(on []int) bool {
	for nozzle, feeds := range c.feeds {
		for _, n := range on {
			if n == nozzle {
				feeds--
			}
		}
		if feeds < 0 {
			return false
		}
	}
	for _, l := range c.limits {
		first, last := on[l.Slots[0]], on[l.Slots[len(l.Slots)-1]]
		if first == last && (l.Nozzle == Every || l.Nozzle == first) {
			return false
		}
	}
	return true
}

// within tells whether all boxes, moved so far along an axis, lie within their nozzles: as they are, to a thousandth; moved, they
// must come to the bound that they were moved for.
func (c *small) within(on []int, axis Axis, moved int64) bool {
	for slot, box := range c.boxes {
		if box == nil || c.heeded != nil && !c.heeded[heed{slot, on[slot], axis}] {
			continue
		}
		bounds := c.bounds[on[slot]]
		if axis == Z {
			if bounds[4] != nil && box[4]-*bounds[4] > 1 {
				return false
			}
			continue
		}
		below, above := int64(0), int64(0)
		if least := bounds[2*axis]; least != nil {
			below = *least - (box[2*axis] + moved)
		}
		if most := bounds[2*axis+1]; most != nil {
			above = box[2*axis+1] + moved - *most
		}
		if below > 1 || above > 1 || moved > 0 && below > 0 || moved < 0 && above > 0 {
			return false
		}
	}
	return true
}

// moves returns the least move along an axis that brings all boxes within their nozzles.
func (c *small) moves(on []int, axis Axis) (least int64, ok bool) {
	candidates := []int64{0}
	for slot, box := range c.boxes {
		for end := 2 * axis; end < 2*axis+2 && axis != Z && box != nil && !c.asItLies; end++ {
			if bound := c.bounds[on[slot]][end]; bound != nil {
				candidates = append(candidates, *bound-box[end])
			}
		}
	}
	for _, moved := range candidates {
		if c.within(on, axis, moved) && (!ok || max(moved, -moved) < least) {
			least, ok = max(moved, -moved), true
		}
	}
	return least, ok
}

// shift returns the least move along all axes, and whether an assignment is possible.
func (c *small) shift(on []int) (sum int64, ok bool) {
	if !c.keeps(on) {
		return 0, false
	}
	for _, axis := range []Axis{X, Y, Z} {
		least, ok := c.moves(on, axis)
		if !ok {
			return 0, false
		}
		sum += least
	}
	return sum, true
}

// weigh returns what an assignment is worth, if it is possible.
func (c *small) weigh(on []int) (w worth, ok bool) {
	shift, ok := c.shift(on)
	if ok {
		w = c.play(on)
		w.shift = shift
	}
	return w, ok
}

// assignments are all that keep the pins.
func (c *small) assignments(yield func(on []int) bool) {
	on := make([]int, len(c.price))
	var try func(slot int) bool
	try = func(slot int) bool {
		if slot == len(on) {
			return yield(on)
		}
		for nozzle := range c.feeds {
			if pin, pinned := c.pins[slot]; pinned && pin != nozzle {
				continue
			}
			if on[slot] = nozzle; !try(slot + 1) {
				return false
			}
		}
		return true
	}
	try(0)
}

// brute returns the best of all possible assignments, and how many there are.
func (c *small) brute() (best worth, ways int) {
	for on := range c.assignments {
		if w, ok := c.weigh(on); ok {
			if ways == 0 || w.better(best) {
				best = w
			}
			ways++
		}
	}
	return best, ways
}

// possible tells whether any assignment is.
func (c *small) possible() bool {
	for on := range c.assignments {
		if _, ok := c.shift(on); ok {
			return true
		}
	}
	return false
}

func mm(thousandths int64) float64 { return float64(thousandths) / 1000 }

func (c *small) print() (Print, Machine) {
	p := Print{AsItLies: c.asItLies}
	for slot := range c.price {
		s := Slot{Likely: c.likely[slot], K: c.k[slot], Need: c.need[slot],
			PerMM3: big.NewRat(c.density[slot], 1e6), PerGram: big.NewRat(c.price[slot], 1)}
		if b := c.boxes[slot]; b != nil {
			s.Box = &Box{mm(b[0]), mm(b[1]), mm(b[2]), mm(b[3]), mm(b[4])}
		}
		p.Slots = append(p.Slots, s)
	}
	for _, slot := range c.sequence {
		p.Sequence = append(p.Sequence, uint8(slot))
	}
	m := Machine{Feeds: c.feeds, Prime: big.NewRat(c.prime, 1), Swap: big.NewRat(c.swap, 1), Load: big.NewRat(c.load, 1),
		Purge: func(from, to int) *big.Rat { return big.NewRat(c.purge[from][to], 1) }, Limits: c.limits}
	if c.hour > 0 {
		m.SecondCosts = big.NewRat(c.hour, 3600)
	}
	for _, ends := range c.bounds {
		var b Bounds
		for i, end := range []**float64{&b.XMin, &b.XMax, &b.YMin, &b.YMax, &b.ZMax} {
			if ends[i] != nil {
				*end = new(mm(*ends[i]))
			}
		}
		m.Bounds = append(m.Bounds, b)
	}
	return p, m
}

func worthOf(p *Plan) worth {
	whole := func(x *big.Rat, times int64) int64 {
		x = new(big.Rat).Mul(x, new(big.Rat).SetInt64(times))
		if !x.IsInt() {
			panic("a value that should be whole: " + x.String())
		}
		return x.Num().Int64()
	}
	return worth{int64(len(p.Short)), whole(p.Waste, 3600*1e6), whole(p.Seconds, 1),
		int64(math.Round(math.Abs(p.Shift.X)*1000) + math.Round(math.Abs(p.Shift.Y)*1000))}
}

// agrees compares Best with the second calculation, and returns what the best is worth and whether there is one.
func (c *small) agrees(t interface{ Fatalf(string, ...any) }) (want worth, ok bool) {
	want, ways := c.brute()
	p, m := c.print()
	plan, err := Best(p, m, c.pins)
	var why *Infeasible
	switch {
	case ways == 0 && !errors.As(err, &why):
		t.Fatalf("%+v: %v, want none possible", c, err)
	case ways > 0 && err != nil:
		t.Fatalf("%+v: %v, want %+v", c, err, want)
	case ways == 0:
		c.explained(t, why)
		return want, false
	}
	if got := worthOf(plan); got != want || !plan.Proven {
		t.Fatalf("%+v\non %v: %+v, want %+v of %d ways", c, plan.Nozzle, got, want, ways)
	}
	if got, possible := c.weigh(plan.Nozzle); got != want || !possible {
		t.Fatalf("%+v\non %v: said to come to %+v, comes to %+v, possible %t", c, plan.Nozzle, want, got, possible)
	}
	dx, dy := int64(math.Round(plan.Shift.X*1000)), int64(math.Round(plan.Shift.Y*1000))
	if !c.within(plan.Nozzle, X, dx) || !c.within(plan.Nozzle, Y, dy) {
		t.Fatalf("%+v\non %v: shifted by %v it isn't within reach", c, plan.Nozzle, plan.Shift)
	}
	// The search beyond what can be proven obeys the same rules, and can't be better.
	e, rules := newEvaluator(p, m), newRules(p, m, c.pins, obstacles(p, m))
	climbed := climb(e, rules, begins(p, m, c.pins, rules))
	if got, possible := c.weigh(climbed); got.better(want) || !possible {
		t.Fatalf("%+v\nclimbing comes to %+v, possible %t; the best is %+v", c, got, possible, want)
	}
	return want, true
}

// explained checks that the rules which are said to be in the way are, and that none of them can be left out.
func (c *small) explained(t interface{ Fatalf(string, ...any) }, why *Infeasible) {
	few := *c
	few.limits, few.heeded = nil, map[heed]bool{}
	for left := -1; left == -1 || left < len(why.Limits)+len(why.Reach); left++ {
		few.limits = nil
		clear(few.heeded)
		for i, l := range why.Limits {
			if i != left {
				few.limits = append(few.limits, *l)
			}
		}
		for i, r := range why.Reach {
			if i+len(why.Limits) != left {
				few.heeded[heed{r.Slot, r.Nozzle, r.Axis}] = true
			}
		}
		if few.possible() != (left >= 0) {
			t.Fatalf("%+v: %s\nwithout rule %d of these (-1: with all) possible is %t", c, why, left, left < 0)
		}
	}
}

func TestBruteForce(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(8, 1))
	met := map[string]int{}
	for met["possible"] < 10_000 {
		c := drawSmall(r.IntN)
		want, ok := c.agrees(t)
		free := *c
		free.limits, free.heeded = nil, map[heed]bool{}
		for what, is := range map[string]bool{"possible": ok, "short": ok && want.short > 0, "pinned": ok && len(c.pins) > 0,
			"shifted": ok && want.shift > 0, "made impossible by a rule": !ok && free.possible()} {
			if is {
				met[what]++
			}
		}
	}
	for what, n := range met {
		if n < 500 {
			t.Errorf("only %d of the cases are %s: they try too little", n, what)
		}
	}
	if len(met) != 5 {
		t.Errorf("the cases are of these kinds alone: %v", met)
	}
}
