package inventory

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"tarebook/ledger"
)

// Which spools would be enough one after another, where no single one is: the fewest, and of these the ones that leave least.

// mostOffered is how many spools in turn are offered for one need at most.
const mostOffered = 3

// candidate is a spool that could take its turn.
type candidate struct {
	spool *Spool
	nth   int // the oldest first
	key   float64
	gives float64 // grams that reach the nozzle
	T, u2 float64
}

// doubts are what a spool adds to the doubt of a turn.
type doubts struct{ T, u2 float64 }

// like reports whether a spool is as good as another in every way.
func (c *candidate) like(other *candidate) bool {
	return c.key == other.key && c.gives == other.gives && c.T == other.T && c.u2 == other.u2
}

// inTurn returns the spools, at most mostOffered, that would be enough for a need one after another: its own that have not ended, in
// their order, and behind them others of the same material, colour and diameter that do not serve the job, the least likely net first.
func (o *outlook) inTurn(n *Need) []*Spool {
	var own []*Spool
	for _, spool := range n.Spools() {
		if !o.ahead.gone(spool) {
			own = append(own, spool)
		}
	}
	groups := o.candidates(n)
	for size := max(2, len(own)+1); size <= mostOffered; size++ {
		var best []candidate
		margin := 0.0
		for _, group := range groups {
			search := o.search(n, own, group)
			search.best, search.margin = best, margin
			search.choose(0, size-len(own))
			best, margin = search.best, search.margin
		}
		if best != nil {
			return spoolsOf(best)
		}
	}
	return nil
}

// candidates are the spools that could follow those of a need, each list of one colour and one diameter and sorted by likely net.
func (o *outlook) candidates(n *Need) [][]candidate {
	type group struct{ colour, diameter string }
	groups := map[group]int{}
	var lists [][]candidate
	colour := n.Row.Colour
	if n.Spool != nil {
		colour = n.Spool.Colour
	}
	for _, i := range o.kinds[kindOf(n.Material, colour)] {
		spool := o.shelf.Spools[i]
		if o.used[spool] || o.ahead.gone(spool) {
			continue
		}
		if n.Spool != nil && (ledger.Fold(spool.Colour) != ledger.Fold(colour) || !spool.Follows(n.Spool)) {
			continue
		}
		c := o.candidate(n, spool, i)
		of := group{ledger.Fold(spool.Colour), spool.Purchase.DiameterMM.Decimal.String()}
		at, seen := groups[of]
		if !seen {
			at = len(lists)
			groups[of] = at
			lists = append(lists, nil)
		}
		lists[at] = append(lists[at], c)
	}
	for _, list := range lists {
		slices.SortFunc(list, func(a, b candidate) int { return cmp.Or(cmp.Compare(a.key, b.key), cmp.Compare(a.nth, b.nth)) })
	}
	return lists
}

// candidate returns what a spool adds to a need. One that has nothing above its tail adds nothing, and no doubt either.
func (o *outlook) candidate(n *Need, spool *Spool, nth int) candidate {
	likely := o.ahead.likely(spool)
	c := candidate{spool: spool, nth: nth, key: math.Round(likely * 1e6), gives: max(0, likely-o.shelf.Tail(n.Printer, spool))}
	if c.gives > 0 {
		c.T, c.u2 = o.ahead.doubt(spool)
	}
	return c
}

// offerSearch looks through the candidates of one kind.
type offerSearch struct {
	*outlook
	need  *Need
	group []candidate
	e     Estimates
	z     float64
	grams float64 // booked, that the need takes

	chosen       []candidate // its own first
	gives, T, u2 float64     // sums over chosen
	leastT       float64     // of the group
	leastU2      float64
	behind       []doubts // the least of the candidates from each place on

	best   []candidate
	margin float64 // of best
}

func (o *outlook) search(n *Need, own []*Spool, group []candidate) *offerSearch {
	first := group[0].spool
	if len(own) > 0 {
		first = own[0]
	}
	s := &offerSearch{outlook: o, need: &Need{Row: n.rowFor(first), Printer: n.Printer}, group: group, e: first.Estimate,
		z: min(8, quantile(o.shelf.Settings.EnoughOdds)), leastT: math.Inf(1), leastU2: math.Inf(1)}
	s.grams = s.need.Row.Total().Float()
	s.behind = make([]doubts, len(group))
	for i := len(group) - 1; i >= 0; i-- {
		s.leastT, s.leastU2 = min(s.leastT, group[i].T), min(s.leastU2, group[i].u2)
		s.behind[i] = doubts{s.leastT, s.leastU2}
	}
	for _, spool := range own {
		s.push(o.candidate(n, spool, slices.Index(o.shelf.Spools, spool)))
	}
	return s
}

func (s *offerSearch) push(c candidate) {
	s.chosen = append(s.chosen, c)
	s.gives, s.T, s.u2 = s.gives+c.gives, s.T+c.T, s.u2+c.u2
}

func (s *offerSearch) pop(before offerSearch) {
	s.chosen, s.gives, s.T, s.u2 = before.chosen, before.gives, before.T, before.u2
}

