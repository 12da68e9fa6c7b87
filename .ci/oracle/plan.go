package oracle

import (
	"cmp"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"
)

// planQuestion is one print to be planned: what the command line, the sequence
// or the sliced file say.
type planQuestion struct {
	printers []string // none: all of the book
	loads    []planLoad
	uses     []planUse       // in order; slots as they are written
	sliced   bool            // uses are of a G-code file: thousandths of a mm, not of a gram
	boxes    map[string]*box // by slot, of a sliced file
	asItLies bool
	pins     map[string]int
	weights  map[string]string // typed, by spool
	asOf     *time.Time
	asOfText string
}

type planLoad struct{ slot, filament string }

type planUse struct {
	slot          string
	part, support int64
}

// planSlot is a slot with what was found to stand on it.
type planSlot struct {
	name             string
	spool            *spool   // nil: none is enough, and the slot is short
	spools           []*spool // in turn, that one first
	box              *box     // nil: not known
	material, colour string   // as it was loaded, where no spool was found
	density          *big.Rat
	needG            *big.Rat // part and support; nil without a spool
	changes          int      // to this slot
	weight           *big.Rat
}

// colourName is what purges.csv knows the slot's filament by.
//
// Reading taken: without a spool it is the colour that was asked for.
func (s planSlot) colourName() string {
	if s.spool != nil {
		return s.spool.buy.get("colour")
	}
	return s.colour
}

// materialName is what limits.csv and purges.csv know it by.
func (s planSlot) materialName() string {
	if s.spool != nil {
		return s.spool.buy.get("material")
	}
	return s.material
}

func (s planSlot) shortName() string {
	if s.spool != nil {
		return s.spoolNames()
	}
	return s.material + "/" + s.colour
}

func (s planSlot) spoolNames() string { return strings.Join(idsOf(s.spools), "+") }

// planPrinter is a row of printers.csv.
type planPrinter struct {
	*row
	feeds []int
}

func (p planPrinter) number(column string) *big.Rat {
	if p.get(column) == "" {
		return new(big.Rat)
	}
	return rational(p.get(column))
}

// planner holds all that is the same for every assignment.
type planner struct {
	f          folder
	slots      []planSlot
	sequence   []int // slots in order of use, repeats joined
	printers   []planPrinter
	pins       []int // by slot: nozzle from 0, -1 none
	byCost     bool  // else the second level is grams
	currency   string
	timed      bool // an hour has its cost on every printer
	asItLies   bool
	tooNear    bool // a verdict hangs on the last bits of a float: ask another question
	conflicted bool
}

// tally is what playing a sequence counts.
type tally struct {
	loads [7][7]int // by the slot held before and the slot brought
	swaps int
}

// planOutcome is one assignment on one printer, told and judged.
type planOutcome struct {
	nozzles       []int // by slot, from 0
	loads, swaps  int
	purgeG        *big.Rat
	primeG        *big.Rat
	cost          *big.Rat // as told: without weights and without time; nil in grams
	short         []string
	second        *big.Rat // the second level: weighted waste, with the cost of time where it counts
	changeSeconds *big.Rat
	shift         shift
}

// compare orders outcomes by the four levels.
func (o planOutcome) compare(other planOutcome) int {
	return cmp.Or(o.compareWaste(other), o.shift.length().Cmp(other.shift.length()))
}

func (o planOutcome) compareWaste(other planOutcome) int {
	return cmp.Or(cmp.Compare(len(o.short), len(other.short)), o.second.Cmp(other.second), o.changeSeconds.Cmp(other.changeSeconds))
}

var pi = rational("3.14159265358979323846264338327950288419716939937510582")

func ratMul(xs ...*big.Rat) *big.Rat {
	product := big.NewRat(1, 1)
	for _, x := range xs {
		product.Mul(product, x)
	}
	return product
}

func ratSum(xs ...*big.Rat) *big.Rat {
	sum := new(big.Rat)
	for _, x := range xs {
		sum.Add(sum, x)
	}
	return sum
}

