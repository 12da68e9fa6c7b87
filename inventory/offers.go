package inventory

import (
	"cmp"
	"math"
	"math/rand/v2"

	"tarebook/ledger"
)

// Which spools would be enough for a need, the least likely net first: asked for each need of a queue, so it must not look at each
// spool each time.

// outlook is what the queue has taken so far, and the spools that are left to choose from in the job at hand.
type outlook struct {
	shelf  *Shelf
	ahead  Ahead
	kinds  map[kind][]int // places in Shelf.Spools of the unended spools of a material and colour; blank: of any
	offers map[kind]*offers
	used   map[*Spool]bool // by the job at hand
}

// kind is a material and a colour, folded.
type kind struct{ material, colour string }

func kindOf(material, colour string) kind { return kind{ledger.Fold(material), ledger.Fold(colour)} }

func (s *Shelf) newOutlook() *outlook {
	o := &outlook{shelf: s, ahead: newAhead(), kinds: map[kind][]int{}, offers: map[kind]*offers{}, used: map[*Spool]bool{}}
	for i, spool := range s.Spools {
		if spool.Ended {
			continue
		}
		for _, k := range spool.kinds() {
			o.kinds[k] = append(o.kinds[k], i)
		}
	}
	return o
}

// kinds are those that the spool is one of.
func (s *Spool) kinds() []kind {
	own, ofAnyColour := kindOf(s.Material, s.Colour), kindOf(s.Material, "")
	if own == ofAnyColour {
		return []kind{own}
	}
	return []kind{own, ofAnyColour}
}

// use takes a spool out of what the job at hand may choose from.
func (o *outlook) use(spool *Spool) {
	if o.used[spool] {
		return
	}
	o.used[spool] = true
	for _, k := range spool.kinds() {
		if offers := o.offers[k]; offers != nil {
			offers.remove(spool)
		}
	}
}

// next ends a job: what it takes is gone for those behind it, which may choose from all spools again.
func (o *outlook) next(job *Job) {
	for _, n := range job.Needs {
		o.ahead.take(o.shelf, n)
	}
	for spool := range o.used {
		for _, k := range spool.kinds() {
			if offers := o.offers[k]; offers != nil {
				offers.insert(spool, o.ahead)
			}
		}
	}
	clear(o.used)
}

// enough returns up to most of the spools that would be enough for a need, the least likely net first, then the oldest.
func (o *outlook) enough(n *Need, material, colour string, most int) (fit []*Spool) {
	k := kindOf(material, colour)
	if o.offers[k] == nil {
		o.offers[k] = &offers{places: map[*Spool]*offer{}, random: rand.New(rand.NewPCG(1, 2))}
		for _, i := range o.kinds[k] {
			spool := o.shelf.Spools[i]
			o.offers[k].places[spool] = &offer{spool: spool, nth: i}
			if !o.used[spool] {
				o.offers[k].insert(spool, o.ahead)
			}
		}
	}
	o.offers[k].root.each(o.couldBe(n), func(spool *Spool) bool {
		trial := Need{Row: n.rowFor(spool), Printer: n.Printer, Spool: spool}
		o.shelf.WeighUp(&trial, o.ahead)
		if trial.Verdict == Enough {
			fit = append(fit, spool)
		}
		return len(fit) < most
	})
	return fit
}

// couldBe returns whether any spool below an offer could be enough for a need: whether one would be that was the best of them in
// every way.
func (o *outlook) couldBe(n *Need) func(*offer) bool {
	settings := o.shelf.Settings
	if n.As != nil || settings.EnoughOdds < 0.5 { // the grams differ by spool; or a margin below 0 may do
		return func(*offer) bool { return true }
	}
	need := n.Row.Total().Float()
	z := min(8, quantile(settings.EnoughOdds)) // from 8.3 on odds are 1 to the last bit of a float
	tail := 0.0
	if p := ledger.Named(o.shelf.Printers, n.Printer); p != nil {
		tail = p.TailMM.Float(0) / 1000
	}
	const rounding = 1e-6 // g, by which sums in another order may differ
	return func(below *offer) bool {
		e, best := below.spool.Estimate, below.best
		u := math.Hypot(best.u, e.Predicted(best.booked+need))
		return best.likely-tail*best.perMetre-e.K*need-z*u >= -rounding
	}
}

// offers are spools by their likely net: a treap, a search tree kept level by a random rank of each node (Seidel and Aragon,
// Algorithmica 16, 1996).
type offers struct {
	root   *offer
	places map[*Spool]*offer
	random *rand.Rand
}

// offer is a spool in the tree.
type offer struct {
	spool       *Spool
	nth         int     // the oldest first
	key         float64 // likely net
	own, best   figures
	rank        uint64
	left, right *offer
}

// figures are what makes a spool enough: the greatest likely net and the least of the others are best.
type figures struct{ likely, u, booked, perMetre float64 }

func (f figures) better(o *offer) figures {
	if o == nil {
		return f
	}
	return figures{max(f.likely, o.best.likely), min(f.u, o.best.u), min(f.booked, o.best.booked), min(f.perMetre, o.best.perMetre)}
}

func (o *offer) settle() *offer {
	o.best = o.own.better(o.left).better(o.right)
	return o
}

func (o *offer) compare(p *offer) int {
	return cmp.Or(cmp.Compare(o.key, p.key), cmp.Compare(o.nth, p.nth))
}

func (t *offers) insert(spool *Spool, ahead Ahead) {
	o := t.places[spool]
	if o == nil || ahead.gone(spool) {
		return // it has ended, or will have
	}
	likely := ahead.likely(spool)
	T, u2 := ahead.doubt(spool)
	o.key = math.Round(likely * 1e6) // equal nets differ in the last bits of a float
	o.own = figures{likely, math.Sqrt(u2), T, spool.Filament.Mass(1)}
	o.rank, o.left, o.right = t.random.Uint64(), nil, nil
	before, behind := split(t.root, o)
	t.root = merged(merged(before, o.settle()), behind)
}

func (t *offers) remove(spool *Spool) {
	if o := t.places[spool]; o != nil {
		t.root = without(t.root, o)
	}
}

// split parts a tree into what comes before an offer and what behind it.
func split(t, o *offer) (before, behind *offer) {
	if t == nil {
		return nil, nil
	}
	if t.compare(o) < 0 {
		t.right, behind = split(t.right, o)
		return t.settle(), behind
	}
	before, t.left = split(t.left, o)
	return before, t.settle()
}

// merged joins two trees of which all of a comes before all of b.
func merged(a, b *offer) *offer {
	switch {
	case a == nil:
		return b
	case b == nil:
		return a
	case a.rank > b.rank:
		a.right = merged(a.right, b)
		return a.settle()
	}
	b.left = merged(a, b.left)
	return b.settle()
}

func without(t, o *offer) *offer {
	switch {
	case t == nil:
		return nil
	case t == o:
		return merged(t.left, t.right)
	case o.compare(t) < 0:
		t.left = without(t.left, o)
	default:
		t.right = without(t.right, o)
	}
	return t.settle()
}

// each calls visit with the spools in order, past those below an offer that couldBe says no to, and ends when visit does.
func (o *offer) each(couldBe func(*offer) bool, visit func(*Spool) bool) bool {
	return o == nil || !couldBe(o) || o.left.each(couldBe, visit) && visit(o.spool) && o.right.each(couldBe, visit)
}
