package oracle

import (
	"cmp"
	"maps"
	"math/big"
	"slices"
	"strings"
)

// line is what a bill says of one job, spool, kind and share.
type line struct {
	client, job string // folded
	spool       *spool
	kind        int // of kinds
	share       *big.Rat
	mg          int64
}

// exactCost is nil without a price.
func (x *line) exactCost() *big.Rat {
	per := x.spool.perGram()
	if per == nil {
		return nil
	}
	return per.Mul(per, big.NewRat(x.mg, 1000))
}

// cost and billed are rounded half up, each by itself; zero without a price.
func (x *line) cost() *big.Rat {
	if x.exactCost() == nil {
		return new(big.Rat)
	}
	return halfUp(x.exactCost(), minorDigits(x.spool.currency))
}

func (x *line) billed() *big.Rat {
	if x.exactCost() == nil {
		return new(big.Rat)
	}
	return halfUp(ratMul(x.exactCost(), x.share), minorDigits(x.spool.currency))
}

func (x *line) house() *big.Rat { return new(big.Rat).Sub(x.cost(), x.billed()) }

func (x *line) object(names shown) object {
	o := object{"spool": x.spool.name, "material": names.name("material", x.spool.buy.get("material")), "colour": names.name("colour", x.spool.buy.get("colour")),
		"kind": kinds[x.kind], "grams": counted(x.mg), "price_per_g": nil, "share": exact{x.share}, "cost": nil, "billed": nil}
	if per := x.spool.perGram(); per != nil {
		o["price_per_g"], o["cost"], o["billed"] = exact{halfUp(per, 12)}, exact{x.cost()}, exact{x.billed()}
	}
	return o
}

// text is the line as it goes into the sum of a bill.
//
// Reading taken: without a price cost and billed are empty, as the price is.
func (x *line) text() string {
	fields := []string{caseFolded(x.job), x.spool.name, kinds[x.kind], big.NewRat(x.mg, 1000).FloatString(3), "", shortestNumber(x.share.FloatString(40)), "", ""}
	if per := x.spool.perGram(); per != nil {
		places := minorDigits(x.spool.currency)
		fields[4], fields[6], fields[7] = halfUp(per, 12).FloatString(12), x.cost().FloatString(places), x.billed().FloatString(places)
	}
	return strings.Join(fields, "\x1f") + "\n"
}

// compareLines orders by job, spool, kind and share.
//
// Reading taken: kinds stand as everywhere (part, support, prime, purge, scrap),
// not by letter, shares by size.
func compareLines(a, b *line) int {
	return cmp.Or(strings.Compare(caseFolded(a.job), caseFolded(b.job)), strings.Compare(a.spool.name, b.spool.name), cmp.Compare(a.kind, b.kind), a.share.Cmp(b.share))
}

