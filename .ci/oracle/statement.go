package oracle

import (
	"cmp"
	"maps"
	"math/big"
	"slices"
	"strings"
)

// lot is an amount of one kind: grams, those of them without a price, and what of
// the price is paid by the client and what by the house.
type lot struct {
	grams, unpriced, paid, carried *big.Rat
	priced                         bool
	gramsOut, paidOut, carriedOut  *big.Rat // rounded
	places                         int
}

func newLot(places int) *lot {
	return &lot{grams: new(big.Rat), unpriced: new(big.Rat), paid: new(big.Rat), carried: new(big.Rat),
		gramsOut: new(big.Rat), paidOut: new(big.Rat), carriedOut: new(big.Rat), places: places}
}

// put adds grams of a spool of which the client pays a share.
func (x *lot) put(g *big.Rat, s *spool, share *big.Rat) {
	x.grams.Add(x.grams, g)
	per := s.perGram()
	if g.Sign() == 0 {
		return
	}
	if per == nil {
		x.unpriced.Add(x.unpriced, g)
		return
	}
	x.priced = true
	cost := per.Mul(per, g)
	paid := new(big.Rat).Mul(cost, share)
	x.paid.Add(x.paid, paid)
	x.carried.Add(x.carried, cost.Sub(cost, paid))
}

// together adds lots that were rounded.
func together(lots ...*lot) *lot {
	sum := newLot(lots[0].places)
	for _, x := range lots {
		for _, p := range [][2]*big.Rat{{sum.grams, x.grams}, {sum.unpriced, x.unpriced}, {sum.paid, x.paid}, {sum.carried, x.carried},
			{sum.gramsOut, x.gramsOut}, {sum.paidOut, x.paidOut}, {sum.carriedOut, x.carriedOut}} {
			p[0].Add(p[0], p[1])
		}
		sum.priced = sum.priced || x.priced
	}
	return sum
}

// money is null where there are grams and none of them has a price. The sum of
// unpriced grams may be 0 where some were lost and as many found.
func (x *lot) money(amount *big.Rat, unpriced bool) any {
	if unpriced && !x.priced {
		return nil
	}
	return exact{amount}
}

// spread hands a total out in units, one after the other, each to the amount that
// is cut off the most; of equals to the larger, then to the first.
func spread(amounts []*big.Rat, total *big.Rat, places int) []*big.Rat {
	unit := new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(places)), nil))
	out := make([]*big.Rat, len(amounts))
	left := new(big.Rat).Set(total)
	for i, a := range amounts {
		n := new(big.Rat).Quo(a, unit)
		out[i] = new(big.Rat).Mul(new(big.Rat).SetInt(new(big.Int).Quo(n.Num(), n.Denom())), unit)
		left.Sub(left, out[i])
	}
	given := make([]bool, len(amounts))
	for left.Sign() > 0 {
		best := -1
		for i := range amounts {
			if given[i] {
				continue
			}
			if best < 0 {
				best = i
				continue
			}
			cut := new(big.Rat).Sub(amounts[i], out[i]).Cmp(new(big.Rat).Sub(amounts[best], out[best]))
			if cut > 0 || cut == 0 && amounts[i].Cmp(amounts[best]) > 0 {
				best = i
			}
		}
		given[best] = true
		out[best] = new(big.Rat).Add(out[best], unit)
		left.Sub(left, unit)
	}
	return out
}

// signed is spread for each sign apart, to its own half-up total.
func signed(amounts []*big.Rat, places int) []*big.Rat {
	out := make([]*big.Rat, len(amounts))
	for i := range out {
		out[i] = new(big.Rat)
	}
	for _, sign := range []int64{1, -1} {
		var of []int
		var list []*big.Rat
		total := new(big.Rat)
		for i, a := range amounts {
			if a.Sign() == int(sign) {
				abs := new(big.Rat).Abs(a)
				of, list = append(of, i), append(list, abs)
				total.Add(total, abs)
			}
		}
		for n, r := range spread(list, halfUp(total, places), places) {
			out[of[n]] = r.Mul(r, big.NewRat(sign, 1))
		}
	}
	return out
}