func count(n int) *big.Rat { return big.NewRat(int64(n), 1) }

// massOf is mm of round filament in grams: mm3 x g/cm3 / 1000.
func massOf(mm, diameter, density *big.Rat) *big.Rat {
	return ratMul(mm, pi, diameter, diameter, density, big.NewRat(1, 4000))
}

// newPlanner resolves what is loaded, once for all printers.
//
// Readings taken: slots stand in the order of their first use, those of a
// sliced file in that of their numbers; named spools are given first, then a slot after
// the other finds its spool; no tail, nothing queued ahead and no loaded spool
// where material and colour are resolved; its prime is that of the printer
// compared that lays most; part and support of a sliced file are booked to 0.001 g,
// half up, as typed lengths are.
func newPlanner(f folder, l *ledgers, spools map[string]*spool, q planQuestion) *planner {
	p := &planner{f: f, asItLies: q.asItLies}
	index := map[string]int{}
	var uses []planUse
	for _, u := range q.uses {
		name := fold(u.slot)
		if _, ok := index[name]; !ok {
			index[name] = len(p.slots)
			p.slots = append(p.slots, planSlot{name: name, weight: count(1), box: q.boxes[u.slot]})
			uses = append(uses, planUse{})
		}
		i := index[name]
		uses[i].part += u.part
		uses[i].support += u.support
		if n := len(p.sequence); n == 0 || p.sequence[n-1] != i {
			if n > 0 {
				p.slots[i].changes++
			}
			p.sequence = append(p.sequence, i)
		}
	}

	p.choosePrinters(q.printers)
	mostPrime := new(big.Rat)
	for _, printer := range p.printers {
		if prime := printer.number("prime_mm3"); prime.Cmp(mostPrime) > 0 {
			mostPrime = prime
		}
	}
	need := func(i int, diameter, density *big.Rat) *big.Rat {
		part, support := big.NewRat(uses[i].part, 1000), big.NewRat(uses[i].support, 1000)
		if q.sliced {
			part, support = halfUp(massOf(part, diameter, density), 3), halfUp(massOf(support, diameter, density), 3)
		}
		return ratSum(part, support)
	}
	give := func(i int, list ...*spool) {
		slot, s := &p.slots[i], list[0]
		slot.spool, slot.spools = s, list
		slot.density = s.ratDensity(f)
		slot.needG = need(i, rational(s.buy.get("diameter_mm")), slot.density)
	}

	loaded := map[int]string{}
	taken := map[*spool]bool{}
	for _, load := range q.loads {
		i := index[fold(load.slot)]
		loaded[i] = load.filament
		if material, colour, ok := cutLast(load.filament, "/"); ok {
			p.slots[i].material, p.slots[i].colour = material, colour
			continue
		}
		var list []*spool
		for _, id := range strings.Split(load.filament, "+") {
			s := spools[fold(id)]
			list = append(list, s)
			taken[s] = true
		}
		give(i, list...)
	}
	order := make([]int, len(p.slots))
	for i := range order {
		order[i] = i
	}
	if q.sliced {
		slices.SortFunc(order, func(a, b int) int {
			return cmp.Compare(number(p.slots[a].name, 0), number(p.slots[b].name, 0))
		})
	}
	for _, i := range order {
		slot := &p.slots[i]
		if slot.spool != nil {
			continue
		}
		prime := func(density *big.Rat) *big.Rat {
			return ratMul(count(slot.changes), mostPrime, density, big.NewRat(1, 1000))
		}
		var found *spool
		for _, s := range spools {
			if s.ended || taken[s] || !fits(s, slot.material, slot.colour) {
				continue
			}
			density := s.ratDensity(f)
			g := ratSum(need(i, rational(s.buy.get("diameter_mm")), density), prime(density))
			enough, near := s.isEnough(f, g)
			p.tooNear = p.tooNear || near
			if enough && (found == nil || lessLikely(s, found) < 0) {
				found = s
			}
		}
		if found != nil {
			give(i, found)
			taken[found] = true
			continue
		}
		slot.density = rational(f.find("materials.csv", "material", slot.material).get("density_g_cm3"))
	}

	p.weigh(q.weights)
	p.pins = make([]int, len(p.slots))
	for i := range p.pins {
		p.pins[i] = -1
	}
	for name, nozzle := range q.pins {
		p.pins[index[fold(name)]] = nozzle - 1
	}
	p.price()
	for _, file := range reads["plan"] {
		p.conflicted = p.conflicted || l.conflict[file]
	}
	return p
}