// linesOf gathers the rows that are wanted; no line is of 0 g.
func linesOf(f folder, l *ledgers, spools map[string]*spool, wanted func(*row) bool) []*line {
	byKey := map[string]*line{}
	for _, r := range l.live["consumption.csv"] {
		if !wanted(r) {
			continue
		}
		s, shares := spools[fold(r.get("spool"))], sharesOn(f, r)
		eachKind(r, func(kind string, g *big.Rat) {
			if g.Sign() == 0 {
				return
			}
			x := &line{client: fold(r.get("client")), job: fold(r.get("job")), spool: s, kind: slices.Index(kinds, kind), share: shares[kind]}
			key := strings.Join([]string{x.client, x.job, s.name, kind, x.share.RatString()}, "\x1f")
			if byKey[key] == nil {
				byKey[key] = x
			}
			byKey[key].mg += g.Mul(g, count(1000)).Num().Int64()
		})
	}
	return slices.SortedFunc(maps.Values(byKey), func(a, b *line) int {
		return cmp.Or(strings.Compare(a.client, b.client), compareLines(a, b))
	})
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

// billRow is one job in one currency.
type billRow struct {
	job, currency    string
	finished, failed bool
	last             *row
	mg               map[string]int64
	lines            []*line
}

// statement is what `statement CLIENT` answers of the rows that are wanted.
//
// Readings taken: the row of a job's last print is the last by instant; of two
// rows of one instant either clock will do. The order of jobs is not said.
func statement(f folder, l *ledgers, spools map[string]*spool, names shown, client string, q question, wanted func(*row) bool) object {
	rows := map[[2]string]*billRow{}
	type used struct {
		since  string
		listed bool
	}
	terms := map[used]object{}
	of := func(job, currency string) *billRow {
		id := [2]string{names.name("job", job), currency}
		if rows[id] == nil {
			rows[id] = &billRow{job: id[0], currency: currency, mg: map[string]int64{}}
		}
		return rows[id]
	}
	ours := func(r *row) bool { return fold(r.get("client")) == fold(client) && wanted(r) }
	for _, r := range l.live["consumption.csv"] {
		if !ours(r) {
			continue
		}
		b := of(r.get("job"), spools[fold(r.get("spool"))].currency)
		if r.get("outcome") == "failed" {
			b.failed = true
		} else {
			b.finished = true
		}
		if b.last == nil || r.at.After(b.last.at) {
			b.last = r
		}
		eachKind(r, func(kind string, g *big.Rat) { b.mg[kind] += g.Mul(g, count(1000)).Num().Int64() })
		waste, scrap, since, listed := ratesOn(f, client, r.at.Format("2006-01-02"))
		terms[used{since, listed}] = object{"from": orNull(since), "listed": listed, "waste_billed": exact{waste}, "scrap_billed": exact{scrap}}
	}
	totals := map[string]*billRow{}
	for _, x := range linesOf(f, l, spools, ours) {
		b := of(x.job, x.spool.currency)
		b.lines = append(b.lines, x)
	}
	sorted := slices.SortedFunc(maps.Values(rows), func(a, b *billRow) int {
		return cmp.Or(strings.Compare(a.job, b.job), strings.Compare(a.currency, b.currency))
	})
	for _, b := range sorted {
		if totals[b.currency] == nil {
			totals[b.currency] = &billRow{currency: b.currency, mg: map[string]int64{}}
		}
		total := totals[b.currency]
		total.lines = append(total.lines, b.lines...)
		for kind, mg := range b.mg {
			total.mg[kind] += mg
		}
	}
	answer := object{"client": names.name("client", client), "name": nameBy(f, client, q), "listed": f.find("clients.csv", "client", client) != nil,
		"rates": records{}, "rows": unordered{}, "totals": records{}}
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
		o := b.object()
		told := records{}
		for _, x := range b.lines {
			told = append(told, x.object(names))
		}
		o["lines"] = bills.then(told)
		answer["rows"] = append(answer["rows"].(unordered), o)
	}
	for _, currency := range slices.Sorted(maps.Keys(totals)) {
		answer["totals"] = append(answer["totals"].(records), totals[currency].object())
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

// money sums what lines come to; null where none of them has a price.
func money(lines []*line, of func(*line) *big.Rat) any {
	sum, priced := new(big.Rat), len(lines) == 0
	for _, x := range lines {
		priced = priced || x.exactCost() != nil
		sum.Add(sum, of(x))
	}
	if !priced {
		return nil
	}
	return settled(sum, lines)
}

// settled: before the bills step sums were rounded in another way, by no more than
// a minor unit a line.
func settled(sum *big.Rat, lines []*line) any {
	if bills.on() || len(lines) == 0 {
		return exact{sum}
	}
	unit := 1.0
	for range minorDigits(lines[0].spool.currency) {
		unit /= 10
	}
	return about{sum, unit * float64(1+len(lines))}
}

func ofKind(lines []*line, kind int) (list []*line) {
	for _, x := range lines {
		if x.kind == kind {
			list = append(list, x)
		}
	}
	return list
}

func (b *billRow) object() object {
	o := object{"job": b.job, "currency": b.currency, "ended": ignored{}}
	if b.last != nil {
		o["ended"] = instant(b.last.at)
	}
	o["outcome"] = map[[2]bool]string{{true, false}: "finished", {false, true}: "failed", {true, true}: "finished and failed", {}: ""}[[2]bool{b.finished, b.failed}]
	var all, unpriced int64
	for _, x := range b.lines {
		all += x.mg
		if x.exactCost() == nil {
			unpriced += x.mg
		}
	}
	for kind, name := range kinds {
		lines := ofKind(b.lines, kind)
		o[name+"_g"], o[name+"_cost"], o[name+"_bill"] = counted(b.mg[name]), money(lines, (*line).cost), money(lines, (*line).billed)
	}
	o["all_g"], o["unpriced_g"] = counted(all), counted(unpriced)
	o["bill"], o["house"], o["cost"] = money(b.lines, (*line).billed), money(b.lines, (*line).house), money(b.lines, (*line).cost)
	o["flags"] = flags{}
	if unpriced != 0 {
		o["flags"] = flags{"unpriced"}
	}
	return o
}