// ratesOn gives the shares of waste and scrap that a client pays on a day, and the
// day since when; listed is false where no row of the table has begun.
func ratesOn(f folder, client, day string) (waste, scrap *big.Rat, since string, listed bool) {
	waste, scrap = big.NewRat(1, 1), new(big.Rat)
	for _, r := range f["clients.csv"] {
		if fold(r.get("client")) != fold(client) || r.get("from") > day || listed && r.get("from") < since {
			continue
		}
		listed, since = true, r.get("from")
		waste, scrap = big.NewRat(1, 1), new(big.Rat)
		if x := r.get("waste_billed"); x != "" {
			waste = rational(x)
		}
		if x := r.get("scrap_billed"); x != "" {
			scrap = rational(x)
		}
	}
	return waste, scrap, since, listed
}

// sharesOn are what the client of a row pays of each kind.
func sharesOn(f folder, r *row) map[string]*big.Rat {
	none := new(big.Rat)
	if r.get("client") == "" {
		return map[string]*big.Rat{"part": none, "support": none, "prime": none, "purge": none, "scrap": none}
	}
	waste, scrap, _, _ := ratesOn(f, r.get("client"), r.at.Format("2006-01-02"))
	return map[string]*big.Rat{"part": big.NewRat(1, 1), "support": waste, "prime": waste, "purge": waste, "scrap": scrap}
}

// eachKind gives the grams of a row by what became of them.
func eachKind(r *row, give func(kind string, g *big.Rat)) {
	for _, kind := range kinds[:4] {
		g := big.NewRat(milligrams(r.get(kind+"_g")), 1000)
		if r.get("outcome") == "failed" {
			kind = "scrap"
		}
		give(kind, g)
	}
}

func newLots(names []string, places int) map[string]*lot {
	lots := map[string]*lot{}
	for _, name := range names {
		lots[name] = newLot(places)
	}
	return lots
}

func inOrder(lots map[string]*lot, names []string) (list []*lot) {
	for _, name := range names {
		list = append(list, lots[name])
	}
	return list
}

// billRow is one job in one currency.
type billRow struct {
	job, currency    string
	finished, failed bool
	last             *row
	lots             map[string]*lot
}

// statement is what `statement CLIENT` answers.
//
// Readings taken: the row of a job's last print is the last by instant; of two
// rows of one instant either clock will do.
func statement(f folder, l *ledgers, spools map[string]*spool, names shown, client string, q question) object {
	rows := map[[2]string]*billRow{}
	type used struct {
		since  string
		listed bool
	}
	terms := map[used]object{}
	for _, r := range l.live["consumption.csv"] {
		if fold(r.get("client")) != fold(client) || !within(r, q) {
			continue
		}
		s := spools[fold(r.get("spool"))]
		id := [2]string{names.name("job", r.get("job")), s.currency}
		b := rows[id]
		if b == nil {
			b = &billRow{job: id[0], currency: s.currency, lots: newLots(kinds, minorDigits(s.currency))}
			rows[id] = b
		}
		if r.get("outcome") == "failed" {
			b.failed = true
		} else {
			b.finished = true
		}
		if b.last == nil || r.at.After(b.last.at) {
			b.last = r
		}
		shares := sharesOn(f, r)
		eachKind(r, func(kind string, g *big.Rat) { b.lots[kind].put(g, s, shares[kind]) })
		waste, scrap, since, listed := ratesOn(f, client, r.at.Format("2006-01-02"))
		terms[used{since, listed}] = object{"from": orNull(since), "listed": listed, "waste_billed": exact{waste}, "scrap_billed": exact{scrap}}
	}
	sorted := slices.SortedFunc(maps.Values(rows), func(a, b *billRow) int {
		return cmp.Or(strings.Compare(a.job, b.job), strings.Compare(a.currency, b.currency))
	})
	currencies := map[string][]*billRow{}
	for _, b := range sorted {
		currencies[b.currency] = append(currencies[b.currency], b)
	}
	totals := records{}
	for _, currency := range slices.Sorted(maps.Keys(currencies)) {
		places := minorDigits(currency)
		var all []*lot
		for _, b := range currencies[currency] {
			all = append(all, inOrder(b.lots, kinds)...)
		}
		var paid, carried []*big.Rat
		for _, x := range all {
			paid, carried = append(paid, x.paid), append(carried, x.carried)
			x.gramsOut = x.grams
		}
		sum := together(all...)
		toPay := halfUp(sum.paid, places)
		cost := halfUp(new(big.Rat).Add(sum.paid, sum.carried), places)
		paid, carried = spread(paid, toPay, places), spread(carried, cost.Sub(cost, toPay), places)
		for i, x := range all {
			x.paidOut, x.carriedOut = paid[i], carried[i]
		}
		total := &billRow{currency: currency, lots: map[string]*lot{}}
		for _, kind := range kinds {
			var column []*lot
			for _, b := range currencies[currency] {
				column = append(column, b.lots[kind])
			}
			total.lots[kind] = together(column...)
		}
		totals = append(totals, total.object())
	}
	answer := object{"client": names.name("client", client), "name": nameBy(f, client, q), "listed": f.find("clients.csv", "client", client) != nil,
		"rates": records{}, "rows": records{}, "totals": totals}
	for _, key := range slices.SortedFunc(maps.Keys(terms), func(a, b used) int {
		if a.listed != b.listed {
			if a.listed {
				return 1
			}
			return -1
		}
		return strings.Compare(a.since, b.since)
	}) {
		answer["rates"] = append(answer["rates"].(records), terms[key])
	}
	for _, b := range sorted {
		answer["rows"] = append(answer["rows"].(records), b.object())
	}
	return answer
}

