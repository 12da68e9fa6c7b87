package cost_test

import (
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// quoted returns the quote of the job named q, on a day.
func quoted(t testing.TB, v *ledger.View, date string) *cost.Quote {
	t.Helper()
	shelf, jobs, err := inventory.Check(v)
	if err != nil {
		t.Fatal(err)
	}
	rates, err := cost.LoadRates(v)
	if err != nil {
		t.Fatal(err)
	}
	for _, job := range jobs {
		if job.Name == "q" {
			return cost.NewQuote(shelf, job, rates, date)
		}
	}
	t.Fatal("no job q")
	return nil
}

func moneys(all ...decimal.Decimal) string {
	var words []string
	for _, d := range all {
		words = append(words, d.String())
	}
	return strings.Join(words, " ")
}

// tellQuote renders a line a need: spool from: grams by kind, likely +- u; costs by kind = cost, likely from..to currency. And a
// line a currency: costs by kind = cost, client + house; likely from..to; scrap, client + house.
func tellQuote(q *cost.Quote) (lines []string) {
	for _, l := range q.Lines {
		spool := "-"
		if l.Need.Spool != nil {
			spool = l.Need.Spool.ID
		}
		text := fmt.Sprintf("%s %s: %s %s %s %s, %.9g +- %.9g; ", spool, l.Need.From, l.Grams[0], l.Grams[1], l.Grams[2], l.Grams[3], l.Likely, l.U)
		if l.PerGram == nil {
			text += "no price"
		} else {
			text += fmt.Sprintf("%s = %s, %s %s..%s %s", moneys(l.Costs[:]...), l.Cost, l.LikelyFor, l.Low, l.High, l.Currency)
		}
		lines = append(lines, text)
	}
	for _, t := range q.Totals {
		lines = append(lines, fmt.Sprintf("%s: %s = %s, %s + %s; %s %s..%s; %s, %s + %s", t.Currency, moneys(t.Costs[:]...), t.Cost, t.Client, t.House,
			t.LikelyFor, t.Low, t.High, t.Scrap, t.ScrapClient, t.ScrapHouse))
	}
	if q.Unpriced > 0 {
		lines = append(lines, q.Unpriced.String()+" unpriced")
	}
	return lines
}

// The intervals of Mack's mortgage triangle, column 4, read as grams: k = 1.275919937251, u_k = 0.051170075072, s =
// 6.545443909677 (T. Mack, ASTIN Bulletin 29 (1999) 361-366, table 1: k 1.276, u_k 0.051).
var mack = func() string {
	var b strings.Builder
	for i, c := range []string{"1027.692", "2142.656", "3203.427", "4999.019", "4989.572"} {
		w := []string{"1360.489", "2961.978", "4445.927", "6460.112", "5648.563"}[i]
		fmt.Fprintf(&b, "purchases at=0 spool=M%d net_g=9000 tare_g=0\nweighins at=1 spool=M%d gross_g=9000 scale=exact\nconsumption at=2 spool=M%d part_g=%s\nweighins at=3 spool=M%d gross_g=%s scale=exact\n",
			i, i, i, c, i, booktest.Grams("9000")-booktest.Grams(w))
	}
	return b.String()
}()

func TestQuote(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, rows string
		want       []string
	}{
		// A at 0.02 a gram: 2.006, 0.2, 0.066, 0.154; B at 29.40/750 = 0.0392: 1.96. In all 4.386, so 4.39: of 4.37 cut off two
		// units are missing, and 2.006 and 0.066 have the largest remainders. The client pays 3.966 of part and half of 0.42:
		// 4.176, and a quarter of 4.386 for a failure: 1.0965.
		// Nothing was ever weighed: k = 1, u = 0.03 T. A: 3.639 g, so 2.426 -+ 0.14556; B: 1.5 g, so 1.96 -+ 0.1176; both by the
		// same doubt, so 4.386 -+ 0.26316.
		{"by hand", `
clients client=Mole waste_billed=0.5 scrap_billed=0.25
purchases at=0 spool=A net_g=1000 price=20
purchases at=0 spool=B net_g=750 price=29.40 material=PETG
queue at=1 job=q client=mole slot=0 spool=A part_g=100.3 support_g=10 prime_g=3.3 purge_g=7.7
queue at=1 job=q client=mole slot=1 spool=B part_g=50`, []string{
			"A named: 100.3 10 3.3 7.7, 121.3 +- 3.639; 2.01 0.2 0.07 0.15 = 2.43, 2.43 2.28..2.57 EUR",
			"B named: 50 0 0 0, 50 +- 1.5; 1.96 0 0 0 = 1.96, 1.96 1.84..2.08 EUR",
			"EUR: 3.97 0.2 0.07 0.15 = 4.39, 4.18 + 0.21; 4.39 4.12..4.65; 4.39, 1.1 + 3.29"}},
		// JPY has no minor unit, KWD three decimals (ISO 4217, list one). 234.5 + 23.45 = 257.95: 258, of 257 cut off the unit goes
		// to 234.5. 0.7777 + 0.07777 = 0.85547: 0.855, of 0.854 it goes to 0.07777. Half of the waste: 246.225 and 0.816585.
		// u 3.3 g: 257.95 -+ 15.477; 0.85547 -+ 0.0513282.
		{"currencies are never added", `
clients client=Mole waste_billed=0.5 scrap_billed=0.25
purchases at=0 spool=A net_g=1000 price=2345 currency=JPY
purchases at=0 spool=B net_g=1000 price=7.777 currency=KWD
queue at=1 job=q client=mole spool=A part_g=100 purge_g=10
queue at=1 job=q client=mole spool=B part_g=100 purge_g=10`, []string{
			"A named: 100 0 0 10, 110 +- 3.3; 235 0 0 23 = 258, 258 242..273 JPY",
			"B named: 100 0 0 10, 110 +- 3.3; 0.777 0 0 0.078 = 0.855, 0.855 0.804..0.907 KWD",
			"JPY: 235 0 0 23 = 258, 246 + 12; 258 242..273; 258, 64 + 194",
			"KWD: 0.777 0 0 0.078 = 0.855, 0.817 + 0.038; 0.855 0.804..0.907; 0.855, 0.214 + 0.641"}},
		// For T = 500 g the prediction's u is 148.579985641 g (arithmetic on the published figures): 637.95996863 at 1 a gram, -+
		// 297.15997128.
		{"how estimates run, published", mack + `
purchases at=0 spool=A net_g=1000 price=1000
queue at=1 job=q client=c spool=A part_g=500`, []string{
			"A named: 500 0 0 0, 637.959969 +- 148.579986; 500 0 0 0 = 500, 637.96 340.8..935.12 EUR",
			"EUR: 500 0 0 0 = 500, 500 + 0; 637.96 340.8..935.12; 500, 0 + 500"}},
		// Two spools of 250 g share the doubt in k; what each print adds is its own: the u of the two is that of 500 g. Of one: T u_k =
		// 12.792518768, u = 104.280188: 318.97998 -+ 208.56038.
		{"shared and own doubts", mack + `
purchases at=0 spool=A net_g=1000 price=1000
purchases at=0 spool=B net_g=1000 price=1000
queue at=1 job=q client=c spool=A part_g=250
queue at=1 job=q client=c spool=B part_g=250`, []string{
			"A named: 250 0 0 0, 318.979984 +- 104.280188; 250 0 0 0 = 250, 318.98 110.42..527.54 EUR",
			"B named: 250 0 0 0, 318.979984 +- 104.280188; 250 0 0 0 = 250, 318.98 110.42..527.54 EUR",
			"EUR: 500 0 0 0 = 500, 500 + 0; 637.96 340.8..935.12; 500, 0 + 500"}},
		// 10 g: u = 20.7048: the range ends at 0.
		{"a range does not go below 0", mack + `
purchases at=0 spool=A net_g=1000 price=1000
queue at=1 job=q client=c spool=A part_g=10`, []string{
			"A named: 10 0 0 0, 12.7591994 +- 20.7048351; 10 0 0 0 = 10, 12.76 0..54.17 EUR",
			"EUR: 10 0 0 0 = 10, 10 + 0; 12.76 0..54.17; 10, 0 + 10"}},
		{"without a price, and without a spool", `
purchases at=0 spool=A net_g=1000
purchases at=0 spool=B net_g=1000 price=0
queue at=1 job=q client=c slot=0 spool=A part_g=10 purge_g=1
queue at=1 job=q client=c slot=1 spool=B part_g=5
queue at=1 job=q client=c slot=2 material=PETG colour=moss part_g=7`, []string{
			"A named: 10 0 0 1, 11 +- 0.33; no price",
			"B named: 5 0 0 0, 5 +- 0.15; 0 0 0 0 = 0, 0 0..0 EUR",
			"- none: 7 0 0 0, 7 +- 0.21; no price",
			"EUR: 0 0 0 0 = 0, 0 + 0; 0 0..0; 0, 0 + 0",
			"18 unpriced"}},
		// 0.005 each, 0.01 in all: of equal cells the unit goes to the first spool, as where costs are told by spool.
		{"ties go by spool, not by need", `
purchases at=0 spool=A net_g=1000 price=1
purchases at=0 spool=B net_g=1000 price=1
queue at=1 job=q client=c slot=0 spool=B part_g=5
queue at=1 job=q client=c slot=1 spool=A part_g=5`, []string{
			"B named: 5 0 0 0, 5 +- 0.15; 0 0 0 0 = 0, 0 0..0.01 EUR",
			"A named: 5 0 0 0, 5 +- 0.15; 0.01 0 0 0 = 0.01, 0.01 0..0.01 EUR",
			"EUR: 0.01 0 0 0 = 0.01, 0.01 + 0; 0.01 0.01..0.01; 0.01, 0 + 0.01"}},
		{"without a client it is the house's", "purchases at=0 spool=A net_g=1000 price=20\nqueue at=1 job=q spool=A part_g=100 purge_g=50", []string{
			"A named: 100 0 0 50, 150 +- 4.5; 2 0 0 1 = 3, 3 2.82..3.18 EUR",
			"EUR: 2 0 0 1 = 3, 0 + 3; 3 2.82..3.18; 3, 0 + 3"}},
		{"nothing has a price", "purchases at=0 spool=A net_g=1000\nqueue at=1 job=q client=c spool=A part_g=10", []string{"A named: 10 0 0 0, 10 +- 0.3; no price", "10 unpriced"}},
		{"loaded and short: priced on that spool all the same", `
purchases at=0 spool=A net_g=100 price=2 place=Bench/0
purchases at=0 spool=B net_g=1000 price=30
queue at=1 job=q client=c printer=Bench slot=0 material=PLA part_g=200`, []string{
			"A loaded: 200 0 0 0, 200 +- 6; 4 0 0 0 = 4, 4 3.76..4.24 EUR",
			"EUR: 4 0 0 0 = 4, 4 + 0; 4 3.76..4.24; 4, 0 + 4"}},
		{"what is queued before takes its spool first", `
purchases at=0 spool=A net_g=300 price=3
purchases at=0 spool=B net_g=1000 price=30
queue at=1 job=p material=PLA part_g=200
queue at=2 job=q client=c material=PLA part_g=200`, []string{
			"B chosen: 200 0 0 0, 200 +- 6; 6 0 0 0 = 6, 6 5.64..6.36 EUR",
			"EUR: 6 0 0 0 = 6, 6 + 0; 6 5.64..6.36; 6, 0 + 6"}},
	} {
		got := tellQuote(quoted(t, booktest.View(t, c.rows), "2026-01-01"))
		if strings.Join(got, "\n") != strings.Join(c.want, "\n") {
			t.Errorf("%s:\n got %s\nwant %s", c.name, strings.Join(got, "\n     "), strings.Join(c.want, "\n     "))
		}
	}
}

