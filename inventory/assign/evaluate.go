package assign

import (
	"math/big"
	"math/bits"
)

// score is what a set of slots on one nozzle, or all sets together, count: whole numbers, so that equals are equal.
type score struct {
	short       int
	waste, time int64
}

func (a score) add(b score) score {
	return score{a.short + b.short, a.waste + b.waste, a.time + b.time}
}

func (a score) less(b score) bool {
	if a.short != b.short {
		return a.short < b.short
	}
	if a.waste != b.waste {
		return a.waste < b.waste
	}
	return a.time < b.time
}

// An evaluator tells what a nozzle wastes by the set of slots that it serves.
//
// A load of slot s depends on what its nozzle served since s was last in use: the slot nearest before, of those in the set. So
// the sequence comes down to its distinct returns: a slot, and the others used since it was last, the latest first; for its
// first use, all that were used before. Real prints repeat themselves from layer to layer and have few of them.
type evaluator struct {
	print   Print
	machine Machine

	returns []comeback
	arrive  [][]int // changes by slot before and slot after
	changes []int   // to each slot

	purgeG     [][]float64 // grams by slot held and slot loaded
	purgeWaste [][]int64
	primeG     []float64
	load, swap score // of one
}

type comeback struct {
	slot  uint8
	since []uint8
	times int64
}

func newEvaluator(p Print, m Machine) *evaluator {
	n := len(p.Slots)
	e := &evaluator{print: p, machine: m, changes: make([]int, n), primeG: make([]float64, n)}
	for range n {
		e.arrive = append(e.arrive, make([]int, n))
	}
	e.read()
	e.price()
	return e
}

// read gathers the distinct returns. recent are the slots used so far, the latest first.
func (e *evaluator) read() {
	var recent []uint8
	at := map[string]int{}
	var key []byte
	for _, s := range e.print.Sequence {
		if len(recent) > 0 && recent[0] == s {
			continue
		}
		since := 0
		for since < len(recent) && recent[since] != s {
			since++
		}
		if len(recent) > 0 {
			e.arrive[recent[0]][s]++
			e.changes[s]++
			key = append(append(key[:0], s), recent[:since]...)
			i, known := at[string(key)]
			if !known {
				i = len(e.returns)
				at[string(key)] = i
				e.returns = append(e.returns, comeback{slot: s, since: append([]uint8(nil), recent[:since]...)})
			}
			e.returns[i].times++
		}
		if since == len(recent) {
			recent = append(recent, 0)
		}
		copy(recent[1:since+1], recent[:since])
		recent[0] = s
	}
}

// price turns what a purge, a load and a swap count into whole numbers of one unit.
func (e *evaluator) price() {
	n := len(e.print.Slots)
	all := int64(1)
	for _, c := range e.changes {
		all += int64(c)
	}
	m := e.machine
	waste := []*big.Rat{new(big.Rat), new(big.Rat)} // of a load and of a swap
	if m.SecondCosts != nil {
		waste[0].Mul(m.Load, m.SecondCosts)
		waste[1].Mul(m.Swap, m.SecondCosts)
	}
	for from := range n {
		e.purgeG = append(e.purgeG, make([]float64, n))
		for to := range n {
			grams := new(big.Rat)
			if from != to {
				grams.Mul(m.Purge(from, to), e.print.Slots[to].PerMM3)
			}
			e.purgeG[from][to], _ = grams.Float64()
			waste = append(waste, grams.Mul(grams, e.print.Slots[to].PerGram))
		}
	}
	units := whole(waste, 3*all) // a change purges, loads and swaps at most
	time := whole([]*big.Rat{m.Load, m.Swap}, 3*all)
	e.load, e.swap = score{0, units[0], time[0]}, score{0, units[1], time[1]}
	for from := range n {
		e.purgeWaste = append(e.purgeWaste, units[2+from*n:2+(from+1)*n])
	}
	for s, slot := range e.print.Slots {
		grams := new(big.Rat).Mul(m.Prime, slot.PerMM3)
		e.primeG[s], _ = grams.Mul(grams, new(big.Rat).SetInt64(int64(e.changes[s]))).Float64()
	}
}

// whole turns amounts, none below 0, into whole numbers of a common unit, of which so many together don't overflow: exactly
// where their common denominator allows it, else each to the nearest of the smallest unit that does.
func whole(amounts []*big.Rat, times int64) []int64 {
	unit := big.NewInt(1) // how many units make 1
	largest := new(big.Rat)
	for _, a := range amounts {
		gcd := new(big.Int).GCD(nil, nil, unit, a.Denom())
		unit.Mul(unit, gcd.Div(a.Denom(), gcd))
		if a.Cmp(largest) > 0 {
			largest = a
		}
	}
	most := new(big.Rat).Mul(largest, new(big.Rat).SetInt64(times))
	limit := new(big.Rat).SetInt64(1 << 62)
	scale := new(big.Rat).SetInt(unit)
	if largest.Sign() > 0 && new(big.Rat).Mul(most, scale).Cmp(limit) > 0 {
		scale.Quo(limit, most)
	}
	numbers := make([]int64, len(amounts))
	for i, a := range amounts {
		x := new(big.Rat).Mul(a, scale)
		x.Add(x, big.NewRat(1, 2))
		numbers[i] = new(big.Int).Div(x.Num(), x.Denom()).Int64()
	}
	return numbers
}

// members tells which slots a nozzle serves.
type members [256]bool

// score evaluates a nozzle that serves the slots of a list, which in also has.
func (e *evaluator) score(slots []int, in *members) score {
	var total score
	var wasted [256]float64
	for _, s := range slots {
		wasted[s] = e.primeG[s]
	}
	for i := range e.returns {
		r := &e.returns[i]
		if !in[r.slot] {
			continue
		}
		for _, held := range r.since {
			if in[held] {
				total.waste += r.times * (e.purgeWaste[held][r.slot] + e.load.waste)
				total.time += r.times * e.load.time
				wasted[r.slot] += float64(r.times) * e.purgeG[held][r.slot]
				break
			}
		}
	}
	for _, to := range slots {
		if e.print.Slots[to].Short(wasted[to]) {
			total.short++
		}
		for from, times := range e.arrive {
			if !in[from] {
				total.waste += int64(times[to]) * e.swap.waste
				total.time += int64(times[to]) * e.swap.time
			}
		}
	}
	return total
}

// of lists the slots of a set.
func of(set uint32) (slots []int) {
	for ; set != 0; set &= set - 1 {
		slots = append(slots, bits.TrailingZeros32(set))
	}
	return slots
}
