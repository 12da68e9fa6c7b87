// Package assign chooses which nozzle serves which slot of a print, so that least is wasted.
//
// A print is a sequence of slots, each printed from a spool of its own; a machine has nozzles, each with so many feeds, and a
// nozzle serves at most as many slots as it has feeds. The sequence is played as it stands: [Play] says how, and what it
// assumes. [Best] finds the assignment that is least by, in this order: slots that run short; waste, which is cost or grams as
// the caller prices it; time. What a nozzle wastes depends only on the set of slots it serves, so each set is evaluated once
// and the slots are then divided among the nozzles by dynamic programming over sets: up to [Exact] slots the choice is proven,
// whatever the layout. Beyond, it is the end of a search from fixed beginnings, the same each time, and not proven.
//
// Assumed: the order of the slots is kept, whichever machine prints it; the first load of each nozzle is free, as it is done
// before the print; a purge depends on nothing but the two slots that follow each other in a nozzle.
//
// Volumes are in mm3, masses in grams, times in seconds. The package knows no book.
package assign

import (
	"errors"
	"fmt"
	"math/big"
)

// Exact is the number of slots up to which the choice is proven.
const Exact = 16

// A Slot is one filament of a print, and the spool it comes from.
type Slot struct {
	// The spool holds Likely grams; Tail of them never reach the nozzle; Booked grams take K times themselves off it. It runs
	// short when Likely - Tail - K x (Need + what it primes and purges) is below 0. Need is in booked grams.
	Likely, Tail, K, Need float64

	PerMM3  *big.Rat // grams of a mm3
	PerGram *big.Rat // what a gram wasted counts: its cost, or 1 where grams are counted
}

// A Print is the slots and the order in which they are used, by index.
type Print struct {
	Slots    []Slot
	Sequence []uint8
}

// A Machine has nozzles.
type Machine struct {
	Feeds       []int                       // slots that each nozzle can serve
	Purge       func(from, to int) *big.Rat // mm3 flushed when a nozzle that holds slot from is loaded with slot to
	Prime       *big.Rat                    // mm3 laid on the tower at each change
	Swap, Load  *big.Rat                    // seconds to go to another nozzle, and to load one
	SecondCosts *big.Rat                    // what a second counts as waste; nil for nothing
}

// A Step is one part of the sequence: a slot on its nozzle, and what brought it there.
type Step struct {
	Slot, Nozzle int
	Swap, Load   bool
}

// A Plan is an assignment, and what playing the print with it takes.
type Plan struct {
	Nozzle []int // of each slot, from 0
	Steps  []Step
	Swaps  int
	Loads  int

	LoadsOf, ChangesOf []int      // by slot: the changes to it, and those of them that loaded it
	Purge, Prime       []*big.Rat // by slot, grams

	Short   []int    // slots that run short
	Waste   *big.Rat // purge and prime as they count, and time if it does
	Seconds *big.Rat // of changes
	Proven  bool     // that no assignment is better
}

// Infeasible says why no assignment is possible.
type Infeasible struct{ What string }

func (e *Infeasible) Error() string { return e.What }

// Play plays the sequence with slots on nozzles. Each nozzle holds the slot that it served last, and begins with the first that
// it will serve. At each change to a slot: a swap, if its nozzle is not the one in use; a load and a purge, if its nozzle does
// not hold it; a prime, always.
func Play(p Print, m Machine, nozzle []int) *Plan {
	n := len(p.Slots)
	plan := &Plan{Nozzle: nozzle, LoadsOf: make([]int, n), ChangesOf: make([]int, n), Waste: new(big.Rat), Seconds: new(big.Rat)}
	volume := make([]*big.Rat, n)
	for s := range volume {
		volume[s] = new(big.Rat)
	}
	holds := map[int]int{} // by nozzle
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
				volume[s].Add(volume[s], m.Purge(held, s))
			}
		}
		active, holds[nozzle[s]] = nozzle[s], s
		plan.Steps = append(plan.Steps, step)
	}
	for s, slot := range p.Slots {
		purge := volume[s].Mul(volume[s], slot.PerMM3)
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

// Margin returns the grams that are likely left of a slot's spool, but for the tail, when it also wastes so many.
func (s Slot) Margin(wasted float64) float64 { return s.Likely - s.Tail - s.K*(s.Need+wasted) }

// Short tells whether it runs short then: by more than the last bits of a float.
func (s Slot) Short(wasted float64) bool { return s.Margin(wasted) < -1e-9 }

// Compare returns -1 when a is better than b, 1 when b is, and what decides it: short, waste or time; 0 and nothing when neither is.
func Compare(a, b *Plan) (int, string) {
	if c := len(a.Short) - len(b.Short); c != 0 {
		return sign(c), "short"
	}
	if c := a.Waste.Cmp(b.Waste); c != 0 {
		return c, "waste"
	}
	if c := a.Seconds.Cmp(b.Seconds); c != 0 {
		return c, "time"
	}
	return 0, ""
}

func sign(c int) int {
	if c < 0 {
		return -1
	}
	return 1
}

// Best returns the best assignment. pins holds slots to nozzles, by index, and may be nil. The error is *Infeasible when there is
// no assignment. Of equally good ones it is always the same.
//
// Waste is compared exactly, unless prices have denominators that together go beyond 62 bits; then to within a part in 10^15.
func Best(p Print, m Machine, pins map[int]int) (*Plan, error) {
	if err := possible(p, m, pins); err != nil {
		return nil, err
	}
	e := newEvaluator(p, m)
	var nozzle []int
	proven := len(p.Slots) <= Exact
	if proven {
		nozzle = exact(e, pins)
	} else {
		nozzle = climb(e, pins)
	}
	plan := Play(p, m, nozzle)
	plan.Proven = proven
	return plan, nil
}

// possible tells why no assignment is.
func possible(p Print, m Machine, pins map[int]int) error {
	if len(p.Slots) > 256 {
		return errors.New("more than 256 slots")
	}
	feeds := 0
	pinned := make([]int, len(m.Feeds))
	for _, n := range m.Feeds {
		feeds += n
	}
	if len(p.Slots) > feeds {
		return &Infeasible{fmt.Sprintf("%s, %s in all", count(len(p.Slots), "slot"), count(feeds, "feed"))}
	}
	for _, nozzle := range pins {
		if nozzle < 0 || nozzle >= len(m.Feeds) {
			return &Infeasible{fmt.Sprintf("it has no nozzle %d", nozzle+1)}
		}
		pinned[nozzle]++
	}
	for nozzle, n := range pinned {
		if n > m.Feeds[nozzle] {
			return &Infeasible{fmt.Sprintf("%s pinned to nozzle %d, which has %s", count(n, "slot"), nozzle+1, count(m.Feeds[nozzle], "feed"))}
		}
	}
	return nil
}

func count(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}
