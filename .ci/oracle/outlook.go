package oracle

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// promised is what the needs before have done to the shelf. Needs of one spool are
// counted exactly; what is taken of several in turn is an estimate.
type promised struct {
	mg     map[*spool]int64
	g      map[*spool]float64
	usedUp map[*spool]bool // handed over from: as if ended
	// Behind spools that were used up before it, a spool's figure is as doubtful
	// as theirs were.
	behindU2, behindT map[*spool]float64
}

func nothingPromised() *promised {
	return &promised{map[*spool]int64{}, map[*spool]float64{}, map[*spool]bool{}, map[*spool]float64{}, map[*spool]float64{}}
}

func (p *promised) gone(s *spool) bool { return s.ended || p.usedUp[s] }

// t is T_i: what was recorded since the last weigh-in, and what is queued ahead.
func (p *promised) t(s *spool) float64 { return grams(s.sinceOtherMG+p.mg[s]) + p.g[s] }

func (p *promised) likely(s *spool) float64 {
	if p.gone(s) {
		return 0
	}
	return s.baseNet() - grams(s.sinceWeighedMG) - s.estimate.k*p.t(s)
}

// verdict is spools in turn held against one need.
type verdict struct {
	likely, after, u, odds, tail float64
	word                         string
	runsOut                      any
	counting                     []*spool
	handsOver                    []float64 // after each spool but the last
}

// outlook answers whether spools, one after another, meet a need behind what is
// promised.
//
// Readings taken: an ended spool's margin is its likely 0 less tail and k need,
// so is that of several, by the tail of the first; the basis of a queued row
// changes nothing.
func outlook(f folder, list []*spool, mg int64, p *promised, tail func(*spool) float64) verdict {
	k, need := list[0].estimate.k, grams(mg)
	var v verdict
	var last *spool // that is not ended
	for _, s := range list {
		if p.gone(s) {
			continue
		}
		last = s
		if p.likely(s) > tail(s) {
			v.counting = append(v.counting, s)
		}
	}
	if v.counting == nil && last != nil {
		v.counting = []*spool{last}
	}
	t, u2 := need, 0.0
	for _, s := range v.counting {
		v.likely += p.likely(s)
		v.tail += tail(s)
		t += p.t(s) + p.behindT[s]
		u2 += square(s.baseU()) + p.behindU2[s]
	}
	if v.counting == nil {
		v.tail = tail(list[0])
	}
	v.after = v.likely - v.tail - k*need
	reach := func(g float64) float64 {
		if mg == 0 {
			return 0
		}
		return min(1, max(0, g/(k*need)))
	}
	sum := 0.0
	for _, s := range list[:len(list)-1] {
		if slices.Contains(v.counting, s) {
			sum += p.likely(s) - tail(s)
		}
		v.handsOver = append(v.handsOver, reach(sum))
	}
	v.word = "short"
	if last != nil {
		v.u = math.Sqrt(u2 + square(t*list[0].estimate.u) + list[0].estimate.s2*t)
		switch {
		case v.u > 0:
			v.odds = math.Erfc(-v.after/v.u/math.Sqrt2) / 2
		case v.after >= 0:
			v.odds = 1
		}
		switch {
		case v.odds >= f.number("enough_odds"):
			v.word = "enough"
			return v
		case v.after >= 0:
			v.word = "marginal"
		}
	}
	v.runsOut = measure(reach(v.likely - v.tail))
	return v
}

// promise books what a need takes of its spools.
//
// Readings taken: a need of nothing uses up no spool; nor is a spool used up
// behind which all are ended: there is nothing to hand over to. A used-up spool
// that added nothing (below its tail) adds no doubt either; what does add to it
// counts with what this need takes of it, and with what stood behind it.
func (p *promised) promise(list []*spool, mg int64, tail func(*spool) float64) {
	var open []*spool
	for _, s := range list {
		if !p.gone(s) {
			open = append(open, s)
		}
	}
	if len(open) <= 1 {
		for _, s := range open {
			p.mg[s] += mg
		}
		return
	}
	k := list[0].estimate.k
	left := grams(mg)
	var before []*spool // used up by this need, and adding to it
	for i, s := range open {
		has := max(0, (p.likely(s)-tail(s))/k)
		if i == len(open)-1 || has >= left {
			p.g[s] += left
			for _, b := range before {
				p.behindU2[s] += square(b.baseU()) + p.behindU2[b]
				p.behindT[s] += p.t(b) + p.behindT[b]
			}
			return
		}
		p.g[s] += has
		left -= has
		if has > 0 {
			before = append(before, s)
		}
		p.usedUp[s] = true
	}
}

