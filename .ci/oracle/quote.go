package oracle

import (
	"cmp"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"
)

// priced is one need with what its grams cost.
type priced struct {
	*need
	estimate estimate
	per      *big.Rat // nil: no price
	currency string
	cells    [4]*cell // part, support, prime, purge
	likely   *cell
}

// quote is what a queued job will cost.
//
// Readings taken: the rates are those of the date of the instant asked for, by
// its own offset; cells are rounded over the spools by id; lines whose estimates
// run by the same figures share the doubt in k; the client's amount is rounded
// once, half up, and the house carries the rest; without a client it carries all.
func quote(f folder, spools map[string]*spool, names shown, jobs []*job, q question) object {
	j := jobs[slices.IndexFunc(jobs, func(j *job) bool { return j.name == fold(q.job) })]
	day := q.asOf.Format("2006-01-02")
	waste, scrap := billed(f, j.needs[0].get("client"), day)
	o := object{
		"job": names.name("job", j.first.get("job")), "client": names.name("client", j.needs[0].get("client")), "printer": names.name("printer", j.needs[0].get("printer")),
		"due": nil, "rates_of": day, "waste_billed": exact{waste}, "scrap_billed": exact{scrap},
	}
	if j.needs[0].get("client") == "" {
		o["waste_billed"], o["scrap_billed"], waste = nil, nil, nil
	}
	if j.due != nil {
		o["due"] = instant(*j.due)
	}
	var lines []*priced
	byCurrency := map[string][]*priced{}
	var unpricedMG int64
	verdict := "enough"
	for _, n := range j.needs {
		material := n.get("material")
		if n.spool != nil {
			material = n.spool.buy.get("material")
		}
		p := &priced{need: n, estimate: estimateOf(f, spools, material)}
		if n.spool != nil {
			p.per, p.currency = n.spool.perGram(), n.spool.currency
		}
		if p.per == nil {
			unpricedMG += n.mg
		} else {
			for kind, name := range kinds[:4] {
				p.cells[kind] = &cell{amount: new(big.Rat).Mul(p.per, big.NewRat(milligrams(n.get(name+"_g")), 1000)), kind: kind}
			}
			p.likely = &cell{amount: p.money(p.estimate.k * grams(n.mg))}
			byCurrency[p.currency] = append(byCurrency[p.currency], p)
		}
		if n.word == "short" || verdict == "enough" {
			verdict = n.word
		}
		lines = append(lines, p)
	}
	o["verdict"], o["unpriced_g"] = verdict, counted(unpricedMG)

	totals := records{}
	for currency, of := range byCurrency {
		totals = append(totals, quoteTotal(currency, of, waste, scrap))
	}
	slices.SortFunc(totals, func(a, b object) int { return strings.Compare(a["currency"].(string), b["currency"].(string)) })
	needs := records{}
	for _, p := range lines {
		needs = append(needs, p.object(names))
	}
	o["needs"], o["totals"] = needs, totals
	return o
}

// billed are a client's shares on a day.
func billed(f folder, client, day string) (waste, scrap *big.Rat) {
	var best *row
	for _, r := range f["clients.csv"] {
		if client != "" && fold(r.get("client")) == fold(client) && r.get("from") <= day && (best == nil || r.get("from") >= best.get("from")) {
			best = r
		}
	}
	if best == nil {
		return big.NewRat(1, 1), new(big.Rat)
	}
	return rational(cmp.Or(best.get("waste_billed"), "1")), rational(cmp.Or(best.get("scrap_billed"), "0"))
}

func (p *priced) money(g float64) *big.Rat {
	return new(big.Rat).Mul(rational(strconv.FormatFloat(g, 'f', -1, 64)), p.per)
}

// u is the doubt in what T grams will take.
func (p *priced) u() float64 {
	t := grams(p.mg)
	return math.Sqrt(square(t*p.estimate.u) + p.estimate.s2*t)
}

