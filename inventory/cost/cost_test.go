package cost_test

import (
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"tarebook/inventory/booktest"
	"tarebook/inventory/cost"
)

func costs(t testing.TB, by, text string) (rows, totals []cost.Row) {
	t.Helper()
	c, err := cost.Load(booktest.View(t, text), cost.Query{By: by})
	if err != nil {
		t.Fatal(err)
	}
	return c.Rows()
}

// line renders a row as key currency jobs: grams by kind | costs by kind, unpriced.
func line(r cost.Row) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s %d:", r.Key, r.Currency, r.Jobs)
	for _, g := range r.Grams {
		fmt.Fprintf(&b, " %s", g)
	}
	b.WriteString(" |")
	for _, c := range r.Costs {
		fmt.Fprintf(&b, " %s", c)
	}
	if r.Unpriced != 0 {
		fmt.Fprintf(&b, ", %s unpriced", r.Unpriced)
	}
	return b.String()
}

func compare(t *testing.T, name string, rows []cost.Row, want ...string) {
	t.Helper()
	var got []string
	for _, r := range rows {
		got = append(got, line(r))
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("%s:\n got %s\nwant %s", name, strings.Join(got, "\n     "), strings.Join(want, "\n     "))
	}
}

// Process costing with losses, from a study text for ACCA F2, chapter 9, cases 5.1 and 5.3 (publisher not named in the
// copy): what costs 20 700 for 1 000 kg, a tenth of it normal loss, makes 900 kg at 23.00. The normal loss is part of
// the cost of what came out; an abnormal loss is not: 100 g of a failed job are 2 070 of scrap and leave the 23.00.
func TestProcessCosting(t *testing.T) {
	t.Parallel()
	const book = `
purchases at=0 spool=A net_g=1000 price=20700 currency=EUR
consumption at=1 job=good client=c spool=A part_g=900 purge_g=100
`
	rows, _ := costs(t, "job", book)
	compare(t, "no abnormal loss", rows, "good EUR 1: 900 0 0 100 0 | 18630 0 0 2070 0")
	rows, totals := costs(t, "job", book+"consumption at=2 job=lost client=c spool=A part_g=90 purge_g=10 outcome=failed")
	compare(t, "abnormal loss", rows, "good EUR 1: 900 0 0 100 0 | 18630 0 0 2070 0", "lost EUR 1: 0 0 0 0 100 | 0 0 0 0 2070")
	good := rows[0].Costs
	all := decimal.Sum(good[cost.Part], good[1:]...)
	perGram := all.DivRound(rows[0].Grams[cost.Part].Decimal(), 2)
	if all.String() != "20700" || perGram.StringFixed(2) != "23.00" {
		t.Errorf("the good job costs %s, %s per g of part; want 20700 and 23.00", all, perGram)
	}
	compare(t, "totals", totals, " EUR 2: 900 0 0 100 100 | 18630 0 0 2070 2070")
	if waste := rows[1].WasteCost(); waste.String() != "2070" || rows[1].Waste() != booktest.Grams("100") || totals[0].Waste() != booktest.Grams("200") {
		t.Errorf("scrap %s for %s g, waste in all %s", waste, rows[1].Waste(), totals[0].Waste())
	}
}