func fits(s *spool, material, colour string) bool {
	return fold(s.buy.get("material")) == fold(material) && (colour == "" || fold(s.buy.get("colour")) == fold(colour))
}

// byLikely orders by likely net behind what is promised, then by purchase.
func (p *promised) byLikely(a, b *spool) int {
	la, lb := p.likely(a), p.likely(b)
	if math.Abs(la-lb) < 1e-9 { // equal but for the last bits of a float
		return compareRows(a.buy, b.buy)
	}
	return cmp.Or(cmp.Compare(la, lb), strings.Compare(a.name, b.name))
}

// enoughFor lists the spools of that material and colour (blank: any) that
// would be enough and do not serve the job, least likely net first.
func enoughFor(f folder, spools map[string]*spool, n *need, material, colour string, serving map[*spool]bool, p *promised) []*spool {
	var able []*spool
	for _, s := range spools {
		if p.gone(s) || serving[s] || !fits(s, material, colour) {
			continue
		}
		if outlook(f, []*spool{s}, n.mg, p, n.tailBy(f)).word == "enough" {
			able = append(able, s)
		}
	}
	slices.SortFunc(able, p.byLikely)
	return able
}

// inTurnFor is the one offer of several spools for a need that no single spool
// meets.
//
// Readings taken: the own spools are among the at most three; where they differ in
// colour the first's is the one; without an own spool, and without a colour in
// the row, any one colour and any one diameter will do, but one for all; of equal
// margins the offer whose spools were bought first, compared one by one as they
// stand.
func inTurnFor(f folder, spools map[string]*spool, n *need, serving map[*spool]bool, p *promised) []*spool {
	material := n.get("material")
	var own []*spool
	for _, s := range n.spools {
		if !p.gone(s) {
			own = append(own, s)
		}
	}
	if n.spool != nil {
		material = n.spool.buy.get("material")
	}
	groups := map[[2]string][]*spool{} // by colour and diameter
	for _, s := range spools {
		if p.gone(s) || serving[s] || !fits(s, material, "") {
			continue
		}
		colour, diameter := fold(s.buy.get("colour")), shortestNumber(s.buy.get("diameter_mm"))
		switch {
		case n.spool != nil && (colour != fold(n.spool.buy.get("colour")) || s.diameter != n.spool.diameter):
			continue
		case n.spool == nil && n.get("colour") != "" && colour != fold(n.get("colour")):
			continue
		}
		groups[[2]string{colour, diameter}] = append(groups[[2]string{colour, diameter}], s)
	}
	for size := max(2, len(own)+1); size <= 3; size++ {
		var best []*spool
		var least float64
		for _, group := range groups {
			slices.SortFunc(group, p.byLikely)
			choose(group, size-len(own), func(others []*spool) {
				list := slices.Concat(own, others)
				v := outlook(f, list, n.mg, p, n.tailBy(f))
				if v.word != "enough" {
					return
				}
				older := func(a, b []*spool) bool {
					return slices.CompareFunc(a, b, func(x, y *spool) int { return compareRows(x.buy, y.buy) }) < 0
				}
				switch tie := math.Abs(v.after-least) < 1e-9; {
				case best == nil, !tie && v.after < least, tie && older(list, best):
					best, least = list, v.after
				}
			})
		}
		if best != nil {
			return best
		}
	}
	return nil
}

// choose visits all ways to take n, in the order of from.
func choose(from []*spool, n int, visit func([]*spool)) {
	if n == 0 {
		visit(nil)
		return
	}
	for i, s := range from {
		choose(from[i+1:], n-1, func(rest []*spool) { visit(append([]*spool{s}, rest...)) })
	}
}