// lessLikely orders by likely net now, then by purchase.
func lessLikely(a, b *spool) int {
	if la, lb := a.likely(), b.likely(); math.Abs(la-lb) >= 1e-9 {
		return cmp.Compare(la, lb)
	}
	return compareRows(a.buy, b.buy)
}

func (s *spool) ratDensity(f folder) *big.Rat {
	return rational(f.find("materials.csv", "material", s.buy.get("material")).get("density_g_cm3"))
}

// isEnough holds a need without printer or queue against a spool that has not
// ended; near says that the odds stand on the very edge.
func (s *spool) isEnough(f folder, needG *big.Rat) (enough, near bool) {
	g, _ := needG.Float64()
	t := grams(s.sinceOtherMG) + g
	margin := s.baseNet() - grams(s.sinceWeighedMG) - s.estimate.k*t
	u := math.Sqrt(square(s.baseU()) + square(t*s.estimate.u) + s.estimate.s2*t)
	odds := 1.0
	if u > 0 {
		odds = math.Erfc(-margin/u/math.Sqrt2) / 2
	} else if margin < 0 {
		odds = 0
	}
	edge := f.number("enough_odds")
	return odds >= edge, math.Abs(odds-edge) < 1e-9
}

// choosePrinters keeps those asked for, else the owned ones, in the order of
// printers.csv.
func (p *planner) choosePrinters(asked []string) {
	seen := map[string]bool{}
	for _, r := range p.f["printers.csv"] {
		name := fold(r.get("printer"))
		wanted := len(asked) == 0 && r.get("owned") != "0" || slices.ContainsFunc(asked, func(a string) bool { return fold(a) == name })
		if seen[name] || !wanted {
			continue
		}
		seen[name] = true
		printer := planPrinter{row: r}
		for _, n := range strings.Split(r.get("feeds"), "+") {
			feeds, _ := strconv.Atoi(n)
			printer.feeds = append(printer.feeds, feeds)
		}
		p.printers = append(p.printers, printer)
	}
}

// weigh reads purge_weight, then what was typed, which wins.
func (p *planner) weigh(typed map[string]string) {
	set := func(name, weight string) {
		for i, slot := range p.slots {
			if slot.spool != nil && fold(slot.spool.name) == fold(name) {
				p.slots[i].weight = rational(weight)
			}
		}
	}
	for _, word := range strings.Fields(p.f.setting("purge_weight")) {
		name, weight, _ := strings.Cut(word, "=")
		set(name, weight)
	}
	for name, weight := range typed {
		set(name, weight)
	}
}

// price finds out what the second level is counted in.
//
// Readings taken: every printer compared is each one told of, possible or not;
// beside a waste_cost of null stands the currency of the spools, blank where
// they differ.
func (p *planner) price() {
	p.byCost = true
	currencies := map[string]bool{}
	for _, slot := range p.slots {
		if slot.spool == nil || slot.spool.price == nil {
			p.byCost = false
		}
		if slot.spool != nil {
			currencies[slot.spool.currency] = true
			p.currency = slot.spool.currency
		}
	}
	if len(currencies) != 1 {
		p.byCost, p.currency = false, ""
	}
	if !p.byCost {
		return
	}
	p.timed = fold(p.currency) == fold(p.f.setting("currency"))
	for _, printer := range p.printers {
		p.timed = p.timed && printer.get("hour_cost") != ""
	}
}

