package oracle

import (
	"maps"
	"math"
	"slices"
)

// estimate says how sliced and path grams run against the scale: k, u_k and s^2.
type estimate struct {
	k, u, s2  float64
	intervals int // they rest on; 0: the settings' own
}

// spread is (E u_k)^2 + s^2 E + ((k-1) E)^2.
func (e estimate) spread(mg int64) float64 {
	g := grams(mg)
	return square(g*e.u) + e.s2*g + square((e.k-1)*g)
}

// learn gives each spool the estimate of its material, of the shop, or none.
//
// Reading taken: a k <= 0 of the material leads to the default, not to the shop.
func learn(f folder, spools map[string]*spool) {
	least := max(2, int(f.number("min_intervals")))
	byMaterial := map[string][]interval{}
	var shop []interval
	for _, key := range slices.Sorted(maps.Keys(spools)) {
		s := spools[key]
		m := fold(s.buy.get("material"))
		byMaterial[m] = append(byMaterial[m], s.intervals...)
		shop = append(shop, s.intervals...)
	}
	for _, s := range spools {
		s.estimate = learnt(f, byMaterial[fold(s.buy.get("material"))], shop, least)
	}
}

func learnt(f folder, own, shop []interval, least int) estimate {
	used := own
	if len(used) < least {
		used = shop
	}
	if len(used) >= least {
		if e := chainLadder(used); e.k > 0 {
			return e
		}
	}
	return estimate{k: 1, u: f.number("estimate_u")}
}

// estimateOf is that of a material, which need not be on the shelf.
func estimateOf(f folder, spools map[string]*spool, material string) estimate {
	var own, shop []interval
	for _, key := range slices.Sorted(maps.Keys(spools)) {
		s := spools[key]
		shop = append(shop, s.intervals...)
		if fold(s.buy.get("material")) == fold(material) {
			own = append(own, s.intervals...)
		}
	}
	return learnt(f, own, shop, max(2, int(f.number("min_intervals"))))
}

func chainLadder(intervals []interval) estimate {
	var dropMG, recordedMG int64
	for _, i := range intervals {
		dropMG += i.dropMG
		recordedMG += i.recordedMG
	}
	e := estimate{k: float64(dropMG) / float64(recordedMG), intervals: len(intervals)}
	sum := 0.0
	for _, i := range intervals {
		sum += square(grams(i.dropMG)-e.k*grams(i.recordedMG)) / grams(i.recordedMG)
	}
	e.s2 = sum / float64(len(intervals)-1)
	e.u = math.Sqrt(e.s2 / grams(recordedMG))
	return e
}
