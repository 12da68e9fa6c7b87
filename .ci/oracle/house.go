package oracle

import (
	"cmp"
	"maps"
	"math/big"
	"slices"
	"strings"
)

var losses = []string{"lost", "found", "remainder"}

// drift is what a weigh-in found the house to have lost, found (below 0) or left
// on an ended spool.
type drift struct {
	*row
	lostMG, foundMG, remainderMG, waterMG int64
}

// drifts are those of its weigh-ins.
//
// Readings taken: a weigh-in that ends a spool and measured something has a
// variance too, and what it measured is the remainder; where nothing was measured
// the remainder is what the book held, also below 0. A dried variance above 0 is
// found, and is no gain that a later drying could take back.
func (s *spool) drifts() []drift {
	var list []drift
	var variances []int64 // since the purchase or the last drying
	for _, w := range s.weighed {
		if w.afterEnd || w.early {
			continue
		}
		d := drift{row: w.row}
		if w.measuredMG != nil {
			variance := *w.measuredMG - w.bookMG
			switch {
			case variance > 0:
				d.foundMG = -variance
			case state(w.row) == "dried":
				back := min(-variance, greatestLatest(variances))
				d.foundMG, d.waterMG = back, -variance-back
			default:
				d.lostMG = -variance
			}
			variances = append(variances, variance)
			if state(w.row) == "dried" {
				variances = nil
			}
		}
		if st := state(w.row); st == "empty" || st == "discarded" {
			d.remainderMG = w.bookMG
			if w.measuredMG != nil {
				d.remainderMG = *w.measuredMG
			}
		}
		list = append(list, d)
	}
	return list
}

// greatestLatest is the greatest sum of the last j, over all j from 0.
func greatestLatest(list []int64) int64 {
	var sum, greatest int64
	for _, x := range slices.Backward(list) {
		sum += x
		greatest = max(greatest, sum)
	}
	return greatest
}

// houseCell is one kind of one client's jobs, or of one spool.
type houseCell struct {
	grams, cost      *big.Rat // cost is rounded already
	priced, unpriced bool     // grams with a price, without
	lines            []*line  // of jobs
}

// houseRow is one client's jobs, or one spool, or a total, in one currency.
type houseRow struct {
	name, currency string
	kinds          []string
	cells          map[string]*houseCell
}

func newHouseRow(name, currency string, kinds []string) *houseRow {
	r := &houseRow{name, currency, kinds, map[string]*houseCell{}}
	for _, kind := range kinds {
		r.cells[kind] = &houseCell{grams: new(big.Rat), cost: new(big.Rat)}
	}
	return r
}

func (c *houseCell) add(grams, cost *big.Rat, priced bool) {
	c.grams.Add(c.grams, grams)
	c.cost.Add(c.cost, cost)
	if grams.Sign() != 0 {
		c.priced, c.unpriced = c.priced || priced, c.unpriced || !priced
	}
}

// together adds cells that were rounded.
func together(cells ...*houseCell) *houseCell {
	sum := &houseCell{grams: new(big.Rat), cost: new(big.Rat)}
	for _, c := range cells {
		sum.grams.Add(sum.grams, c.grams)
		sum.cost.Add(sum.cost, c.cost)
		sum.priced, sum.unpriced = sum.priced || c.priced, sum.unpriced || c.unpriced
		sum.lines = append(sum.lines, c.lines...)
	}
	return sum
}

func (r *houseRow) inOrder() (list []*houseCell) {
	for _, kind := range r.kinds {
		list = append(list, r.cells[kind])
	}
	return list
}

// money is null where there are grams and none of them has a price.
func (c *houseCell) money(currency string, doubt int) any {
	if c.unpriced && !c.priced {
		return nil
	}
	if bills.on() {
		return exact{c.cost}
	}
	unit := 1.0
	for range minorDigits(currency) {
		unit /= 10
	}
	return about{c.cost, unit * float64(2+len(c.lines)+doubt)}
}

// mass: how shares of grams are rounded is not said of jobs; of spools they are
// whole thousandths.
func (c *houseCell) mass(doubt int) any {
	if c.lines == nil && doubt == 0 && bills.on() {
		return exact{c.grams}
	}
	return about{c.grams, 0.001 * float64(1+len(c.lines)+doubt)}
}

