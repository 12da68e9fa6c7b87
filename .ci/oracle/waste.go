package oracle

import (
	"cmp"
	"math/big"
	"slices"
	"strings"
)

// kinds of cost, in the order that breaks ties.
var kinds = []string{"part", "support", "prime", "purge", "scrap"}

// wasteRow gathers the grams and the exact costs under one key and currency.
type wasteRow struct {
	key, currency string
	jobs          map[string]bool
	mg            map[string]int64
	cost          map[string]*big.Rat
	rounded       map[string]*big.Rat
	unpricedMG    int64
}

func newWasteRow(key, currency string) *wasteRow {
	r := &wasteRow{key: key, currency: currency, jobs: map[string]bool{}, mg: map[string]int64{}, cost: map[string]*big.Rat{}, rounded: map[string]*big.Rat{}}
	for _, k := range kinds {
		r.cost[k], r.rounded[k] = new(big.Rat), new(big.Rat)
	}
	return r
}

func (r *wasteRow) add(kind string, mg int64, s *spool) {
	r.mg[kind] += mg
	per := s.perGram()
	if per == nil {
		r.unpricedMG += mg
		return
	}
	r.cost[kind].Add(r.cost[kind], per.Mul(per, big.NewRat(mg, 1000)))
}

// waste is what `waste --by` answers.
//
// Readings taken: a blank job is no name and does not count in jobs; grams of
// an unpriced spool stand in the row of that spool's currency; rows stand by key
// as shown, byte by byte, then by currency; the key of a total is nobody's
// business.
func waste(l *ledgers, spools map[string]*spool, names shown, q question) object {
	by := cmp.Or(q.by, "client")
	rows := map[[2]string]*wasteRow{}
	totals := map[string]*wasteRow{}
	for _, r := range l.live["consumption.csv"] {
		s := spools[fold(r.get("spool"))]
		if !within(r, q) {
			continue
		}
		if !q.filters(r, s) {
			continue
		}
		var key string
		switch by {
		case "spool":
			key = s.name
		case "material", "colour", "lot", "maker":
			key = names.name(by, s.inherited(by))
		case "month":
			key = r.at.Format("2006-01")
		default:
			key = names.name(by, r.get(by))
		}
		id := [2]string{key, s.currency}
		if rows[id] == nil {
			rows[id] = newWasteRow(key, s.currency)
		}
		if totals[s.currency] == nil {
			totals[s.currency] = newWasteRow("", s.currency)
		}
		for _, w := range []*wasteRow{rows[id], totals[s.currency]} {
			if job := r.get("job"); job != "" {
				w.jobs[fold(job)] = true
			}
			for _, kind := range kinds[:4] {
				mg := milligrams(r.get(kind + "_g"))
				if r.get("outcome") == "failed" {
					kind = "scrap"
				}
				w.add(kind, mg, s)
			}
		}
	}

	order := func(a, b *wasteRow) int {
		return cmp.Or(strings.Compare(a.key, b.key), strings.Compare(a.currency, b.currency))
	}
	var sorted, sums []*wasteRow
	for _, r := range rows {
		sorted = append(sorted, r)
	}
	for _, t := range totals {
		sums = append(sums, t)
	}
	slices.SortFunc(sorted, order)
	slices.SortFunc(sums, order)
	for _, t := range sums {
		places := minorDigits(t.currency)
		totals := make([]*cell, len(kinds))
		for j, kind := range kinds {
			totals[j] = &cell{amount: t.cost[kind], kind: j}
		}
		apportion(totals, places)
		for j, kind := range kinds {
			t.rounded[kind] = totals[j].rounded
			var cells []*cell
			for i, r := range sorted {
				if r.currency == t.currency {
					cells = append(cells, &cell{amount: r.cost[kind], row: i, kind: j})
				}
			}
			apportionTo(cells, totals[j].rounded, places)
			for _, c := range cells {
				sorted[c.row].rounded[kind] = c.rounded
			}
		}
	}
	answer := object{"by": by, "rows": records{}, "totals": records{}}
	for _, r := range sorted {
		answer["rows"] = append(answer["rows"].(records), r.object(r.key, 1))
	}
	for _, t := range sums {
		answer["totals"] = append(answer["totals"].(records), t.object(ignored{}, len(sorted)))
	}
	return answer
}