// purgeVolume is mm3 flushed when a nozzle that held one slot is brought another.
//
// Reading taken: a blank material is any, as where the column is absent.
func (p *planner) purgeVolume(printer planPrinter, from, to planSlot) *big.Rat {
	var best *row
	bestRank := []int{-1}
	for _, r := range p.f["purges.csv"] {
		rank := []int{0, 0, 0, 0, 0} // names, printer, to_colour, to_material, from_colour
		fits := true
		for _, c := range []struct {
			column, name string
			place        int
		}{
			{"printer", printer.get("printer"), 1}, {"to_colour", to.colourName(), 2}, {"to_material", to.materialName(), 3},
			{"from_colour", from.colourName(), 4}, {"from_material", from.materialName(), 0},
		} {
			material := c.column == "to_material" || c.column == "from_material"
			if text := r.get(c.column); text == "*" || text == "" && material {
				continue
			}
			fits = fits && fold(r.get(c.column)) == fold(c.name)
			rank[0]++
			if c.place > 0 {
				rank[c.place] = 1
			}
		}
		if fits && slices.Compare(rank, bestRank) > 0 {
			best, bestRank = r, rank
		}
	}
	if best == nil {
		return printer.number("purge_mm3")
	}
	return rational(best.get("purge_mm3"))
}

// fitsPrinter: a nozzle serves at most as many slots as it has feeds, and a
// pinned slot stands on its nozzle.
func (p *planner) fitsPrinter(printer planPrinter, nozzles []int) bool {
	serves := make([]int, len(printer.feeds))
	for i, n := range nozzles {
		if n < 0 || n >= len(serves) || p.pins[i] >= 0 && p.pins[i] != n {
			return false
		}
		serves[n]++
	}
	for n, feeds := range printer.feeds {
		if serves[n] > feeds {
			return false
		}
	}
	return true
}

// everyAssignment walks all ways to divide the slots among the nozzles.
func (p *planner) everyAssignment(printer planPrinter, visit func(nozzles []int)) {
	nozzles := make([]int, len(p.slots))
	var next func(i int)
	next = func(i int) {
		if i == len(nozzles) {
			if p.fitsPrinter(printer, nozzles) {
				visit(nozzles)
			}
			return
		}
		for n := range printer.feeds {
			nozzles[i] = n
			next(i + 1)
		}
	}
	next(0)
}

// play serves the sequence step by step.
func (p *planner) play(nozzles []int) tally {
	var t tally
	holds := map[int]int{}
	active := nozzles[p.sequence[0]]
	holds[active] = p.sequence[0]
	for _, s := range p.sequence[1:] {
		n := nozzles[s]
		if n != active {
			t.swaps++
			active = n
		}
		held, any := holds[n]
		if any && held != s { // a nozzle starts with the first slot it will serve
			t.loads[held][s]++
		}
		holds[n] = s
	}
	return t
}

// judge says what a tally comes to on a printer.
func (p *planner) judge(printer planPrinter, t tally) planOutcome {
	o := planOutcome{swaps: t.swaps, purgeG: new(big.Rat), primeG: new(big.Rat), second: new(big.Rat), changeSeconds: new(big.Rat)}
	if p.byCost {
		o.cost = new(big.Rat)
	}
	for to, slot := range p.slots {
		gramsOf := func(mm3 *big.Rat) *big.Rat { return ratMul(mm3, slot.density, big.NewRat(1, 1000)) }
		purge := new(big.Rat)
		for from, held := range p.slots {
			if n := t.loads[from][to]; n > 0 {
				o.loads += n
				purge.Add(purge, ratMul(count(n), gramsOf(p.purgeVolume(printer, held, slot))))
			}
		}
		prime := ratMul(count(slot.changes), gramsOf(printer.number("prime_mm3")))
		o.purgeG.Add(o.purgeG, purge)
		o.primeG.Add(o.primeG, prime)
		waste := ratSum(purge, prime)
		if p.byCost {
			waste.Mul(waste, slot.spool.perGram())
			o.cost.Add(o.cost, waste)
		}
		o.second.Add(o.second, ratMul(waste, slot.weight))
		if slot.spool == nil || p.runsShort(printer, slot, ratSum(slot.needG, purge, prime)) {
			o.short = append(o.short, slot.shortName())
		}
	}
	o.changeSeconds.Add(ratMul(count(t.swaps), printer.number("swap_s")), ratMul(count(o.loads), printer.number("load_s")))
	if p.timed {
		o.second.Add(o.second, ratMul(o.changeSeconds, printer.number("hour_cost"), big.NewRat(1, 3600)))
	}
	return o
}

