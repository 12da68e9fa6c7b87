// Package assign chooses the nozzle for each slot of a print so that least is wasted.
//
// A print is a sequence of slots, each printed from spools of its own. A machine has nozzles, each with some feeds; a nozzle serves
// at most as many slots as it has feeds. An assignment is possible when it keeps the pins and the limits and when one shift of the
// whole print brings the box of each slot within the bounds of its nozzle. [Play] says what an assignment costs. [Best] returns the
// possible assignment that is least by, in this order: slots that run short; waste, which is cost or grams as the caller prices
// it; time; the shift, as |X| + |Y|. Up to [Exact] slots the choice is proven, for any machine. Beyond that it is the result of a
// local search without chance: the same each time, but not proven.
//
// Assumed: the order of slots stays the same on any machine; the first load of each nozzle is free, because it is done before the
// print; a purge depends only on the slot that the nozzle held and the slot that it is loaded with; towers and purge lines are
// within reach.
//
// Volumes are in mm3, lengths in mm, masses in grams, times in seconds. The package knows nothing of a book.
package assign

import (
	"cmp"
	"errors"
	"math/big"
)

// Exact is the number of slots up to which the choice is proven.
const Exact = 16

// A Slot is one filament of a print.
type Slot struct {
	Name string // what messages call it; blank for its index

	// The slot has Likely grams, of which Tail never reach the nozzle, on one spool or on several in turn. Booked grams take K
	// times themselves off it. It runs short when Likely - Tail - K x (Need + what it primes and purges) is below 0. Need is in
	// booked grams.
	Likely, Tail, K, Need float64

	PerMM3  *big.Rat // grams of a mm3
	PerGram *big.Rat // what a wasted gram counts: its cost, or 1 where grams are counted

	Box *Box // nil: reach isn't looked at
}

// A Print is the slots and the order in which they are used, by index.
type Print struct {
	Slots    []Slot
	Sequence []uint8
	AsItLies bool // no shift is allowed

	order *order // of the sequence; nil where [Print.Ordered] did not make it
}

// A Machine has nozzles.
type Machine struct {
	Feeds       []int                       // slots that each nozzle can serve
	Purge       func(from, to int) *big.Rat // mm3 flushed when a nozzle that holds slot from is loaded with slot to
	Prime       *big.Rat                    // mm3 laid on the tower at each change
	Swap, Load  *big.Rat                    // seconds to go to another nozzle, and to load one
	SecondCosts *big.Rat                    // what a second counts as waste; nil for nothing
	Limits      []Limit
	Bounds      []Bounds // by nozzle; nil where none are known
}

// A Step is one part of the sequence: a slot on its nozzle, and whether getting there took a swap or a load.
type Step struct {
	Slot, Nozzle int
	Swap, Load   bool
}

// A Plan is an assignment and what printing with it costs.
type Plan struct {
	Nozzle []int // by slot; nozzles count from 0
	Shift  Shift
	Steps  []Step
	Swaps  int
	Loads  int

	LoadsOf, ChangesOf []int      // by slot: changes that loaded it, and all changes to it
	Purge, Prime       []*big.Rat // by slot, grams

	Short   []int    // slots that run short
	Waste   *big.Rat // the cost or grams of purge and prime, and the cost of time with Machine.SecondCosts
	Seconds *big.Rat // of changes
	Proven  bool     // no possible assignment is better
}