func orNull(text string) any {
	if text == "" {
		return nil
	}
	return text
}

// nameBy is the name that the table gives a client at the end of the time asked for.
func nameBy(f folder, client string, q question) string {
	end := cmp.Or(q.to, "9999-12-31")
	if q.month != "" {
		end = q.month + "-31"
	}
	var begun, later *row
	for _, r := range f["clients.csv"] {
		switch {
		case fold(r.get("client")) != fold(client) || r.get("name") == "":
		case r.get("from") <= end:
			if begun == nil || r.get("from") > begun.get("from") {
				begun = r
			}
		case later == nil || r.get("from") < later.get("from"):
			later = r
		}
	}
	if begun = cmp.Or(begun, later); begun != nil {
		return begun.get("name")
	}
	return ""
}

func (b *billRow) object() object {
	o := object{"job": b.job, "currency": b.currency, "ended": ignored{}}
	if b.last != nil {
		o["ended"] = instant(b.last.at)
	}
	o["outcome"] = map[[2]bool]string{{true, false}: "finished", {false, true}: "failed", {true, true}: "finished and failed", {}: ""}[[2]bool{b.finished, b.failed}]
	all := together(inOrder(b.lots, kinds)...)
	for _, kind := range kinds {
		x := b.lots[kind]
		unpriced := x.unpriced.Sign() != 0
		o[kind+"_g"] = exact{x.grams}
		o[kind+"_cost"] = x.money(new(big.Rat).Add(x.paidOut, x.carriedOut), unpriced)
		o[kind+"_bill"] = x.money(x.paidOut, unpriced)
	}
	unpriced := all.unpriced.Sign() != 0
	o["all_g"], o["unpriced_g"] = exact{all.grams}, exact{all.unpriced}
	o["bill"], o["house"] = all.money(all.paidOut, unpriced), all.money(all.carriedOut, unpriced)
	o["cost"] = all.money(new(big.Rat).Add(all.paidOut, all.carriedOut), unpriced)
	o["flags"] = flags{}
	if unpriced {
		o["flags"] = flags{"unpriced"}
	}
	return o
}

var losses = []string{"lost", "found", "remainder"}

// lossRow is one client's jobs, or one spool, in one currency.
type lossRow struct {
	client, spool, currency string
	kinds                   []string
	lots                    map[string]*lot
	unpriced                map[string]bool
}

func newLossRow(client, spool, currency string, kinds []string) *lossRow {
	return &lossRow{client, spool, currency, kinds, newLots(kinds, minorDigits(currency)), map[string]bool{}}
}

func (r *lossRow) put(kind string, g *big.Rat, s *spool) {
	if g.Sign() != 0 && s.perGram() == nil {
		r.unpriced[kind] = true
	}
	r.lots[kind].put(g, s, new(big.Rat))
}