func TestCosts(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, by, rows string
		want           []string
		totals         []string
	}{
		{"nothing", "client", "purchases at=0 spool=A net_g=1000 price=20", nil, nil},
		{"kinds", "client", "purchases at=0 spool=A net_g=1000 price=20\nconsumption at=1 job=j client=c spool=A part_g=100 support_g=20 prime_g=3.5 purge_g=1.25\nconsumption at=2 job=J client=C spool=A part_g=40 support_g=10 outcome=failed",
			[]string{"c EUR 1: 100 20 3.5 1.25 50 | 2 0.4 0.07 0.03 1"}, []string{" EUR 1: 100 20 3.5 1.25 50 | 2 0.4 0.07 0.03 1"}},
		{"no job's name counts no job; no client is a key", "client", "purchases at=0 spool=A net_g=1000 price=20\nconsumption at=1 spool=A part_g=100",
			[]string{" EUR 0: 100 0 0 0 0 | 2 0 0 0 0"}, []string{" EUR 0: 100 0 0 0 0 | 2 0 0 0 0"}},
		{"each gram at the price of its very spool", "material", "purchases at=0 spool=A net_g=1000 price=20\npurchases at=0 spool=B net_g=500 price=20 material=pla\nconsumption at=1 job=j spool=A part_g=100\nconsumption at=1 job=j spool=B part_g=100",
			[]string{"PLA EUR 1: 200 0 0 0 0 | 6 0 0 0 0"}, []string{" EUR 1: 200 0 0 0 0 | 6 0 0 0 0"}},
		{"unpriced", "client", "purchases at=0 spool=A net_g=1000\npurchases at=0 spool=B net_g=1000 price=0\nconsumption at=1 job=j client=c spool=A part_g=7 purge_g=3\nconsumption at=1 job=j client=c spool=B part_g=5",
			[]string{"c EUR 1: 12 0 0 3 0 | 0 0 0 0 0, 10 unpriced"}, []string{" EUR 1: 12 0 0 3 0 | 0 0 0 0 0, 10 unpriced"}},
		// ISO 4217, list one: JPY has no minor unit, EUR 2 decimals, KWD 3.
		{"currencies are never added", "client", "settings setting=currency value=jpy\npurchases at=0 spool=A net_g=1000 price=2345\npurchases at=0 spool=B net_g=1000 price=20 currency=EUR\npurchases at=0 spool=C net_g=1000 price=7.777 currency=KWD\nconsumption at=1 job=j client=c spool=A part_g=123\nconsumption at=1 job=k client=c spool=B part_g=123.456\nconsumption at=1 job=j client=c spool=C part_g=123",
			[]string{"c EUR 1: 123.456 0 0 0 0 | 2.47 0 0 0 0", "c JPY 1: 123 0 0 0 0 | 288 0 0 0 0", "c KWD 1: 123 0 0 0 0 | 0.957 0 0 0 0"},
			[]string{" EUR 1: 123.456 0 0 0 0 | 2.47 0 0 0 0", " JPY 1: 123 0 0 0 0 | 288 0 0 0 0", " KWD 1: 123 0 0 0 0 | 0.957 0 0 0 0"}},
		{"cells add up to the rounded total", "client", "purchases at=0 spool=A net_g=1000 price=1\nconsumption at=1 job=j client=a spool=A part_g=4\nconsumption at=1 job=k client=b spool=A part_g=4 purge_g=4\nconsumption at=1 job=l client=c spool=A part_g=4",
			// 0.004 each, 0.016 in all, half up 0.02: part 0.012 and purge 0.004 have the remainders 0.002 and 0.004. Of part's equal
			// cells the first.
			[]string{"a EUR 1: 4 0 0 0 0 | 0.01 0 0 0 0", "b EUR 1: 4 0 0 4 0 | 0 0 0 0.01 0", "c EUR 1: 4 0 0 0 0 | 0 0 0 0 0"},
			[]string{" EUR 3: 12 0 0 4 0 | 0.01 0 0 0.01 0"}},
		// M. Birgen, Math of Democracy, Apportionment (open text): the shares 40.50, 29.70, 23.65, 14.60 and 10.55 of 119 are 40, 30, 24,
		// 15 and 10 by the largest remainder. The yen has no minor unit (ISO 4217, list one).
		{"kinds by the largest remainder", "month", "purchases at=0 spool=A net_g=1000 price=1000 currency=JPY\nconsumption at=1 job=j spool=A part_g=40.5 support_g=29.7 prime_g=23.65 purge_g=14.6\nconsumption at=1 job=k spool=A part_g=10.55 outcome=failed",
			[]string{"2026-01 JPY 2: 40.5 29.7 23.65 14.6 10.55 | 40 30 24 15 10"}, []string{" JPY 2: 40.5 29.7 23.65 14.6 10.55 | 40 30 24 15 10"}},
		// Each kind 0.5: 2.5 in all, half up 3. The first three of equal remainders and amounts.
		{"of equal kinds the first", "month", "purchases at=0 spool=A net_g=1000 price=1000 currency=JPY\nconsumption at=1 job=j spool=A part_g=0.5 support_g=0.5 prime_g=0.5 purge_g=0.5\nconsumption at=1 job=k spool=A part_g=0.5 outcome=failed",
			[]string{"2026-01 JPY 2: 0.5 0.5 0.5 0.5 0.5 | 1 1 1 0 0"}, []string{" JPY 2: 0.5 0.5 0.5 0.5 0.5 | 1 1 1 0 0"}},
		{"by lot and maker, through what was wound off", "lot", "purchases at=0 spool=A net_g=1000 price=20 lot=A1107 maker=Weaver\npurchases at=1 spool=B net_g=250 from=A\npurchases at=2 spool=C net_g=100 from=B lot=c9\npurchases at=2 spool=D net_g=100 lot=C9\nconsumption at=3 job=j spool=B part_g=25\nconsumption at=3 job=k spool=A part_g=25\nconsumption at=3 job=k spool=C part_g=25\nconsumption at=3 job=l spool=D part_g=5",
			[]string{"A1107 EUR 2: 50 0 0 0 0 | 1 0 0 0 0", "c9 EUR 2: 30 0 0 0 0 | 0.5 0 0 0 0, 5 unpriced"}, []string{" EUR 3: 80 0 0 0 0 | 1.5 0 0 0 0, 5 unpriced"}},
		{"by colour, as its first purchase spells it", "colour", "purchases at=1 spool=A net_g=1000 price=20 colour=RED\npurchases at=0 spool=B net_g=1000 price=20 colour=red\nconsumption at=3 job=j spool=A part_g=50\nconsumption at=3 job=j spool=B part_g=50",
			[]string{"red EUR 1: 100 0 0 0 0 | 2 0 0 0 0"}, []string{" EUR 1: 100 0 0 0 0 | 2 0 0 0 0"}},
		{"of equal remainders the larger amount", "client", "purchases at=0 spool=A net_g=1000 price=1\nconsumption at=1 job=j client=a spool=A part_g=4\nconsumption at=1 job=k client=b spool=A part_g=14",
			[]string{"a EUR 1: 4 0 0 0 0 | 0 0 0 0 0", "b EUR 1: 14 0 0 0 0 | 0.02 0 0 0 0"}, []string{" EUR 2: 18 0 0 0 0 | 0.02 0 0 0 0"}},
		{"wound off: its share, in the old spool's currency", "spool", "purchases at=0 spool=A net_g=1000 price=20 currency=GBP\npurchases at=1 spool=B net_g=250 from=A\npurchases at=2 spool=C net_g=100 from=b currency=EUR\nconsumption at=3 job=j spool=B part_g=250\nconsumption at=3 job=j spool=C part_g=100\nconsumption at=3 job=j spool=A part_g=100",
			[]string{"A GBP 1: 100 0 0 0 0 | 2 0 0 0 0", "B GBP 1: 250 0 0 0 0 | 5 0 0 0 0", "C GBP 1: 100 0 0 0 0 | 2 0 0 0 0"}, []string{" GBP 1: 450 0 0 0 0 | 9 0 0 0 0"}},
		{"wound off with a price of its own", "spool", "purchases at=0 spool=A net_g=1000 price=20\npurchases at=1 spool=B net_g=250 from=A price=10\nconsumption at=3 job=j spool=B part_g=25",
			[]string{"B EUR 1: 25 0 0 0 0 | 1 0 0 0 0"}, []string{" EUR 1: 25 0 0 0 0 | 1 0 0 0 0"}},
		{"wound off a spool without a price", "spool", "purchases at=0 spool=A net_g=1000 currency=GBP\npurchases at=1 spool=B net_g=250 from=A\nconsumption at=3 job=j spool=B part_g=25",
			[]string{"B EUR 1: 25 0 0 0 0 | 0 0 0 0 0, 25 unpriced"}, []string{" EUR 1: 25 0 0 0 0 | 0 0 0 0 0, 25 unpriced"}},
		{"wound off each other", "spool", "purchases at=0 spool=A net_g=1000 from=B\npurchases at=1 spool=B net_g=250 from=A\nconsumption at=3 job=j spool=B part_g=25",
			[]string{"B EUR 1: 25 0 0 0 0 | 0 0 0 0 0, 25 unpriced"}, []string{" EUR 1: 25 0 0 0 0 | 0 0 0 0 0, 25 unpriced"}},
		{"after the end costs all the same", "spool", "purchases at=0 spool=A net_g=1000 price=20\nweighins at=1 spool=A state=discarded\nconsumption at=3 job=j spool=A part_g=100",
			[]string{"A EUR 1: 100 0 0 0 0 | 2 0 0 0 0"}, []string{" EUR 1: 100 0 0 0 0 | 2 0 0 0 0"}},
		{"a month is that of the row's own clock", "month", "purchases at=0 spool=A net_g=1000 price=20\nconsumption at=2026-11-01T00:30:00+01:00 job=j spool=A part_g=1\nconsumption at=2026-10-31T23:30:00Z job=k spool=A part_g=2\nconsumption at=2026-12-01T00:30:00Z job=l spool=A part_g=4\nconsumption at=2026-11-30T20:00:00-05:00 job=m spool=A part_g=8",
			[]string{"2026-10 EUR 1: 2 0 0 0 0 | 0.04 0 0 0 0", "2026-11 EUR 2: 9 0 0 0 0 | 0.18 0 0 0 0", "2026-12 EUR 1: 4 0 0 0 0 | 0.08 0 0 0 0"}, []string{" EUR 4: 15 0 0 0 0 | 0.3 0 0 0 0"}},
		{"spelled as the table has it, else as first", "client", "clients client=Dock\npurchases at=0 spool=A net_g=1000 price=20\nconsumption at=2 job=j client=DOCK spool=A part_g=50\nconsumption at=3 job=k client=MOLE spool=A part_g=50\nconsumption at=2 job=l client=Mole spool=A part_g=50",
			[]string{"Dock EUR 1: 50 0 0 0 0 | 1 0 0 0 0", "Mole EUR 2: 100 0 0 0 0 | 2 0 0 0 0"}, []string{" EUR 3: 150 0 0 0 0 | 3 0 0 0 0"}},
		{"by printer", "printer", "purchases at=0 spool=A net_g=1000 price=20\nconsumption at=2 job=j printer=bench spool=A part_g=50",
			[]string{"Bench EUR 1: 50 0 0 0 0 | 1 0 0 0 0"}, []string{" EUR 1: 50 0 0 0 0 | 1 0 0 0 0"}},
	} {
		rows, totals := costs(t, c.by, c.rows)
		compare(t, c.name, rows, c.want...)
		compare(t, c.name+", totals", totals, c.totals...)
	}
	if _, err := cost.Load(booktest.View(t, ""), cost.Query{By: "shelf"}); err == nil || !strings.Contains(err.Error(), `"shelf" is none of`) {
		t.Errorf("by shelf: %v", err)
	}
}

