package cost_test

import (
	"fmt"
	"maps"
	"math/big"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// spent gathers what all lines should hold, row by row: grams by client, job, spool, kind and share.
type spent struct {
	shelf    *inventory.Shelf
	rates    *cost.Rates
	from, to string
	lines    map[string]map[string]ledger.Grams // by client, then as "job spool kind share"
	shares   map[string]*big.Rat                // of a line
	clients  map[string]bool
}

func (s *spent) Reset() {
	s.lines, s.shares, s.clients = map[string]map[string]ledger.Grams{}, map[string]*big.Rat{}, map[string]bool{}
}

func (s *spent) Add(row *ledger.Consumption) {
	spool := s.shelf.Spool(row.Spool)
	if spool == nil {
		return
	}
	client := strings.Clone(ledger.Fold(row.Client))
	s.clients[client] = true
	date := row.At.Date()
	if s.from != "" && date < s.from || s.to != "" && date > s.to {
		return
	}
	waste, scrap := s.rates.On(client, date)
	part := big.NewRat(1, 1)
	if client == "" {
		part, waste, scrap = new(big.Rat), new(big.Rat), new(big.Rat)
	}
	for kind, g := range [...]ledger.Grams{row.PartG, row.SupportG, row.PrimeG, row.PurgeG} {
		share, name := waste, cost.KindNames[kind]
		if kind == cost.Part {
			share = part
		}
		if row.Outcome == ledger.Failed {
			share, name = scrap, "scrap"
		}
		if g == 0 {
			continue
		}
		key := strings.Clone(fmt.Sprintf("%s|%s|%s|%s", ledger.Fold(row.Job), row.Spool, name, share.RatString()))
		s.shares[key] = share
		if s.lines[client] == nil {
			s.lines[client] = map[string]ledger.Grams{}
		}
		s.lines[client][key] += g
	}
}

// money rounds half up by the standard library: FloatString rounds halves away from 0.
func money(amount *big.Rat, currency string) decimal.Decimal {
	decimals, _ := ledger.MinorUnit(currency)
	return decimal.RequireFromString(amount.FloatString(int(decimals)))
}

// The laws of the statements, on a thousand books with odd shares and currencies of 0, 2 and 3 decimals: every line is half up by itself,
// all other amounts are sums of lines, billed and house are the cost, and all grams that were booked stand in some line once. The house's
// cells are the sums of what lines leave it; a spool's losses are half up, away from 0.
func TestStatementsAddUp(t *testing.T) {
	t.Parallel()
	for range 10 { // of a hundred each
		rapid.Check(t, func(r *rapid.T) { statementsAddUp(r, booktest.Drawn(r, t, drawBills(r))) })
	}
}

func statementsAddUp(r *rapid.T, v *ledger.View) {
	from := rapid.SampledFrom([]string{"", "2026-01-01", "2026-01-03"}).Draw(r, "from")
	to := rapid.SampledFrom([]string{"", "2026-01-02", "2026-01-31"}).Draw(r, "to")
	shelf, err := inventory.Load(v)
	if err != nil {
		r.Fatal(err)
	}
	rates, err := cost.LoadRates(v)
	if err != nil {
		r.Fatal(err)
	}
	all := &spent{shelf: shelf, rates: rates, from: from, to: to}
	all.Reset()
	if err := v.FoldConsumption(all); err != nil {
		r.Fatal(err)
	}
	h, err := cost.NewHouse(v, from, to)
	if err != nil {
		r.Fatal(err)
	}
	carried := map[string]decimal.Decimal{} // of the house by client and currency
	for client := range all.clients {
		if client == "" {
			for key, g := range all.lines[""] {
				spool := shelf.Spool(strings.Split(key, "|")[1])
				if price, currency := spool.Price(); price != nil {
					carried[" "+currency] = carried[" "+currency].Add(money(new(big.Rat).Mul(price, g.Decimal().Rat()), currency))
				}
			}
			continue
		}
		s, err := cost.NewStatement(v, client, from, to)
		if err != nil {
			r.Fatal(err)
		}
		seen := map[string]ledger.Grams{}
		sums := map[string]*cost.BillRow{}
		for _, row := range s.Rows {
			sums[row.Currency] = lineSums(r, row, sums[row.Currency], seen, all.shares)
		}
		if !maps.Equal(seen, all.lines[client]) {
			r.Fatalf("%s: the lines are\n%v\nbooked was\n%v", client, seen, all.lines[client])
		}
		if len(s.Totals) != len(sums) {
			r.Fatalf("%s: %d totals of %d currencies", client, len(s.Totals), len(sums))
		}
		for _, total := range s.Totals {
			if bill(total) != bill(*sums[total.Currency]) {
				r.Fatalf("%s: total %s, lines %s", client, bill(total), bill(*sums[total.Currency]))
			}
			sum := total.Sum()
			if !sum.Cost().Equal(sum.Billed.Add(sum.House)) {
				r.Fatalf("%s: cost %s of %s and %s", client, sum.Cost(), sum.Billed, sum.House)
			}
			carried[s.Client+" "+total.Currency] = sum.House
		}
	}
	houseAddsUp(r, shelf, h, carried)
}

// lineSums checks the lines of one row, and adds them to the sum of their currency.
func lineSums(r *rapid.T, row cost.BillRow, sum *cost.BillRow, seen map[string]ledger.Grams, shares map[string]*big.Rat) *cost.BillRow {
	var cells [cost.Kinds]cost.BillCell
	before := ""
	for _, l := range row.Lines {
		key := fmt.Sprintf("%s|%s|%s|%s", ledger.Fold(row.Job), l.Spool.ID, cost.KindNames[l.Kind], l.Share.RatString())
		order := fmt.Sprintf("%s %d %s", l.Spool.ID, l.Kind, l.Share.FloatString(9))
		if l.Grams == 0 || seen[key] != 0 || order <= before {
			r.Fatalf("%s: line %s of %s g after %s", row.Job, key, l.Grams, before)
		}
		before, seen[key] = order, l.Grams
		c := &cells[l.Kind]
		c.Grams += l.Grams
		price, currency := l.Spool.Price()
		if price == nil {
			c.Unpriced += l.Grams
			continue
		}
		exact := new(big.Rat).Mul(price, l.Grams.Decimal().Rat())
		if share := shares[key]; currency != row.Currency || !l.Cost.Equal(money(exact, currency)) || !l.Billed.Equal(money(exact.Mul(exact, share), currency)) {
			r.Fatalf("%s: %s costs %s, billed %s by %s", row.Job, key, l.Cost, l.Billed, share)
		}
		c.Billed, c.House = c.Billed.Add(l.Billed), c.House.Add(l.Cost.Sub(l.Billed))
	}
	if sum == nil {
		sum = &cost.BillRow{Currency: row.Currency}
	}
	for kind, c := range cells {
		if got := row.Cells[kind]; got.Grams != c.Grams || got.Unpriced != c.Unpriced || !got.Billed.Equal(c.Billed) || !got.House.Equal(c.House) {
			r.Fatalf("%s: cell %d is %+v, its lines %+v", row.Job, kind, got, c)
		}
		o := &sum.Cells[kind]
		o.Grams, o.Unpriced, o.Billed, o.House = o.Grams+c.Grams, o.Unpriced+c.Unpriced, o.Billed.Add(c.Billed), o.House.Add(c.House)
	}
	return sum
}

func houseAddsUp(r *rapid.T, shelf *inventory.Shelf, h *cost.House, carried map[string]decimal.Decimal) {
	totals := map[string]decimal.Decimal{}
	left := maps.Clone(carried)
	for _, c := range h.Clients {
		sum := c.Sum()
		if want := carried[c.Client+" "+c.Currency]; !sum.Cost.Equal(want) {
			r.Fatalf("of %s the house carries %s %s, its statement says %s", c.Client, sum.Cost, c.Currency, want)
		}
		delete(left, c.Client+" "+c.Currency)
		totals[c.Currency] = totals[c.Currency].Add(sum.Cost)
	}
	for key, amount := range left {
		if !amount.IsZero() {
			r.Fatalf("%s: %s of the house is in no row", key, amount)
		}
	}
	for _, s := range h.Spools {
		price, currency := shelf.Spool(s.Spool).Price()
		for kind, cell := range s.Cells {
			if price != nil && !cell.Cost.Equal(money(new(big.Rat).Mul(price, cell.Grams.Decimal().Rat()), currency)) {
				r.Fatalf("%s: %s g cost %s", s.Spool, cell.Grams, cell.Cost)
			}
			if kind == cost.Lost && cell.Grams < 0 || kind == cost.Found && cell.Grams > 0 {
				r.Fatalf("%s: %d is %s g", s.Spool, kind, cell.Grams)
			}
		}
		sum := s.Sum()
		totals[s.Currency] = totals[s.Currency].Add(sum.Cost)
	}
	for _, total := range h.Totals {
		if sum := total.Sum(); !sum.Cost.Equal(totals[total.Currency]) {
			r.Fatalf("the house's rows add up to %s, its total to %s", totals[total.Currency], sum.Cost)
		}
	}
}

// A worked example: General Decimal Arithmetic test cases, quantize.decTest 2.59, half up: 1.2345 to 0.01 is 1.23, 1.2355 is 1.24,
// 352364.506 to 0.01 is 352364.51 and 1.05 to 0.1 is 1.1 (0.105 to 0.01 is 0.11). Minor units by ISO 4217, list one: yen 0, euro 2,
// dinar of Kuwait 3. A spool of 1000 g for 1000 costs 1 a gram; the line's own arithmetic is then its grams.
func TestLinesByHand(t *testing.T) {
	t.Parallel()
	v := booktest.View(t, `
clients client=c waste_billed=0.5 scrap_billed=0.333
purchases at=0 spool=A net_g=1000 price=1000
purchases at=0 spool=B net_g=1000 price=0.5
purchases at=0 spool=J net_g=3 price=1 currency=JPY
purchases at=0 spool=K net_g=750 price=24.9 currency=KWD
purchases at=0 spool=N net_g=1000
consumption at=1 job=late client=c spool=A part_g=1.234 purge_g=2.469
consumption at=2026-01-01T00:00:00Z job=early client=c spool=B part_g=2469 support_g=2471
consumption at=2026-01-01T00:00:00Z job=early client=c spool=N part_g=5
consumption at=2026-01-01T00:00:00Z job=early client=c spool=J part_g=1.5
consumption at=2026-01-01T00:00:00Z job=early client=c spool=J part_g=1.499 outcome=failed
consumption at=2026-01-01T00:00:00Z job=early client=c spool=K purge_g=12.3
`)
	s := statement(t, v, "c", "", "")
	var got []string
	for _, row := range s.Rows {
		for _, l := range row.Lines {
			got = append(got, fmt.Sprintf("%s %s %s %s by %s: %s, %s + %s", row.Job, l.Spool.ID, l.Grams, cost.KindNames[l.Kind], l.Share.RatString(), l.Cost, l.Billed, l.House()))
		}
	}
	want := []string{
		"early B 2469 part by 1: 1.23, 1.23 + 0",          // 1.2345
		"early B 2471 support by 1/2: 1.24, 0.62 + 0.62",  // 1.2355, 0.61775
		"early N 5 part by 1: 0, 0 + 0",                   // no price
		"early J 1.5 part by 1: 1, 1 + 0",                 // half a yen, up
		"early J 1.499 scrap by 333/1000: 0, 0 + 0",       // 0.4997, 0.166
		"early K 12.3 purge by 1/2: 0.408, 0.204 + 0.204", // 0.40836, 0.20418
		"late A 1.234 part by 1: 1.23, 1.23 + 0",          // 1.234
		"late A 2.469 purge by 1/2: 2.47, 1.23 + 1.24",    // 1.2345: the house carries what is left of the line
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	bills(t, "rows", s.Rows, "early EUR: 2474 2471 0 0 0 | 1.23 0.62 0 0 0 | 0 0.62 0 0 0, 5 unpriced", "early JPY: 1.5 0 0 0 1.499 | 1 0 0 0 0 | 0 0 0 0 0",
		"early KWD: 0 0 0 12.3 0 | 0 0 0 0.204 0 | 0 0 0 0.204 0", "late EUR: 1.234 0 0 2.469 0 | 1.23 0 0 1.23 0 | 0 0 0 1.24 0")
}