// runsShort: the margin is below 0. Of several spools in turn those count that
// hold more than their tail, if none does the last alone.
//
// Reading taken: as everywhere in a plan the queue does not count.
func (p *planner) runsShort(printer planPrinter, slot planSlot, needG *big.Rat) bool {
	k := new(big.Rat).SetFloat64(slot.spool.estimate.k)
	tail := massOf(printer.number("tail_mm"), rational(slot.spool.buy.get("diameter_mm")), slot.density)
	margin, counting := new(big.Rat), 0
	exactly := slot.spool.estimate.k == 1
	for i, s := range slot.spools {
		netMG := s.netMG
		if s.base != nil {
			netMG = s.base.netMG
		}
		has := big.NewRat(netMG-s.sinceWeighedMG, 1000)
		has.Sub(has, ratMul(k, big.NewRat(s.sinceOtherMG, 1000)))
		has.Sub(has, tail)
		if has.Sign() > 0 || i == len(slot.spools)-1 && counting == 0 {
			margin.Add(margin, has)
			counting++
		}
		if near, _ := has.Float64(); len(slot.spools) > 1 && math.Abs(near) < 1e-6 {
			p.tooNear = true
		}
	}
	margin.Sub(margin, ratMul(k, needG))
	// A learnt k is a float; a need that leaves nothing at all is decided by its
	// last bit, unless all is counted.
	if near, _ := margin.Float64(); math.Abs(near) < 1e-6 && !(exactly && margin.Sign() == 0) {
		p.tooNear = true
	}
	return margin.Sign() < 0
}

// plan is a printer with the best that any assignment reaches on it.
type plan struct {
	printer  planPrinter
	feasible bool
	best     planOutcome
	walked   int // assignments

	shortDecides bool // least waste and fewest short are not one assignment
	boundDecides bool // limits or reach forbid what would be better
}

// plans are the printers, the best first.
//
// Reading taken: one that a pin makes impossible is not feasible.
func (p *planner) plans() []plan {
	var list []plan
	for _, printer := range p.printers {
		one := plan{printer: printer}
		judged := map[tally]planOutcome{} // equal counts come to the same
		var leastWaste, unbound planOutcome
		p.everyAssignment(printer, func(nozzles []int) {
			one.walked++
			t := p.play(nozzles)
			o, ok := judged[t]
			if !ok {
				o = p.judge(printer, t)
				judged[t] = o
			}
			if unbound.second == nil || o.compareWaste(unbound) < 0 {
				unbound = o
			}
			if o.shift, ok = p.possible(printer, nozzles); !ok {
				return
			}
			if !one.feasible || o.compare(one.best) < 0 {
				o.nozzles = slices.Clone(nozzles)
				one.feasible, one.best = true, o
			}
			if leastWaste.second == nil || o.second.Cmp(leastWaste.second) < 0 {
				leastWaste = o
			}
		})
		one.boundDecides = unbound.second != nil && (!one.feasible || one.best.compareWaste(unbound) > 0)
		one.shortDecides = one.feasible && len(leastWaste.short) > len(one.best.short)
		list = append(list, one)
	}
	slices.SortStableFunc(list, func(a, b plan) int {
		switch {
		case a.feasible && b.feasible:
			return a.best.compare(b.best)
		case a.feasible:
			return -1
		case b.feasible:
			return 1
		}
		return 0
	})
	return list
}