// choose tries every way to add so many more of the candidates from place from on. Of candidates that are alike it takes the oldest.
func (s *offerSearch) choose(from, more int) {
	if len(s.group)-from < more || !s.couldDo(more) {
		return
	}
	switch {
	case more == 1:
		s.last(from)
		return
	case more == 2 && s.z >= 0: // else a margin below 0 may do
		s.lastTwo(from)
		return
	}
	before := *s
	for i := from; i < len(s.group); i++ {
		if i > from && s.group[i].like(&s.group[i-1]) {
			continue
		}
		if s.best != nil && s.gives+float64(more)*s.group[i].gives-s.e.K*s.grams > s.margin+1e-5 {
			return // nor do those with more on them leave less
		}
		if s.z >= 0 && s.best != nil && i+1 < len(s.group) && s.margins(&s.group[i], i+1, float64(more-1)) > s.margin+1e-5 {
			continue // no better than what was found
		}
		s.push(s.group[i])
		s.choose(i+1, more-1)
		s.pop(before)
	}
}

// margins returns the least margin that may be enough with one candidate and so many more from a place on.
func (s *offerSearch) margins(c *candidate, from int, more float64) float64 {
	d := s.behind[from]
	return s.z * math.Hypot(math.Sqrt(s.u2+c.u2+more*d.u2), s.e.Predicted(s.T+c.T+more*d.T+s.grams))
}

// lastTwo adds two candidates. The more is on the first, the less must be on the second, so that one walk over the group finds for each
// first the second with least that may be enough.
func (s *offerSearch) lastTwo(from int) {
	const slack = 1e-5 // g; gives are sorted but for rounding
	before := *s
	wanted := s.e.K * s.grams
	least := wanted + s.margins(&candidate{}, from, 2) - slack
	second := len(s.group)
	for i := from; i < len(s.group)-1; i++ {
		if i > from && s.group[i].like(&s.group[i-1]) {
			continue
		}
		gives := s.gives + s.group[i].gives
		for second > 0 && gives+s.group[second-1].gives >= least {
			second--
		}
		next := max(second, i+1)
		if next == len(s.group) {
			continue
		}
		if s.best != nil && gives+s.group[next].gives-wanted > s.margin+slack { // no better than what was found
			if next == i+1 {
				return
			}
			continue
		}
		margin := s.margins(&s.group[i], next, 1)
		if s.best != nil && margin > s.margin+slack {
			continue
		}
		next += sort.Search(len(s.group)-next, func(k int) bool { return gives+s.group[next+k].gives-wanted >= margin-slack })
		if next == len(s.group) || s.best != nil && gives+s.group[next].gives-wanted > s.margin+slack {
			continue
		}
		s.push(s.group[i])
		s.last(next)
		s.pop(before)
	}
}

// couldDo reports whether so many more candidates could be enough, each as good as the best of all in every way.
func (s *offerSearch) couldDo(more int) bool {
	n := float64(more)
	return s.enough(s.gives+n*s.group[len(s.group)-1].gives, s.T+n*s.leastT, s.u2+n*s.leastU2)
}

// enough reports whether sums may be enough for the need: they are, but for rounding, unless a margin below 0 may do too.
func (s *offerSearch) enough(gives, T, u2 float64) bool {
	const rounding = 1e-6 // g, by which sums in another order may differ
	return s.z < 0 || gives-s.e.K*s.grams-s.z*math.Hypot(math.Sqrt(u2), s.e.Predicted(T+s.grams)) >= -rounding
}

// last adds the candidate with least on it that is enough.
func (s *offerSearch) last(from int) {
	if s.z >= 0 { // a margin below 0 is not enough
		from += sort.Search(len(s.group)-from, func(i int) bool { return s.gives+s.group[from+i].gives-s.e.K*s.grams >= -1e-6 })
	}
	for i := from; i < len(s.group); i++ {
		c := &s.group[i]
		gives := s.gives + c.gives
		if s.best != nil && gives-s.e.K*s.grams > s.margin+1e-6 {
			return
		}
		if !s.enough(gives, s.T+c.T, s.u2+c.u2) {
			continue
		}
		found := append(slices.Clone(s.chosen), *c)
		trial := *s.need
		trial.Turn = spoolsOf(found)
		trial.Spool = trial.Turn[0]
		if s.shelf.WeighUp(&trial, s.ahead); trial.Verdict != Enough {
			continue
		}
		tie := math.Abs(trial.Margin-s.margin) < 1e-9
		if s.best == nil || !tie && trial.Margin < s.margin || tie && older(found, s.best) {
			s.best, s.margin = found, trial.Margin
		}
		return
	}
}

// older reports whether the first spool in which two lists differ was bought earlier.
func older(a, b []candidate) bool {
	return slices.CompareFunc(a, b, func(x, y candidate) int { return cmp.Compare(x.nth, y.nth) }) < 0
}

func spoolsOf(list []candidate) (spools []*Spool) {
	for _, c := range list {
		spools = append(spools, c.spool)
	}
	return spools
}