// The rates are those of the day of the quote.
func TestQuoteRates(t *testing.T) {
	t.Parallel()
	v := booktest.View(t, `
clients client=Mole waste_billed=0.5 scrap_billed=0 from=2026-01-01
clients client=Mole waste_billed=0.75 scrap_billed=0.2 from=2026-10-01
purchases at=0 spool=A net_g=1000 price=1000
queue at=1 job=q client=mole spool=A part_g=60 purge_g=40`)
	for date, want := range map[string]string{
		"2025-12-31": "100 0 0 100", "2026-09-30": "80 20 0 100", "2026-10-01": "90 10 20 80",
	} {
		total := quoted(t, v, date).Totals[0]
		if got := moneys(total.Client, total.House, total.ScrapClient, total.ScrapHouse); got != want {
			t.Errorf("on %s: %s, want %s", date, got, want)
		}
	}
}

// A quote is what the job will have cost if it takes what was sliced off the same spools: in all what costs
// say of it finished, and failed. The client's amount is the exact one rounded once, and all cells add up.
func TestQuoteIsTheCost(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		draw := func(what string, values ...string) string { return rapid.SampledFrom(values).Draw(r, what) }
		waste, scrap := draw("waste_billed", "0", "0.333", "0.5", "1"), draw("scrap_billed", "0", "0.25", "0.999", "1")
		rows := []string{"clients client=mole waste_billed=" + waste + " scrap_billed=" + scrap}
		var queue, finished, failed []string
		exact := map[string]*[2]*big.Rat{} // of each currency: all, and what is billed of it
		for i := range rapid.IntRange(1, 5).Draw(r, "spools") {
			price, currency, net := draw("price", "", "0", "1", "19.99", "3.333", "2345"), draw("currency", "EUR", "JPY", "KWD"), draw("net", "1000", "750", "333.333")
			rows = append(rows, fmt.Sprintf("purchases at=%d spool=S%d net_g=%s price=%s currency=%s", 9-i, i, net, price, currency))
			masses := ""
			for kind, column := range []string{"part_g", "support_g", "prime_g", "purge_g"} {
				g := ledger.Grams(rapid.SampledFrom([]int{0, 1, 500, 4000, 4001, 82400, 411117}).Draw(r, column))
				masses += " " + column + "=" + g.String()
				if price == "" {
					continue
				}
				amount := new(big.Rat).Mul(rat(price), big.NewRat(int64(g), 1000))
				amount.Quo(amount, rat(net))
				if exact[currency] == nil {
					exact[currency] = &[2]*big.Rat{new(big.Rat), new(big.Rat)}
				}
				sums := exact[currency]
				sums[0].Add(sums[0], amount)
				if kind != cost.Part {
					amount = new(big.Rat).Mul(amount, rat(waste))
				}
				sums[1].Add(sums[1], amount)
			}
			queue = append(queue, fmt.Sprintf("queue at=20 job=q client=Mole slot=%d spool=S%d%s", 9-i, i, masses))
			row := fmt.Sprintf("consumption at=21 job=q client=Mole spool=S%d%s", i, masses)
			finished, failed = append(finished, row), append(failed, row+" outcome=failed")
		}
		q := quoted(t, booktest.Drawn(r, t, append(rows, booktest.Shuffled(r, queue)...)), "2026-01-01")
		spent := func(rowsOf []string, by string) (cells, totals map[string]cost.Row) {
			c, err := cost.Load(booktest.Drawn(r, t, append(rows, rowsOf...)), cost.Query{By: by})
			if err != nil {
				r.Fatal(err)
			}
			cells, totals = map[string]cost.Row{}, map[string]cost.Row{}
			list, sums := c.Rows()
			for _, row := range list {
				cells[row.Key] = row
			}
			for _, row := range sums {
				totals[row.Currency] = row
			}
			return cells, totals
		}
		cells, totals := spent(finished, "spool")
		_, lost := spent(failed, "job")
		sums := map[string]decimal.Decimal{}
		var unpriced ledger.Grams
		for _, l := range q.Lines {
			row := cells[l.Need.Spool.ID]
			if l.PerGram == nil {
				unpriced += row.Unpriced
				continue
			}
			if !decimal.Sum(l.Costs[0], l.Costs[1:]...).Equal(l.Cost) || l.Low.GreaterThan(l.High) {
				r.Fatalf("%s: %+v does not add up", l.Need.Spool.ID, l)
			}
			sums[l.Currency] = sums[l.Currency].Add(l.Cost)
		}
		if unpriced != q.Unpriced || len(q.Totals) != len(exact) {
			r.Fatalf("%s unpriced, want %s; %d currencies, want %d", q.Unpriced, unpriced, len(q.Totals), len(exact))
		}
		for _, total := range q.Totals {
			places, _ := ledger.MinorUnit(total.Currency)
			half := func(x *big.Rat) decimal.Decimal { return decimal.RequireFromString(x.FloatString(int(places))) } // half away from 0
			all, billed := exact[total.Currency][0], exact[total.Currency][1]
			row := totals[total.Currency]
			for what, pair := range map[string][2]decimal.Decimal{
				"cost":        {total.Cost, half(all)},
				"cells":       {sums[total.Currency], total.Cost},
				"kinds":       {decimal.Sum(total.Costs[0], total.Costs[1:]...), total.Cost},
				"spent":       {total.Cost, decimal.Sum(row.Costs[0], row.Costs[1:]...)},
				"client":      {total.Client, half(billed)},
				"carried":     {total.Client.Add(total.House), total.Cost},
				"likely":      {total.LikelyFor, total.Cost}, // k = 1
				"scrap":       {total.Scrap, lost[total.Currency].Costs[cost.Scrap]},
				"scrapClient": {total.ScrapClient, half(new(big.Rat).Mul(all, rat(scrap)))},
				"scrapHouse":  {total.ScrapClient.Add(total.ScrapHouse), total.Scrap},
			} {
				if !pair[0].Equal(pair[1]) {
					r.Fatalf("%s %s: %s and %s", what, total.Currency, pair[0], pair[1])
				}
			}
			if total.House.IsNegative() || total.ScrapHouse.IsNegative() || total.Low.GreaterThan(total.LikelyFor) || total.High.LessThan(total.LikelyFor) {
				r.Fatalf("%+v", total)
			}
			for _, d := range append(total.Costs[:], total.Cost, total.Client, total.House, total.LikelyFor, total.Low, total.High, total.Scrap) {
				if !d.Equal(d.Round(places)) {
					r.Fatalf("%s is no amount of %s", d, total.Currency)
				}
			}
		}
	})
}