func (r *houseRow) object(doubt int) object {
	o := object{"client": r.name, "currency": r.currency}
	if r.kinds[0] == "lost" {
		o = object{"spool": r.name, "currency": r.currency}
	}
	all := together(r.inOrder()...)
	for _, kind := range r.kinds {
		o[kind+"_g"], o[kind+"_cost"] = r.cells[kind].mass(doubt), r.cells[kind].money(r.currency, doubt)
	}
	o["all_g"], o["cost"] = all.mass(doubt), all.money(r.currency, doubt)
	o["flags"] = flags{}
	if all.unpriced {
		o["flags"] = flags{"unpriced"}
	}
	return o
}

// house is what `statement --house` answers.
//
// Reading taken: a client stands here if the house carries any grams of its jobs.
func house(f folder, l *ledgers, spools map[string]*spool, names shown, q question) object {
	byClient := map[[2]string]*houseRow{}
	for _, x := range linesOf(f, l, spools, func(r *row) bool { return within(r, q) }) {
		g := ratMul(big.NewRat(x.mg, 1000), new(big.Rat).Sub(count(1), x.share))
		if g.Sign() == 0 {
			continue
		}
		id := [2]string{names.name("client", x.client), x.spool.currency}
		if byClient[id] == nil {
			byClient[id] = newHouseRow(id[0], id[1], kinds)
		}
		c := byClient[id].cells[kinds[x.kind]]
		c.add(g, x.house(), x.exactCost() != nil)
		c.lines = append(c.lines, x)
	}
	var water int64
	bySpool := map[string]*houseRow{}
	for _, s := range spools {
		sums, any := map[string]int64{}, false
		row := newHouseRow(s.name, s.currency, losses)
		for _, d := range s.drifts() {
			if !within(d.row, q) {
				continue
			}
			water += d.waterMG
			for kind, mg := range map[string]int64{"lost": d.lostMG, "found": d.foundMG, "remainder": d.remainderMG} {
				sums[kind] += mg
				any = any || mg != 0
				row.cells[kind].unpriced = row.cells[kind].unpriced || mg != 0 && s.perGram() == nil
				row.cells[kind].priced = row.cells[kind].priced || mg != 0 && s.perGram() != nil
			}
		}
		if !any {
			continue
		}
		bySpool[s.name] = row
		for kind, mg := range sums {
			c := row.cells[kind]
			c.grams = big.NewRat(mg, 1000)
			if per := s.perGram(); per != nil {
				c.cost = awayFrom0(per.Mul(per, c.grams), minorDigits(s.currency))
			}
		}
	}
	clients := slices.SortedFunc(maps.Values(byClient), func(a, b *houseRow) int {
		return cmp.Or(strings.Compare(a.name, b.name), strings.Compare(a.currency, b.currency))
	})
	lost := slices.SortedFunc(maps.Values(bySpool), func(a, b *houseRow) int { return strings.Compare(a.name, b.name) })
	answer := object{"clients": records{}, "spools": records{}, "totals": records{}, "water_g": counted(water)}
	currencies := map[string][]*houseRow{}
	for _, r := range slices.Concat(clients, lost) {
		currencies[r.currency] = append(currencies[r.currency], r)
	}
	for _, currency := range slices.Sorted(maps.Keys(currencies)) {
		jobs, shelf := newHouseRow("", currency, kinds), newHouseRow("", currency, losses)
		doubt := 0
		for _, r := range currencies[currency] {
			total := jobs
			if r.kinds[0] == "lost" {
				total = shelf
				if !bills.on() {
					doubt++
				}
			}
			for _, kind := range r.kinds {
				total.cells[kind] = together(total.cells[kind], r.cells[kind])
			}
		}
		sum := together(append(jobs.inOrder(), shelf.inOrder()...)...)
		o := object{"currency": currency, "jobs": jobs.object(doubt), "spools": shelf.object(doubt), "all_g": sum.mass(doubt), "cost": sum.money(currency, 3*doubt), "flags": flags{}}
		if sum.unpriced {
			o["flags"] = flags{"unpriced"}
		}
		answer["totals"] = append(answer["totals"].(records), o)
	}
	for _, r := range clients {
		answer["clients"] = append(answer["clients"].(records), r.object(0))
	}
	for _, r := range lost {
		answer["spools"] = append(answer["spools"].(records), r.object(0))
	}
	return answer
}

// awayFrom0 rounds half up, of amounts below 0 by their size.
func awayFrom0(x *big.Rat, places int) *big.Rat {
	if x.Sign() < 0 {
		size := halfUp(new(big.Rat).Neg(x), places)
		return size.Neg(size)
	}
	return halfUp(x, places)
}