// within holds a row against --month, --from and --to by the row's own offset.
func within(r *row, q question) bool {
	day := r.at.Format("2006-01-02")
	return (q.month == "" || day[:7] == q.month) && (q.from == "" || day >= q.from) && (q.to == "" || day <= q.to)
}

// filters holds a row against --client, --spool, --lot, --maker and --material.
func (q question) filters(r *row, s *spool) bool {
	for _, c := range []struct{ wanted, has string }{
		{q.client, r.get("client")}, {q.spool, s.name}, {q.lot, s.inherited("lot")}, {q.maker, s.inherited("maker")}, {q.material, s.buy.get("material")},
	} {
		if c.wanted != "" && fold(c.wanted) != fold(c.has) {
			return false
		}
	}
	return true
}

// object tells a row of so many cells a kind: before the bills step each of them
// was rounded in another way.
func (r *wasteRow) object(key any, cells int) object {
	money := func(x *big.Rat, kinds int) any {
		if bills.on() {
			return exact{x}
		}
		unit := 1.0
		for range minorDigits(r.currency) {
			unit /= 10
		}
		return about{x, unit * float64(cells*kinds+1)}
	}
	o := object{"key": key, "currency": r.currency, "jobs": len(r.jobs), "unpriced_g": counted(r.unpricedMG)}
	var wasteMG, allMG int64
	wasteCost := new(big.Rat)
	for _, k := range kinds {
		o[k+"_g"], o[k+"_cost"] = counted(r.mg[k]), money(r.rounded[k], 1)
		allMG += r.mg[k]
		if k != "part" {
			wasteMG += r.mg[k]
			wasteCost.Add(wasteCost, r.rounded[k])
		}
	}
	o["waste_g"], o["waste_cost"] = counted(wasteMG), money(wasteCost, 4)
	share := 0.0
	if allMG > 0 {
		share = float64(wasteMG) / float64(allMG)
	}
	o["waste_share"] = measure(share)
	return o
}

// cell is one amount to be rounded: row x kind of cost.
type cell struct {
	amount, rounded *big.Rat
	row, kind       int
}

// apportion rounds by the largest remainder to the half-up grand total. No cost of
// waste is negative, so there is one sign.
func apportion(cells []*cell, decimals int) {
	total := new(big.Rat)
	for _, c := range cells {
		total.Add(total, c.amount)
	}
	apportionTo(cells, halfUp(total, decimals), decimals)
}

// apportionTo rounds to a total that is rounded already. Of equal remainders the
// larger amount is first, then the row and the kind.
func apportionTo(cells []*cell, total *big.Rat, decimals int) {
	scale := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(decimals)), nil)
	floors := new(big.Int)
	type part struct {
		*cell
		floor *big.Int
		rest  *big.Rat
	}
	var parts []part
	for _, c := range cells {
		minor := new(big.Rat).Mul(c.amount, new(big.Rat).SetInt(scale))
		floor := new(big.Int).Div(minor.Num(), minor.Denom())
		floors.Add(floors, floor)
		parts = append(parts, part{c, floor, minor.Sub(minor, new(big.Rat).SetInt(floor))})
	}
	target := new(big.Rat).Mul(total, new(big.Rat).SetInt(scale))
	missing := new(big.Int).Sub(target.Num(), floors).Int64()
	slices.SortFunc(parts, func(a, b part) int {
		return cmp.Or(b.rest.Cmp(a.rest), b.amount.Cmp(a.amount), cmp.Compare(a.row, b.row), cmp.Compare(a.kind, b.kind))
	})
	for i, p := range parts {
		if int64(i) < missing {
			p.floor.Add(p.floor, big.NewInt(1))
		}
		p.rounded = new(big.Rat).SetFrac(p.floor, scale)
	}
}
