package planning

import (
	"cmp"
	"math"
	"slices"

	"tarebook/inventory"
	"tarebook/inventory/assign"
)

// Trying other spools: a search of its own, one slot after another, so that it ends soon and is not proven to find the best.

// tries is how many choices of spools are tried at most; fewer for a print of many slots, as each takes a plan of its own.
func tries(slots int) int {
	if slots > 8 {
		return 40
	}
	return 200
}

// suit is how well a choice of spools suits, least first: spools that run short on the best printer; those that are not enough;
// what is on all of them together, so that remnants are finished first. Then what plans are compared by.
type suit struct {
	short, doubtful int
	microG          float64 // whole: equal nets differ in the last bits of a float
	plan            *assign.Plan
}

func (s *Plans) suit() suit {
	best := s.Best()
	if best == nil {
		return suit{short: math.MaxInt}
	}
	found := suit{short: len(best.Short), plan: best.Plan}
	for _, n := range best.After {
		if n.Verdict != inventory.Enough {
			found.doubtful++
		}
		if n.Spool == nil {
			found.microG = math.Inf(1) // any spool is better than none
		} else {
			found.microG += math.Round(n.Likely * 1e6)
		}
	}
	return found
}

func (a suit) better(b suit) bool {
	if c := cmp.Or(cmp.Compare(a.short, b.short), cmp.Compare(a.doubtful, b.doubtful), cmp.Compare(a.microG, b.microG)); c != 0 || a.plan == nil || b.plan == nil {
		return c < 0
	}
	c, _ := assign.Compare(a.plan, b.plan)
	return c < 0
}

// try looks for a better choice of spools than that of plans: for each slot that names none, the shelf's others of its material
// and colour, as long as one is better.
func (p *planner) try(plans *Plans) (*Plans, error) {
	tried := 0
	for better := true; better; {
		better = false
		for i := range p.print.Slots {
			for _, spool := range p.others(plans, i) {
				if tried == tries(len(p.print.Slots)) {
					plans.Tried = tried
					return plans, nil
				}
				tried++
				spools := slices.Clone(plans.Spools)
				spools[i] = spool
				other, err := p.plans(spools)
				if err != nil {
					return nil, err
				}
				if other.suit().better(plans.suit()) {
					plans, better = other, true
				}
			}
		}
	}
	plans.Tried = tried
	return plans, nil
}

// others are the spools that could serve a slot which names none, but for those that serve already.
func (p *planner) others(plans *Plans, i int) []*inventory.Spool {
	on := p.print.Slots[i].On
	if on.Spool != nil {
		return nil
	}
	var others []*inventory.Spool
	for _, spool := range p.Spools {
		if !spool.Ended && spool.Is(on.Material, on.Colour) && !plans.uses(spool) {
			others = append(others, spool)
		}
	}
	return others
}

// uses reports whether a spool serves a slot, alone or in turn.
func (s *Plans) uses(spool *inventory.Spool) bool {
	for i, first := range s.Spools {
		if first == spool || slices.Contains(s.Slots[i].On.Turn, spool) {
			return true
		}
	}
	return false
}
