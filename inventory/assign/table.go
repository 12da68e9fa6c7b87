package assign

import (
	"math/bits"
	"slices"
)

// table scores every set of at most Exact slots.
//
// Whether a return loads its slot from held depends on the set S of the nozzle: held must be in S, and none of the slots B used
// later may be. With counts of +1 for B and -1 for B and held together, that is the sum of the counts of all sets outside S. So
// the counts of all returns to a slot are added up by set, and one pass for each other slot sums them over all subsets.
func (e *evaluator) table() []score {
	n := len(e.print.Slots)
	scores := make([]score, 1<<n)
	units, perGram := e.purgeUnits()
	counts := make([]purgeCount, 1<<max(0, n-1))
	for to := range n {
		clear(counts)
		for _, r := range e.returns {
			if int(r.slot) != to {
				continue
			}
			var since uint32
			for _, held := range r.since {
				c := purgeCount{r.times, r.times * e.purgeWaste[held][to], r.times * units[held][to]}
				counts[without(since, to)].add(c)
				since |= 1 << held
				counts[without(since, to)].add(purgeCount{-c.loads, -c.waste, -c.units})
			}
		}
		sumSubsets(counts)
		e.addSlot(scores, to, counts, perGram)
	}
	return scores
}

// A purgeCount is of the loads of one slot: waste and grams in whole numbers.
type purgeCount struct{ loads, waste, units int64 }

func (c *purgeCount) add(other purgeCount) {
	c.loads += other.loads
	c.waste += other.waste
	c.units += other.units
}

// without closes the gap in a set that never has a slot.
func without(set uint32, slot int) uint32 {
	low := uint32(1)<<slot - 1
	return set&low | set>>1&^low
}

// sumSubsets turns the count of each set into the sum of the counts of its subsets.
func sumSubsets(counts []purgeCount) {
	for bit := 1; bit < len(counts); bit *= 2 {
		for first := 0; first < len(counts); first += 2 * bit {
			lower, upper := counts[first:first+bit], counts[first+bit:first+2*bit]
			for i := range upper {
				upper[i].add(lower[i])
			}
		}
	}
}

// addSlot adds to the score of each set what one slot adds, given the purges of the slot by the set of others outside.
func (e *evaluator) addSlot(scores []score, slot int, purges []purgeCount, perGram float64) {
	all := len(scores) - 1
	swaps := make([]int64, len(scores)) // by the set of slots used before this one
	for set := 1; set <= all; set++ {
		swaps[set] = swaps[set&(set-1)] + int64(e.follows[bits.TrailingZeros(uint(set))][slot])
	}
	for set := range scores {
		if set>>slot&1 == 0 {
			continue
		}
		outside := all &^ set
		purge := &purges[without(uint32(outside), slot)]
		s := &scores[set]
		s.waste += purge.waste + purge.loads*e.load.waste + swaps[outside]*e.swap.waste
		s.time += purge.loads*e.load.time + swaps[outside]*e.swap.time
		if e.print.Slots[slot].Short(e.prime[slot] + float64(purge.units)/perGram) {
			s.short++
		}
	}
}

// purgeUnits returns the grams of each purge as whole numbers, by slot held and slot loaded, and how many make a gram: sums of whole
// numbers don't depend on their order.
func (e *evaluator) purgeUnits() (units [][]int64, perGram float64) {
	n := len(e.print.Slots)
	all := int64(1)
	for _, c := range e.changes {
		all += int64(c)
	}
	numbers, perGram := whole(slices.Concat(e.purge...), all)
	for from := range n {
		units = append(units, numbers[from*n:(from+1)*n])
	}
	return units, perGram
}