// Play plays the sequence with each slot on its nozzle, possible or not. Each nozzle holds the slot that it served last; it begins
// with the first slot that it will serve. A change to a slot takes a swap if the slot's nozzle isn't the one in use, a load and a
// purge if that nozzle doesn't hold the slot, and always a prime.
func Play(p Print, m Machine, nozzle []int) *Plan {
	n := len(p.Slots)
	plan := &Plan{Nozzle: nozzle, LoadsOf: make([]int, n), ChangesOf: make([]int, n), Waste: new(big.Rat), Seconds: new(big.Rat)}
	purges := make([]int64, n*n) // by slot held and slot loaded
	holds := map[int]int{}       // slot, by nozzle
	active := -1
	for i, slot := range p.Sequence {
		s := int(slot)
		step := Step{Slot: s, Nozzle: nozzle[s]}
		if i > 0 && int(p.Sequence[i-1]) == s {
			continue
		}
		if i > 0 {
			plan.ChangesOf[s]++
			if step.Swap = active != nozzle[s]; step.Swap {
				plan.Swaps++
			}
			if held, ok := holds[nozzle[s]]; ok && held != s {
				step.Load = true
				plan.Loads++
				plan.LoadsOf[s]++
				purges[held*n+s]++
			}
		}
		active, holds[nozzle[s]] = nozzle[s], s
		plan.Steps = append(plan.Steps, step)
	}
	for s, slot := range p.Slots {
		purge := new(big.Rat)
		for held := range n {
			if times := purges[held*n+s]; times > 0 {
				purge.Add(purge, new(big.Rat).Mul(m.Purge(held, s), new(big.Rat).SetInt64(times)))
			}
		}
		purge.Mul(purge, slot.PerMM3)
		prime := new(big.Rat).SetInt64(int64(plan.ChangesOf[s]))
		prime.Mul(prime.Mul(prime, m.Prime), slot.PerMM3)
		plan.Purge, plan.Prime = append(plan.Purge, purge), append(plan.Prime, prime)
		lost := new(big.Rat).Add(purge, prime)
		grams, _ := lost.Float64()
		if slot.Short(grams) {
			plan.Short = append(plan.Short, s)
		}
		plan.Waste.Add(plan.Waste, lost.Mul(lost, slot.PerGram))
	}
	times := func(seconds *big.Rat, count int) *big.Rat {
		return new(big.Rat).Mul(seconds, new(big.Rat).SetInt64(int64(count)))
	}
	plan.Seconds.Add(times(m.Swap, plan.Swaps), times(m.Load, plan.Loads))
	if m.SecondCosts != nil {
		plan.Waste.Add(plan.Waste, new(big.Rat).Mul(plan.Seconds, m.SecondCosts))
	}
	return plan
}

// Margin returns the grams that are likely to be left when the slot wastes so many.
func (s Slot) Margin(wasted float64) float64 { return s.Likely - s.Tail - s.K*(s.Need+wasted) }

// Short reports whether the slot runs short then. Errors of rounding don't count.
func (s Slot) Short(wasted float64) bool { return s.Margin(wasted) < -1e-9 }

// Compare returns -1 if a is better than b and 1 if b is better, with the level that decides: short, waste, time or shift. It
// returns 0 and a blank if they are equal on all levels.
func Compare(a, b *Plan) (int, string) {
	if c := cmp.Compare(len(a.Short), len(b.Short)); c != 0 {
		return c, "short"
	}
	if c := a.Waste.Cmp(b.Waste); c != 0 {
		return c, "waste"
	}
	if c := a.Seconds.Cmp(b.Seconds); c != 0 {
		return c, "time"
	}
	if c := cmp.Compare(a.Shift.length(), b.Shift.length()); c != 0 {
		return c, "shift"
	}
	return 0, ""
}

// Best returns the best assignment. pins gives the nozzle for some slots, both by index; it may be nil. The error is *[Infeasible]
// when no assignment is possible. Of equally good assignments the choice is always the same.
//
// Waste is compared exactly if the common denominator of all amounts leaves room for their sum in 62 bits, else to a part in
// 10^15 of it. Lengths are compared in steps of 0.000001 mm.
func Best(p Print, m Machine, pins map[int]int) (*Plan, error) {
	if len(p.Slots) > 256 || len(m.Feeds) > 64 {
		return nil, errors.New("more than 256 slots or 64 nozzles")
	}
	if err := check(p, m); err != nil {
		return nil, err
	}
	if err := crowded(p, m, pins); err != nil {
		return nil, err
	}
	r, e := newRules(p, m, pins, obstacles(p, m)), newEvaluator(p, m)
	proven := len(p.Slots) <= Exact
	var nozzle []int
	switch first, sure := place(r, (*placing).fill, explainEffort); {
	case first == nil && sure:
		return nil, explain(p, m, pins, true)
	case proven:
		nozzle = exact(e, r)
	default:
		nozzle = climb(e, r, begins(p, m, pins, r))
	}
	if nozzle == nil {
		return nil, explain(p, m, pins, proven)
	}
	plan := Play(p, m, nozzle)
	dx, dy, _ := r.window(nozzle).shift()
	plan.Shift, plan.Proven = Shift{millimetres(dx), millimetres(dy)}, proven
	return plan, nil
}