// Who got filament of lot A1107, and in which jobs: also of what was wound off.
func TestCostFilters(t *testing.T) {
	t.Parallel()
	v := booktest.View(t, `
purchases at=0 spool=A net_g=1000 price=20 lot=A1107 maker=Weaver
purchases at=1 spool=B net_g=250 from=A
purchases at=2 spool=C net_g=100 price=2 lot=other material=PETG
consumption at=3 job=Kite client=mole spool=A part_g=10
consumption at=3 job=kite client=dock spool=B part_g=20
consumption at=3 job=lamp client=Mole spool=C part_g=30
consumption at=3 job=own spool=B part_g=40
`)
	for _, c := range []struct {
		query cost.Query
		want  string // the keys, with clients by job, and grams
		hint  string
	}{
		{cost.Query{By: "job", Lot: "a1107"}, "Kite dock,mole 30; own  40", ""},
		{cost.Query{By: "job", Lot: " A1107 ", Client: "MOLE"}, "Kite mole 10", ""},
		{cost.Query{By: "spool", Maker: "WEAVER"}, "A 10; B 60", ""},
		{cost.Query{By: "client", Spool: "b"}, " 40; dock 20", ""},
		{cost.Query{By: "client", Material: "petg"}, "mole 30", ""},
		{cost.Query{By: "client", Lot: "A1107", Material: "PETG"}, "", ""},
		{cost.Query{By: "client", Lot: "A1108"}, "", `no spool of lot "A1108"; did you mean A1107?`},
	} {
		costing, err := cost.Load(v, c.query)
		if err != nil {
			t.Fatal(err)
		}
		rows, _ := costing.Rows()
		var got []string
		for _, r := range rows {
			key := r.Key
			if c.query.By == "job" {
				key += " " + strings.Join(r.Clients, ",")
			}
			got = append(got, key+" "+r.All().String())
		}
		if strings.Join(got, "; ") != c.want || strings.Join(costing.Hints(), "\n") != c.hint {
			t.Errorf("%+v: got %q, %q, want %q, %q", c.query, got, costing.Hints(), c.want, c.hint)
		}
	}
}

