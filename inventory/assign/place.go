package assign

import "math/bits"

// placing looks for any possible assignment by backtracking: it gives one slot after another a nozzle.
type placing struct {
	*rules
	nozzle []int    // by slot; -1 for none yet
	serves []bitset // by nozzle
	load   []int    // slots, by nozzle
	last   int      // the nozzle that was given last
	effort int      // options that may still be looked at
}

// place returns a possible assignment, or nil. Sure is false if the effort was spent before all ways were tried. Each slot tries the
// nozzles in the order that prefer returns them.
func place(r *rules, prefer func(p *placing, turn int) int, effort int) (nozzle []int, sure bool) {
	p := &placing{rules: r, nozzle: make([]int, len(r.may)), serves: make([]bitset, len(r.feeds)), load: make([]int, len(r.feeds)), last: -1, effort: effort}
	for s := range p.nozzle {
		p.nozzle[s] = -1
	}
	if !p.placeRest(anywhere, prefer) {
		return nil, p.effort > 0
	}
	return p.nozzle, true
}

// fill gives one nozzle slots until it has no feed left.
func (p *placing) fill(turn int) int { return turn }

// deal gives each nozzle one slot after another.
func (p *placing) deal(turn int) int { return (p.last + 1 + turn) % len(p.feeds) }

// placeRest places all slots that have no nozzle yet, the one with fewest options first.
func (p *placing) placeRest(w windows, prefer func(p *placing, turn int) int) bool {
	slot, ok := p.fewest(w)
	if !ok || slot < 0 {
		return ok
	}
	last := p.last
	for turn := range p.feeds {
		i := prefer(p, turn)
		if !p.possible(slot, i, w) {
			continue
		}
		p.nozzle[slot], p.last = i, i
		p.serves[i].add(slot)
		p.load[i]++
		if p.placeRest(w.and(p.reach[slot][i]), prefer) {
			return true
		}
		p.nozzle[slot], p.last = -1, last
		p.serves[i].remove(slot)
		p.load[i]--
	}
	return false
}

// fewest returns the slot with fewest options of those without a nozzle, or -1 if there are none. It returns false if some of them
// have options only on nozzles with too few feeds left for all.
func (p *placing) fewest(w windows) (slot int, ok bool) {
	slots := map[uint64]int{} // how many, by their options
	slot, least := -1, len(p.feeds)+1
	for s, given := range p.nozzle {
		if given >= 0 {
			continue
		}
		var options uint64
		for i := range p.feeds {
			if p.possible(s, i, w) {
				options |= 1 << i
			}
		}
		slots[options]++
		if n := bits.OnesCount64(options); n < least {
			slot, least = s, n
		}
	}
	for options := range slots {
		room := 0
		for i, feeds := range p.feeds {
			if options>>i&1 != 0 {
				room += feeds - p.load[i]
			}
		}
		for others, n := range slots {
			if others&^options == 0 {
				room -= n
			}
		}
		if room < 0 {
			return 0, false
		}
	}
	return slot, true
}

// possible reports whether a nozzle can serve one slot more, where the slots placed so far allow shifts w. It says no once the
// effort is spent.
func (p *placing) possible(slot, nozzle int, w windows) bool {
	p.effort--
	if p.effort <= 0 || !p.may[slot][nozzle] || p.load[nozzle] == p.feeds[nozzle] || p.apart[slot][nozzle].meets(&p.serves[nozzle]) {
		return false
	}
	_, _, ok := w.and(p.reach[slot][nozzle]).shift()
	return ok
}