func (r *lossRow) object() object {
	o := object{"client": r.client, "currency": r.currency}
	if r.kinds[0] == "lost" {
		o = object{"spool": r.spool, "currency": r.currency}
	}
	all := together(inOrder(r.lots, r.kinds)...)
	for _, kind := range r.kinds {
		x := r.lots[kind]
		o[kind+"_g"], o[kind+"_cost"] = exact{x.gramsOut}, x.money(x.carriedOut, r.unpriced[kind])
	}
	o["all_g"], o["cost"] = exact{all.gramsOut}, all.money(all.carriedOut, len(r.unpriced) > 0)
	o["flags"] = flags{}
	if len(r.unpriced) > 0 {
		o["flags"] = flags{"unpriced"}
	}
	return o
}

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

// house is what `statement --house` answers.
func house(f folder, l *ledgers, spools map[string]*spool, names shown, q question) object {
	byClient := map[[2]string]*lossRow{}
	for _, r := range l.live["consumption.csv"] {
		if !within(r, q) {
			continue
		}
		s := spools[fold(r.get("spool"))]
		id := [2]string{names.name("client", r.get("client")), s.currency}
		shares := sharesOn(f, r)
		eachKind(r, func(kind string, g *big.Rat) {
			g.Sub(g, new(big.Rat).Mul(g, shares[kind]))
			if g.Sign() == 0 {
				return
			}
			if byClient[id] == nil {
				byClient[id] = newLossRow(id[0], "", s.currency, kinds)
			}
			byClient[id].put(kind, g, s)
		})
	}
	var water int64
	bySpool := map[string]*lossRow{}
	for _, s := range spools {
		row := newLossRow("", s.name, s.currency, losses)
		put := func(kind string, mg int64) {
			if mg != 0 {
				bySpool[s.name] = row
				row.put(kind, big.NewRat(mg, 1000), s)
			}
		}
		for _, d := range s.drifts() {
			if !within(d.row, q) {
				continue
			}
			water += d.waterMG
			put("lost", d.lostMG)
			put("found", d.foundMG)
			put("remainder", d.remainderMG)
		}
	}
	clients := slices.SortedFunc(maps.Values(byClient), func(a, b *lossRow) int {
		return cmp.Or(strings.Compare(a.client, b.client), strings.Compare(a.currency, b.currency))
	})
	ended := slices.SortedFunc(maps.Values(bySpool), func(a, b *lossRow) int { return strings.Compare(a.spool, b.spool) })
	answer := object{"clients": records{}, "spools": records{}, "totals": records{}, "water_g": counted(water)}
	currencies := map[string][]*lossRow{}
	for _, r := range slices.Concat(clients, ended) {
		currencies[r.currency] = append(currencies[r.currency], r)
	}
	for _, currency := range slices.Sorted(maps.Keys(currencies)) {
		var all []*lot
		for _, r := range currencies[currency] {
			all = append(all, inOrder(r.lots, r.kinds)...)
		}
		var costs, masses []*big.Rat
		for _, x := range all {
			costs, masses = append(costs, x.carried), append(masses, x.grams)
		}
		costs, masses = signed(costs, minorDigits(currency)), signed(masses, 3)
		for i, x := range all {
			x.carriedOut, x.gramsOut = costs[i], masses[i]
		}
		jobs, shelf := newLossRow("", "", currency, kinds), newLossRow("", "", currency, losses)
		for _, r := range currencies[currency] {
			total := jobs
			if r.kinds[0] == "lost" {
				total = shelf
			}
			for _, kind := range r.kinds {
				total.lots[kind] = together(total.lots[kind], r.lots[kind])
			}
			maps.Copy(total.unpriced, r.unpriced)
		}
		sum := together(append(inOrder(jobs.lots, kinds), inOrder(shelf.lots, losses)...)...)
		o := object{"currency": currency, "jobs": jobs.object(), "spools": shelf.object(), "all_g": exact{sum.gramsOut}, "flags": flags{}}
		unpriced := len(jobs.unpriced)+len(shelf.unpriced) > 0
		if unpriced {
			o["flags"] = flags{"unpriced"}
		}
		o["cost"] = sum.money(sum.carriedOut, unpriced)
		answer["totals"] = append(answer["totals"].(records), o)
	}
	for _, r := range clients {
		answer["clients"] = append(answer["clients"].(records), r.object())
	}
	for _, r := range ended {
		answer["spools"] = append(answer["spools"].(records), r.object())
	}
	return answer
}