// What a quote tells the client and the house of a job is what their statements then say, when it takes exactly that, finished, and
// failed once: but for half a minor unit a line, as statements round line by line.
func TestQuoteIsTheBill(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		draw := func(what string, values ...string) string { return rapid.SampledFrom(values).Draw(r, what) }
		rows := []string{"clients client=mole waste_billed=" + draw("w", "0", "0.333", "0.5", "1") + " scrap_billed=" + draw("s", "0", "0.25", "0.999")}
		var queue, fin, fail []string
		for i := range rapid.IntRange(1, 5).Draw(r, "spools") {
			rows = append(rows, fmt.Sprintf("purchases at=0 spool=S%d net_g=%s price=%s currency=%s", i, draw("net", "1000", "333.333"), draw("price", "", "1", "19.99", "3.333"), draw("cur", "EUR", "JPY", "KWD")))
			m := ""
			for _, c := range []string{"part_g", "support_g", "prime_g", "purge_g"} {
				m += " " + c + "=" + ledger.Grams(rapid.IntRange(0, 500000).Draw(r, c)).String()
			}
			queue = append(queue, fmt.Sprintf("queue at=20 job=q client=Mole slot=%d spool=S%d%s", i, i, m))
			row := fmt.Sprintf("consumption at=2026-01-02T00:00:00Z job=q client=Mole spool=S%d%s", i, m)
			fin, fail = append(fin, row), append(fail, row+" outcome=failed")
		}
		q := quoted(t, booktest.Drawn(r, t, append(rows, queue...)), "2026-01-02")
		lines := map[string]int64{}
		bill := func(of []string) map[string]cost.BillCell {
			s, err := cost.NewStatement(booktest.Drawn(r, t, append(rows[:len(rows):len(rows)], of...)), "mole", "", "")
			if err != nil {
				r.Fatal(err)
			}
			out := map[string]cost.BillCell{}
			for _, row := range s.Rows {
				lines[row.Currency] = max(lines[row.Currency], int64(len(row.Lines)))
			}
			for _, tot := range s.Totals {
				out[tot.Currency] = tot.Sum()
			}
			return out
		}
		f, x := bill(fin), bill(fail)
		for _, tot := range q.Totals {
			a, b := f[tot.Currency], x[tot.Currency]
			decimals, _ := ledger.MinorUnit(tot.Currency)
			most := decimal.New(lines[tot.Currency]+1, -decimals) // a house's part is cost less billed: two of them are rounded
			for _, pair := range [][2]decimal.Decimal{{a.Billed, tot.Client}, {a.House, tot.House}, {b.Billed, tot.ScrapClient}, {b.House, tot.ScrapHouse}} {
				if pair[0].Sub(pair[1]).Abs().GreaterThan(most) {
					r.Fatalf("%s and %s of %+v %+v %+v", pair[0], pair[1], tot, a, b)
				}
			}
		}
	})
}