// Dates are inclusive, and each row's own clock tells its date.
func TestCostDates(t *testing.T) {
	t.Parallel()
	const book = `
purchases at=0 spool=A net_g=1000 price=20
consumption at=2026-10-01T00:00:00+02:00 job=a spool=A part_g=1
consumption at=2026-10-31T23:59:59-05:00 job=b spool=A part_g=2
consumption at=2026-09-30T23:59:59Z job=c spool=A part_g=4
consumption at=2026-11-01T00:00:00Z job=d spool=A part_g=8
`
	for _, c := range []struct{ from, to, want string }{
		{"", "", "15"}, {"2026-10-01", "2026-10-31", "3"}, {"2026-10-01", "", "11"}, {"", "2026-10-31", "7"}, {"2026-10-31", "2026-10-31", "2"},
	} {
		costing, err := cost.Load(booktest.View(t, book), cost.Query{By: "client", From: c.from, To: c.to})
		if err != nil {
			t.Fatal(err)
		}
		_, totals := costing.Rows()
		if totals[0].All() != booktest.Grams(c.want) {
			t.Errorf("%q to %q: %s g, want %s", c.from, c.to, totals[0].All(), c.want)
		}
	}
}

func TestPriceAndValue(t *testing.T) {
	t.Parallel()
	s := booktest.Shelf(t, `
purchases at=0 spool=A net_g=750 price=20
purchases at=0 spool=B net_g=750
purchases at=1 spool=C net_g=250 from=A
consumption at=2 job=j spool=A part_g=124.5
consumption at=2 job=j spool=C part_g=251
`)
	price, currency := s.Spool("A").Price()
	if price.Cmp(big.NewRat(20, 750)) != 0 || currency != "EUR" {
		t.Errorf("price %s %s, want 20/750 EUR", price, currency)
	}
	if price, _ := s.Spool("B").Price(); price != nil {
		t.Errorf("price %s of a spool without one", price)
	}
	if price, _ := s.Spool("C").Price(); price.Cmp(big.NewRat(20, 750)) != 0 {
		t.Errorf("price %s of what was wound off, want 20/750", price)
	}
	// 750 - 250 - 124.5 = 375.5 g: 10.01333; C is overdrawn.
	for spool, want := range map[string]string{"A": "10.01", "B": "0", "C": "0"} {
		if got := cost.Value(s.Spool(spool)); got.String() != want {
			t.Errorf("value of %s: %s, want %s", spool, got, want)
		}
	}
}
