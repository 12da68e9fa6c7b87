package assign

import "math/big"

// A score is what one nozzle counts, or all together. Its numbers are whole, so that equal assignments compare as equal.
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

// An evaluator scores a nozzle by the set of slots that it serves.
//
// Loading slot s purges by the slot that its nozzle holds: of the slots used since s was last used, the latest that is in the set.
// So the evaluator keeps the distinct returns to a slot, with the slots used since, the latest first. The first use of a slot
// counts as a return, with all slots used before. Real prints repeat from layer to layer and have few distinct returns.
type evaluator struct {
	print   Print
	machine Machine
	*order

	purge      [][]*big.Rat // grams, by slot held and slot loaded
	purgeGrams [][]float64  // likewise
	purgeWaste [][]int64    // likewise
	prime      []float64    // grams of all changes, by slot
	load, swap score        // of one
}

// An order is what an evaluator needs of a print's sequence. It is the same on every machine.
type order struct {
	returns []slotReturn
	follows [][]int // changes, by slot before and slot after
	changes []int   // by slot after
}

type slotReturn struct {
	slot  uint8
	since []uint8
	times int64
}

// Ordered returns the print with its sequence looked through, so that each call of [Best] with it need not do so.
func (p Print) Ordered() Print {
	n := len(p.Slots)
	o := &order{changes: make([]int, n)}
	for range n {
		o.follows = append(o.follows, make([]int, n))
	}
	o.gatherReturns(p.Sequence)
	p.order = o
	return p
}

func newEvaluator(p Print, m Machine) *evaluator {
	if p.order == nil {
		p = p.Ordered()
	}
	e := &evaluator{print: p, machine: m, order: p.order, prime: make([]float64, len(p.Slots))}
	e.price()
	return e
}

func (o *order) gatherReturns(sequence []uint8) {
	var recent []uint8        // the slots used so far, the latest first
	index := map[string]int{} // of returns
	var key []byte
	for _, s := range sequence {
		if len(recent) > 0 && recent[0] == s {
			continue
		}
		since := 0
		for since < len(recent) && recent[since] != s {
			since++
		}
		if len(recent) > 0 {
			o.follows[recent[0]][s]++
			o.changes[s]++
			key = append(append(key[:0], s), recent[:since]...)
			i, known := index[string(key)]
			if !known {
				i = len(o.returns)
				index[string(key)] = i
				o.returns = append(o.returns, slotReturn{slot: s, since: append([]uint8(nil), recent[:since]...)})
			}
			o.returns[i].times++
		}
		if since == len(recent) {
			recent = append(recent, 0)
		}
		copy(recent[1:since+1], recent[:since])
		recent[0] = s
	}
}

// price turns the waste and time of purges, loads and swaps into whole numbers.
func (e *evaluator) price() {
	n := len(e.print.Slots)
	all := int64(1)
	for _, c := range e.changes {
		all += int64(c)
	}
	m := e.machine
	waste := []*big.Rat{new(big.Rat), new(big.Rat)} // of a load and of a swap, then of each purge
	if m.SecondCosts != nil {
		waste[0].Mul(m.Load, m.SecondCosts)
		waste[1].Mul(m.Swap, m.SecondCosts)
	}
	for from := range n {
		e.purge, e.purgeGrams = append(e.purge, make([]*big.Rat, n)), append(e.purgeGrams, make([]float64, n))
		for to := range n {
			grams := new(big.Rat)
			if from != to {
				grams.Mul(m.Purge(from, to), e.print.Slots[to].PerMM3)
			}
			e.purge[from][to] = grams
			e.purgeGrams[from][to], _ = grams.Float64()
			waste = append(waste, new(big.Rat).Mul(grams, e.print.Slots[to].PerGram))
		}
	}
	units, _ := whole(waste, 3*all) // a change purges, loads and swaps at most
	time, _ := whole([]*big.Rat{m.Load, m.Swap}, 3*all)
	e.load, e.swap = score{0, units[0], time[0]}, score{0, units[1], time[1]}
	for from := range n {
		e.purgeWaste = append(e.purgeWaste, units[2+from*n:2+(from+1)*n])
	}
	for s, slot := range e.print.Slots {
		grams := new(big.Rat).Mul(m.Prime, slot.PerMM3)
		e.prime[s], _ = grams.Mul(grams, new(big.Rat).SetInt64(int64(e.changes[s]))).Float64()
	}
}

// whole turns amounts into whole numbers of a common unit, and returns how many units make 1. No amount may be below 0. The sum of
// so many amounts doesn't overflow. The numbers are exact if their common denominator allows that, else rounded to the smallest
// unit that doesn't overflow.
func whole(amounts []*big.Rat, times int64) (numbers []int64, unit float64) {
	denominator, rest := big.NewInt(1), new(big.Int)
	largest := new(big.Rat)
	for _, a := range amounts {
		if rest.Rem(denominator, a.Denom()).Sign() != 0 {
			denominator.Mul(denominator, rest.Div(a.Denom(), rest.GCD(nil, nil, denominator, a.Denom())))
		}
		if a.Cmp(largest) > 0 {
			largest = a
		}
	}
	numbers = make([]int64, len(amounts))
	most := new(big.Rat).Mul(largest, new(big.Rat).SetInt64(times))
	limit := new(big.Rat).SetInt64(1 << 62)
	scale := new(big.Rat).SetInt(denominator)
	if new(big.Rat).Mul(most, scale).Cmp(limit) <= 0 {
		for i, a := range amounts {
			numbers[i] = rest.Mul(a.Num(), rest.Div(denominator, a.Denom())).Int64()
		}
	} else {
		scale.Quo(limit, most)
		for i, a := range amounts {
			x := new(big.Rat).Mul(a, scale)
			x.Add(x, big.NewRat(1, 2))
			numbers[i] = rest.Div(x.Num(), x.Denom()).Int64()
		}
	}
	unit, _ = scale.Float64()
	return numbers, unit
}

// score evaluates a nozzle that serves some slots, given as a list and as a set.
func (e *evaluator) score(slots []int, set *bitset) score {
	var total score
	var wasted [256]float64
	for _, s := range slots {
		wasted[s] = e.prime[s]
	}
	for i := range e.returns {
		r := &e.returns[i]
		if !set.has(int(r.slot)) {
			continue
		}
		for _, held := range r.since {
			if set.has(int(held)) {
				total.waste += r.times * (e.purgeWaste[held][r.slot] + e.load.waste)
				total.time += r.times * e.load.time
				wasted[r.slot] += float64(r.times) * e.purgeGrams[held][r.slot]
				break
			}
		}
	}
	for _, to := range slots {
		if e.print.Slots[to].Short(wasted[to]) {
			total.short++
		}
		for from, times := range e.follows {
			if !set.has(from) {
				total.waste += int64(times[to]) * e.swap.waste
				total.time += int64(times[to]) * e.swap.time
			}
		}
	}
	return total
}