func quoteTotal(currency string, lines []*priced, waste, scrap *big.Rat) object {
	places := minorDigits(currency)
	unit := math.Pow10(-places)
	slices.SortFunc(lines, func(a, b *priced) int { return strings.Compare(a.spool.name, b.spool.name) })
	var cells, likely []*cell
	all, client := new(big.Rat), new(big.Rat)
	middle, variance := new(big.Rat), 0.0
	shared := map[estimate]float64{}
	for i, p := range lines {
		for kind, c := range p.cells {
			c.row = i
			cells = append(cells, c)
			all.Add(all, c.amount)
			share := c.amount
			switch {
			case waste == nil:
				share = new(big.Rat)
			case kind > 0:
				share = new(big.Rat).Mul(share, waste)
			}
			client.Add(client, share)
		}
		p.likely.row = i
		likely = append(likely, p.likely)
		middle.Add(middle, p.likely.amount)
		price, _ := p.per.Float64()
		shared[p.estimate] += price * grams(p.mg) * p.estimate.u
		variance += square(price) * p.estimate.s2 * grams(p.mg)
	}
	for _, x := range shared {
		variance += square(x)
	}
	apportion(cells, places)
	apportion(likely, places)
	o := object{"currency": currency}
	sum := new(big.Rat)
	for kind, name := range kinds[:4] {
		of := new(big.Rat)
		for _, p := range lines {
			of.Add(of, p.cells[kind].rounded)
		}
		o[name+"_cost"] = exact{of}
		sum.Add(sum, of)
	}
	client, lost := halfUp(client, places), halfUp(all, places)
	lostToClient := halfUp(new(big.Rat).Mul(all, scrap), places)
	twice := new(big.Rat).SetFloat64(2 * math.Sqrt(variance))
	low := new(big.Rat).Sub(middle, twice)
	if low.Sign() < 0 {
		low.SetInt64(0)
	}
	o["cost"], o["client_cost"], o["house_cost"] = exact{sum}, exact{client}, exact{new(big.Rat).Sub(sum, client)}
	o["scrap_cost"], o["scrap_client_cost"], o["scrap_house_cost"] = exact{lost}, exact{lostToClient}, exact{new(big.Rat).Sub(lost, lostToClient)}
	o["likely_cost"] = about{halfUp(middle, places), unit}
	o["low_cost"], o["high_cost"] = about{halfUp(low, places), unit}, about{halfUp(new(big.Rat).Add(middle, twice), places), unit}
	return o
}

func (p *priced) object(names shown) object {
	material, colour := p.get("material"), p.get("colour")
	o := object{"slot": p.get("slot"), "spool": nil, "spool_from": p.from, "verdict": p.word, "need_g": counted(p.mg), "currency": nil, "price_per_g": nil,
		"k": measure(p.estimate.k), "intervals": p.estimate.intervals, "likely_g": guessed(p.estimate.k * grams(p.mg)), "u_g": measure(p.u())}
	if p.spool != nil {
		material, colour = p.spool.buy.get("material"), p.spool.buy.get("colour")
		o["spool"], o["currency"] = p.spool.name, p.currency
	}
	o["material"], o["colour"] = names.name("material", material), names.name("colour", colour)
	for kind, name := range kinds[:4] {
		o[name+"_g"], o[name+"_cost"] = counted(milligrams(p.get(name+"_g"))), nil
		if p.per != nil {
			o[name+"_cost"] = exact{p.cells[kind].rounded}
		}
	}
	if p.per == nil {
		for _, figure := range []string{"cost", "likely_cost", "low_cost", "high_cost"} {
			o[figure] = nil
		}
		return o
	}
	places := minorDigits(p.currency)
	unit := math.Pow10(-places)
	cost := new(big.Rat)
	for _, c := range p.cells {
		cost.Add(cost, c.rounded)
	}
	likely := p.estimate.k * grams(p.mg)
	o["price_per_g"], o["cost"] = exact{halfUp(p.per, 12)}, exact{cost}
	o["likely_cost"] = about{p.likely.rounded, unit}
	o["low_cost"] = about{halfUp(p.money(max(0, likely-2*p.u())), places), unit}
	o["high_cost"] = about{halfUp(p.money(likely+2*p.u()), places), unit}
	return o
}
