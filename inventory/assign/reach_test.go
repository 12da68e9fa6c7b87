package assign

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// reaching is a print of one box for each slot on a machine of one bound for each nozzle, with a feed each.
func reaching(boxes []*Box, bounds ...Bounds) (Print, Machine) {
	p := even(len(boxes), turns(len(boxes), 2*len(boxes)))
	m := machine(150, 20, 5, 40)
	for s, b := range boxes {
		p.Slots[s].Box = b
	}
	for range bounds {
		m.Feeds = append(m.Feeds, 1)
	}
	m.Bounds = bounds
	return p, m
}

func inX(min, max float64) Bounds { return Bounds{XMin: &min, XMax: &max} }

func boxX(min, max float64) *Box { return &Box{min, max, 0, 0, 0} }

// The edges of reach, worked by hand.
func TestReach(t *testing.T) {
	t.Parallel()
	plate := Bounds{new(0.0), new(200.0), new(0.0), new(180.0), new(150.0)}
	for _, c := range []struct {
		name     string
		boxes    []*Box
		bounds   []Bounds
		asItLies bool
		pins     map[int]int
		want     string // nozzles and shift, or why not
	}{
		{"touching all bounds", []*Box{{0, 200, 0, 180, 150}}, []Bounds{plate}, false, nil, "[0] {0 0}"},
		{"0.001 mm outside everywhere", []*Box{{-0.001, 200.001, -0.001, 180.001, 150.001}}, []Bounds{plate}, false, nil, "[0] {0 0}"},
		{"0.001 mm outside as it lies", []*Box{{-0.001, 200.001, -0.001, 180.001, 150.001}}, []Bounds{plate}, true, nil, "[0] {0 0}"},
		// 200.011 - 200.01 in floats is more than 0.001.
		{"0.001 mm outside a bound in hundredths", []*Box{boxX(100, 200.011)}, []Bounds{inX(0, 200.01)}, true, nil, "[0] {0 0}"},
		{"0.0011 mm outside goes to the bound", []*Box{boxX(-0.0011, 100)}, []Bounds{plate}, false, nil, "[0] {0.0011 0}"},
		{"0.002 mm outside goes to the bound", []*Box{boxX(100, 200.002)}, []Bounds{plate}, false, nil, "[0] {-0.002 0}"},
		{"as it lies", []*Box{boxX(100, 200.002)}, []Bounds{plate}, true, nil, "slot 0 reaches x from 100 to 200.002 mm, nozzle 1 from 0 to 200 mm"},
		{"both axes", []*Box{{-12.5, 20, 170, 190.25, 10}}, []Bounds{plate}, false, nil, "[0] {12.5 -10.25}"},
		{"a negative plate", []*Box{{-10, 10, -5, 5, 10}}, []Bounds{{new(-100.0), new(-20.0), new(-50.0), new(-1.0), nil}}, false, nil, "[0] {-30 -6}"},
		{"its mirror", []*Box{{-10, 10, -5, 5, 10}}, []Bounds{{new(20.0), new(100.0), new(1.0), new(50.0), nil}}, false, nil, "[0] {30 6}"},
		{"wider than reach by 0.001", []*Box{boxX(50, 250.001)}, []Bounds{plate}, false, nil, "[0] {-50.001 0}"},
		{"wider than reach", []*Box{boxX(0, 200.003)}, []Bounds{plate}, false, nil, "slot 0 reaches x from 0 to 200.003 mm, nozzle 1 from 0 to 200 mm"},
		{"too high", []*Box{{0, 10, 0, 10, 150.002}}, []Bounds{plate}, false, nil, "slot 0 reaches z to 150.002 mm, nozzle 1 to 150 mm"},
		{"no bounds", []*Box{{-1e9, 1e9, -1e9, 1e9, 1e9}}, []Bounds{{}}, false, nil, "[0] {0 0}"},
		{"one bound", []*Box{{-1e9, 1e9, -1e9, 1e9, 1e9}}, []Bounds{{XMin: new(0.0)}}, false, nil, "[0] {1e+09 0}"},
		{"one bound is not enough", []*Box{boxX(-5, 5)}, []Bounds{{XMin: new(0.0)}}, true, nil, "slot 0 reaches x from -5 to 5 mm, nozzle 1 from 0 mm"},
		{"no box", []*Box{nil}, []Bounds{plate}, true, nil, "[0] {0 0}"},

		// Nozzle 1 reaches from 0 to 100, nozzle 2 from 50 to 150. Slot 0 comes first to nozzle 1 where all is equal.
		{"two nozzles", []*Box{boxX(0, 40), boxX(100, 140)}, []Bounds{inX(0, 100), inX(50, 150)}, false, nil, "[0 1] {0 0}"},
		{"exchanged", []*Box{boxX(100, 140), boxX(0, 40)}, []Bounds{inX(0, 100), inX(50, 150)}, false, nil, "[1 0] {0 0}"},
		{"the lesser shift", []*Box{boxX(30, 60), boxX(40, 90)}, []Bounds{inX(0, 100), inX(50, 150)}, false, nil, "[0 1] {10 0}"},
		{"a shift for two", []*Box{boxX(-20, 60), boxX(60, 130)}, []Bounds{inX(0, 100), inX(50, 150)}, false, nil, "[0 1] {20 0}"},
		{"no shift for two", []*Box{boxX(-20, 60), boxX(60, 131.002)}, []Bounds{inX(0, 100), inX(50, 150)}, false, map[int]int{0: 0, 1: 1},
			"no one shift of the print suits all: slot 0 reaches x from -20 to 60 mm, nozzle 1 from 0 to 100 mm; slot 1 reaches x from 60 to 131.002 mm, nozzle 2 from 50 to 150 mm"},
	} {
		p, m := reaching(c.boxes, c.bounds...)
		p.AsItLies = c.asItLies
		plan, err := Best(p, m, c.pins)
		got := fmt.Sprint(err)
		if err == nil {
			got = fmt.Sprint(plan.Nozzle, plan.Shift)
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// Common practice, no source: soft filament buckles in a long feeder, and materials that don't bond spoil each other in one nozzle.
func TestLimits(t *testing.T) {
	t.Parallel()
	const soft, bond = "soft filament buckles in the feeder", "what is left of one clogs the other"
	apart := func(nozzle int, some, others []int) (limits []Limit) {
		for _, a := range some {
			for _, b := range others {
				limits = append(limits, Limit{nozzle, []int{a, b}, bond})
			}
		}
		return limits
	}
	alone := func(nozzle int, slots ...int) (limits []Limit) {
		for _, s := range slots {
			limits = append(limits, Limit{nozzle, []int{s}, soft})
		}
		return limits
	}
	for _, c := range []struct {
		name   string
		slots  int
		feeds  []int
		limits []Limit
		pins   map[int]int
		want   string // nozzles, or why not
	}{
		{"the direct nozzle takes the soft one", 3, []int{1, 4}, alone(1, 2), nil, "[1 1 0]"},
		{"beside holds both ways", 3, []int{1, 4}, apart(Every, []int{2}, []int{1, 0}), nil, "[1 1 0]"},
		{"of one nozzle alone", 3, []int{4, 4}, apart(0, []int{0, 1}, []int{2}), nil, "[0 1 1]"},
		{"no nozzle takes it", 3, []int{1, 4}, alone(Every, 1), nil, "slot 1 can't be printed by any nozzle: " + soft},
		{"neither nozzle takes it", 2, []int{1, 4}, append(alone(0, 1), Limit{1, []int{1}, "it is too abrasive"}), nil,
			"slot 1 can't be printed by nozzle 1: " + soft + "; slot 1 can't be printed by nozzle 2: it is too abrasive"},
		{"pinned to what can't take it", 2, []int{1, 4}, alone(1, 0, 1), map[int]int{1: 1}, "slot 1 can't be printed by nozzle 2: " + soft},
		{"two soft ones", 4, []int{1, 4}, alone(1, 1, 3), nil, "slots 1, 3 can't be printed by nozzle 2: " + soft + "; feeds: 1+4"},
		{"one nozzle", 2, []int{4}, apart(Every, []int{0}, []int{1}), nil, "slots 0 and 1 can't share a nozzle: " + bond},
		{"seven slots of two materials", 7, []int{3, 4}, apart(Every, []int{1, 3, 6}, []int{0, 2, 4, 5}), nil, "[1 0 1 0 1 1 0]"},
		{"seven slots, a material of two", 7, []int{1, 6}, apart(Every, []int{1, 3}, []int{0, 2, 4, 5, 6}), nil,
			"slots 1 and 6, 3 and 5 can't share a nozzle: " + bond + "; feeds: 1+6"},
		{"seven slots on five feeds", 7, []int{1, 4}, apart(Every, []int{1, 3}, []int{0}), nil, "7 slots, 5 feeds in all"},
		{"twenty slots", 20, []int{1, 19}, alone(1, 7), nil, "[1 1 1 1 1 1 1 0 1 1 1 1 1 1 1 1 1 1 1 1]"},
		{"twenty slots, no nozzle takes one", 20, []int{1, 19}, alone(Every, 7), nil, "slot 7 can't be printed by any nozzle: " + soft},
		{"twenty slots, two soft ones", 20, []int{1, 19}, alone(1, 7, 8), nil, "slots 7, 8 can't be printed by nozzle 2: " + soft + "; feeds: 1+19"},
	} {
		m := machine(150, 20, 5, 40, c.feeds...)
		m.Limits = c.limits
		plan, err := Best(even(c.slots, turns(c.slots, 3*c.slots)), m, c.pins)
		got := fmt.Sprint(err)
		if err == nil {
			got = fmt.Sprint(plan.Nozzle)
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func TestIllFormed(t *testing.T) {
	t.Parallel()
	good := func() (Print, Machine) { return reaching([]*Box{boxX(0, 1), nil}, Bounds{}, Bounds{}) }
	for name, spoil := range map[string]func(p *Print, m *Machine){
		"a limit of no slot":        func(p *Print, m *Machine) { m.Limits = []Limit{{Nozzle: Every}} },
		"a limit of three":          func(p *Print, m *Machine) { m.Limits = []Limit{{Slots: []int{0, 1, 0}}} },
		"a slot beside itself":      func(p *Print, m *Machine) { m.Limits = []Limit{{Slots: []int{1, 1}}} },
		"a limit of another slot":   func(p *Print, m *Machine) { m.Limits = []Limit{{Slots: []int{2}}} },
		"a limit of another nozzle": func(p *Print, m *Machine) { m.Limits = []Limit{{Nozzle: 2, Slots: []int{0}}} },
		"bounds of one nozzle":      func(p *Print, m *Machine) { m.Bounds = m.Bounds[:1] },
		"a box without end":         func(p *Print, m *Machine) { p.Slots[0].Box.XMax = math.Inf(1) },
		"65 nozzles":                func(p *Print, m *Machine) { m.Feeds, m.Bounds = slices.Repeat(m.Feeds, 33), nil },
	} {
		p, m := good()
		if _, err := Best(p, m, nil); err != nil {
			t.Fatal(err)
		}
		spoil(&p, &m)
		var why *Infeasible
		if _, err := Best(p, m, nil); err == nil || errors.As(err, &why) {
			t.Errorf("%s: %v, want an error that isn't about what is possible", name, err)
		}
	}
}

// Adding a limit or a bound never improves the best, and makes nothing possible.
func neverBetter(t interface{ Fatalf(string, ...any) }, intn func(n int) int) {
	c := drawSmall(intn)
	p, m := c.print()
	plan, err := Best(p, m, c.pins)
	worse := *c
	if slot, nozzle := intn(len(c.boxes)), intn(len(c.feeds)); intn(2) == 0 {
		worse.limits = append(slices.Clone(c.limits), drawLimit(intn, len(c.boxes), len(c.feeds)))
	} else {
		// A bound that isn't known becomes known, and a known one comes nearer.
		worse.bounds = slices.Clone(c.bounds)
		end := intn(5)
		at := int64(intn(60_001) - 30_000)
		if old := c.bounds[nozzle][end]; old != nil {
			at = *old + int64(intn(5_001))*[]int64{1, -1, 1, -1, -1}[end]
		}
		worse.bounds[nozzle][end] = &at
		if intn(2) == 0 && c.boxes[slot] == nil {
			worse.boxes = slices.Clone(c.boxes)
			worse.boxes[slot] = &[5]int64{0, 10_000, 0, 10_000, 10_000}
		}
	}
	p, m = worse.print()
	after, still := Best(p, m, c.pins)
	switch {
	case err != nil && still == nil:
		t.Fatalf("%+v: %v\n%+v: possible", c, err, worse)
	case err == nil && still == nil:
		if order, level := Compare(after, plan); order < 0 {
			t.Fatalf("%+v: %+v\n%+v: %+v, better by %s", c, plan, worse, after, level)
		}
	}
}

func TestNeverBetter(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(18, 1))
	for range 3000 {
		neverBetter(t, r.IntN)
	}
}

// drawn draws from a rapid test as from a source of chance.
func drawn(check func(t *rapid.T, intn func(n int) int)) func(f *testing.T, data []byte) {
	return rapid.MakeFuzz(func(t *rapid.T) {
		check(t, func(n int) int { return rapid.IntRange(0, n-1).Draw(t, "n") })
	})
}

func FuzzNeverBetter(f *testing.F) {
	f.Fuzz(drawn(func(t *rapid.T, intn func(n int) int) { neverBetter(t, intn) }))
}

func FuzzBruteForce(f *testing.F) {
	f.Fuzz(drawn(func(t *rapid.T, intn func(n int) int) { drawSmall(intn).agrees(t) }))
}

// Beyond Exact: a plan that keeps the rules, the same each time.
func TestManySlotsWithRules(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(24, 1))
	p, m := even(24, turns(24, 200)), machine(170, 20, 8, 46, 8, 8, 8, 4)
	p, m = bounded(p, m, r)
	for i := range m.Bounds { // so wide that there is a way
		*m.Bounds[i].XMax, *m.Bounds[i].YMax = 260, 250
	}
	*m.Bounds[2].XMin = 60
	plan := best(t, p, m, nil)
	if again := best(t, p, m, nil); plan.Proven || !slices.Equal(plan.Nozzle, again.Nozzle) || plan.Shift != again.Shift {
		t.Errorf("%v %v, proven %t, then %v %v", plan.Nozzle, plan.Shift, plan.Proven, again.Nozzle, again.Shift)
	}
	for _, l := range m.Limits {
		on := plan.Nozzle[l.Slots[0]]
		if (l.Nozzle == Every || l.Nozzle == on) && plan.Nozzle[l.Slots[len(l.Slots)-1]] == on {
			t.Errorf("%v stands against %v", plan.Nozzle, l)
		}
	}
	const slack = 0.001_001
	for s, i := range plan.Nozzle {
		box, bounds := p.Slots[s].Box, m.Bounds[i]
		if box.XMin+plan.Shift.X < *bounds.XMin-slack || box.XMax+plan.Shift.X > *bounds.XMax+slack ||
			box.YMin+plan.Shift.Y < *bounds.YMin-slack || box.YMax+plan.Shift.Y > *bounds.YMax+slack {
			t.Errorf("slot %d at %+v, shifted by %v, isn't within nozzle %d", s, *box, plan.Shift, i+1)
		}
	}
	if plan.Shift == (Shift{}) {
		t.Error("no shift was needed, so none is tried")
	}
}

func TestNoSlots(t *testing.T) {
	t.Parallel()
	if plan := best(t, Print{}, machine(1, 1, 1, 1, 1, 4), nil); len(plan.Nozzle) != 0 || !plan.Proven {
		t.Errorf("a print without slots: %+v", plan)
	}
}
