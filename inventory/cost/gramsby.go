package cost

import "tarebook/ledger"

// gramsBy holds grams of each kind by what they share. Most have few keys, some have thousands.
type gramsBy[K comparable] struct {
	list []keyedGrams[K]
	at   map[K]int // the places in the list; nil while there are few
}

type keyedGrams[K comparable] struct {
	by    K
	grams [Kinds]ledger.Grams
}

const fewKeys = 12 // which are searched one by one

// of returns the grams of a key, to add to.
func (g *gramsBy[K]) of(by K) *[Kinds]ledger.Grams {
	if g.at == nil {
		for i := range g.list {
			if g.list[i].by == by {
				return &g.list[i].grams
			}
		}
	} else if i, ok := g.at[by]; ok {
		return &g.list[i].grams
	}
	g.list = append(g.list, keyedGrams[K]{by: by})
	if g.at == nil && len(g.list) > fewKeys {
		g.at = map[K]int{}
		for i := range g.list {
			g.at[g.list[i].by] = i
		}
	} else if g.at != nil {
		g.at[by] = len(g.list) - 1
	}
	return &g.list[len(g.list)-1].grams
}

// merge adds other grams.
func (g *gramsBy[K]) merge(o *gramsBy[K]) {
	for i := range o.list {
		sum := g.of(o.list[i].by)
		for kind, grams := range o.list[i].grams {
			sum[kind] += grams
		}
	}
}
