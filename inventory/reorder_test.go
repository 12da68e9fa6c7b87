package inventory_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
	"tarebook/ledger"
)

// Reorder points of published examples in which demand varies and the lead time does not. Textbooks round z to two decimals,
// so their figures are met to 0.1 and those of the exact z tightly.
func TestReorderPoint(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		source                   string
		mean, sd, lead, level    float64
		exact, printed, ofRounds float64
	}{
		// Demand over the lead time is given: mean 50, sd 5, risk 3 %; z 1.88, safety stock 9.40, reorder point 59.40.
		{"W. J. Stevenson, Operations Management, 14th edition, chapter 12, example 8, p. 528", 50, 5, 1, 0.97, 59.403968041, 59.40, 0.1},
		// 50 a week, sd 3, 2 weeks, risk 10 %: 100 + 1.28 x 3 x sqrt 2.
		{"same book, the example after it (question; answer worked out)", 50, 3, 2, 0.90, 105.437162815, 105.43, 0.1},
		// 5 a day, sd 2, 3 days, 95 %: sd of lead-time demand 3.464101615; with z 1.65 stock 5.715767665.
		{"textbook exercise on hammers, book not named in the copy (question; answer worked out)", 5, 2, 3, 0.95, 20.697940106, 20.715767665, 0.1},
	} {
		got := inventory.ReorderPoint(c.mean, c.sd, c.lead, c.level)
		booktest.Near(t, c.source, got, c.exact, 1e-10)
		if math.Abs(got-c.printed) > c.ofRounds {
			t.Errorf("%s: %v, printed %v", c.source, got, c.printed)
		}
		z := distuv.UnitNormal.Quantile(c.level) // an independent library
		booktest.Near(t, c.source+", by gonum", got, c.mean*c.lead+z*c.sd*math.Sqrt(c.lead), 1e-12)
	}
	// J. Heizer, B. Render, Operations Management, chapter 12, equation 12-16, p. 543: 60 a week, 6 weeks, sd of the lead time
	// 2 weeks, 90 %: 360 + 1.28 x 60 x 2 = 513.6. There the lead time varies; here it does not, so 360 is right.
	booktest.Near(t, "constant demand", inventory.ReorderPoint(60, 0, 6, 0.90), 360, 1e-15)
}

// NIST Statistical Reference Datasets, univariate: NumAcc1 has mean 10000002 and standard deviation 1, NumAcc3 1000000.2 and
// 0.1, NumAcc4 10000000.2 and 0.1, all exact. A sum of squares in floats fails the last.
func TestDailyUseNIST(t *testing.T) {
	t.Parallel()
	acc := func(base float64) []float64 {
		all := []float64{base + 0.2}
		for range 500 {
			all = append(all, base+0.1, base+0.3)
		}
		return all
	}
	for _, c := range []struct {
		name     string
		data     []float64
		mean, sd float64
	}{
		{"NumAcc1", []float64{10000001, 10000003, 10000002}, 10000002, 1},
		{"NumAcc3", acc(1000000), 1000000.2, 0.1},
		{"NumAcc4", acc(10000000), 10000000.2, 0.1},
	} {
		use := map[int]ledger.Grams{}
		for i, x := range c.data {
			use[i] = ledger.Grams(math.Round(x * 1000))
		}
		mean, sd := inventory.Daily(len(c.data), use)
		if mean != c.mean || sd != c.sd {
			t.Errorf("%s: mean %.15g and sd %.15g, want %v and %v", c.name, mean, sd, c.mean, c.sd)
		}
	}
}

// Days that are not named had no use: an independent library is given the noughts.
func TestDailyUseNoughts(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(2, 400).Draw(r, "days")
		data := make([]float64, n)
		use := map[int]ledger.Grams{}
		for _, day := range rapid.SliceOfDistinct(rapid.IntRange(0, n-1), rapid.ID[int]).Draw(r, "used") {
			g := ledger.Grams(rapid.IntRange(1, 2_000_000).Draw(r, "grams"))
			use[day], data[day] = g, g.Float()
		}
		mean, sd := inventory.Daily(n, use)
		booktest.Near(t, "mean", mean, stat.Mean(data, nil), 1e-12)
		booktest.Near(t, "sd", sd, stat.StdDev(data, nil), 1e-9)
	})
}

func reordered(t testing.TB, today string, days int, text string) *inventory.Reorder {
	t.Helper()
	at, err := ledger.ParseTime(today)
	if err != nil {
		t.Fatal(err)
	}
	r, err := inventory.NewReorder(booktest.View(t, text), at, days)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// tell renders a supply: material/colour spools: on hand - queued; days, days with use, grams | mean sd point buy spools by.
func tell(s *inventory.Supply) string {
	head := fmt.Sprintf("%s/%s %d: %.10g - %s; %d %d %s | ", s.Material, s.Colour, s.Spools, s.OnHand, s.Queued, s.Days, s.UseDays, s.Used)
	if s.Why != "" {
		return head + s.Why
	}
	return head + fmt.Sprintf("%.6g %.6g %.6g %.6g %d %s", s.Mean, s.SD, s.Point, s.Buy, s.BuySpools, s.By)
}

func supplies(t testing.TB, name string, r *inventory.Reorder, want ...string) {
	t.Helper()
	var got []string
	for _, s := range r.Supplies {
		got = append(got, tell(s))
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("%s:\n got %s\nwant %s", name, strings.Join(got, "\n     "), strings.Join(want, "\n     "))
	}
}

// daysOfUse are rows of use, one a day from 1 January 2026 on.
func daysOfUse(spool string, grams ...string) string {
	var b strings.Builder
	for i, g := range grams {
		if g != "0" {
			fmt.Fprintf(&b, "consumption at=2026-01-%02dT12:00:00Z spool=%s job=j part_g=%s\n", i+1, spool, g)
		}
	}
	return b.String()
}

// The exercise on hammers as a book: 17 days, eight of 3, eight of 7 and one of 5, have mean 5 and sum of squares about it
// 16 x 4, so sd sqrt(64/16) = 2.
var hammers = "settings setting=lead_days value=3\n" + daysOfUse("A", "3", "7", "3", "7", "3", "7", "3", "7", "5", "7", "3", "7", "3", "7", "3", "7", "3")

func TestReorder(t *testing.T) {
	t.Parallel()
	const today = "2026-01-17T09:00:00Z"
	for _, c := range []struct {
		name, rows string
		want       []string
	}{
		// 1000 - 85 = 915 are left; 915 - 20.697940106 at 5 a day last 178.86 days, so until 17 January + 178.
		{"the published example", "purchases at=0 spool=A net_g=1000\n" + hammers,
			[]string{"PLA/ 1: 915 - 0; 17 17 85 | 5 2 20.6979 0 0 2026-07-14"}},
		// 90 - 85 = 5 are left, 15.697940106 below the point.
		{"below it", "purchases at=0 spool=A net_g=90\n" + hammers,
			[]string{"PLA/ 1: 5 - 0; 17 17 85 | 5 2 20.6979 15.6979 1 2026-01-17"}},
		{"two spools make up for it", "purchases at=0 spool=B net_g=10\nweighins at=1 spool=B state=discarded\npurchases at=0 spool=A net_g=90\npurchases at=2 spool=C net_g=8 material=PLA\nweighins at=3 spool=C state=discarded\n" + hammers,
			[]string{"PLA/ 1: 5 - 0; 17 17 85 | 5 2 20.6979 15.6979 2 2026-01-17"}},
		// The queue takes 894, 21 are free: 0.302 above the point, reached on the first day.
		// 18.7 g in 17 days are 1.1 a day; at even odds the point is 3.3 g, which in floats is a little more than the spool's 3.3.
		{"a whole spool is one spool", "settings setting=lead_days value=3\nsettings setting=service_level value=0.5\npurchases at=0 spool=A net_g=1000\npurchases at=0 spool=B net_g=3.3\nconsumption at=1 spool=A part_g=10.7\nconsumption at=30 spool=A part_g=8\nweighins at=40 spool=A state=empty\nweighins at=40 spool=B state=discarded\n",
			[]string{"PLA/ 0: 0 - 0; 17 2 18.7 | 1.1 3.14166 3.3 3.3 1 2026-01-17"}}, // sd by Python's statistics module
		{"what is queued is not free", "purchases at=0 spool=A net_g=1000\nqueue at=1 job=q spool=A part_g=890 purge_g=4\n" + hammers,
			[]string{"PLA/ 1: 915 - 894; 17 17 85 | 5 2 20.6979 0 0 2026-01-17"}},
		{"a job that is over is not queued, one that failed is", "purchases at=0 spool=A net_g=1000\nqueue at=1 job=J spool=A part_g=500\nqueue at=1 job=k material=PLA part_g=7\nqueue at=1 job=k slot=0 material=PLA part_g=9\nqueue at=2 job=k slot=0 material=PLA part_g=1\n" + hammers,
			[]string{"PLA/ 1: 915 - 8; 17 17 85 | 5 2 20.6979 0 0 2026-07-13"}},
		{"use of an ended spool counts, the spool does not", "purchases at=0 spool=A net_g=1000\npurchases at=400 spool=B net_g=100\nweighins at=2026-01-17T00:00:00Z spool=A state=empty\n" + hammers,
			[]string{"PLA/ 1: 100 - 0; 17 17 85 | 5 2 20.6979 0 0 2026-02-01"}}, // 79.302/5 = 15.86 days
		{"waste and failed jobs are use; several rows make a day", "purchases at=0 spool=A net_g=1000\nconsumption at=2026-01-02T09:00:00Z spool=A part_g=1 support_g=1 prime_g=2 purge_g=3 outcome=failed\n" + strings.Replace(hammers, "part_g=7", "part_g=0", 1),
			[]string{"PLA/ 1: 915 - 0; 17 17 85 | 5 2 20.6979 0 0 2026-07-14"}},
		{"winding off is no use", "purchases at=0 spool=A net_g=1000\npurchases at=2 spool=B net_g=200 from=A\n" + hammers,
			[]string{"PLA/ 2: 915 - 0; 17 17 85 | 5 2 20.6979 0 0 2026-07-14"}},
		{"a rewound spool is not bought", "purchases at=0 spool=A net_g=90\npurchases at=2 spool=B net_g=1 from=A\n" + hammers,
			[]string{"PLA/ 2: 5 - 0; 17 17 85 | 5 2 20.6979 15.6979 1 2026-01-17"}},
		// 85 - 3 + 30 are booked off 90: the book is below 0, the spool empty.
		{"an overdrawn spool holds nothing and takes nothing of another", "purchases at=0 spool=A net_g=80\npurchases at=0 spool=B net_g=50\n" + hammers,
			[]string{"PLA/ 2: 50 - 0; 17 17 85 | 5 2 20.6979 0 0 2026-01-22"}}, // 29.302/5 = 5.86
		{"colours apart, names without case; the blank one is one of its own", "purchases at=0 spool=A net_g=1000\npurchases at=0 spool=B net_g=500 colour=Sand\npurchases at=1 spool=C net_g=250 colour=SAND material=pla\n" + hammers + strings.ReplaceAll(hammers, "spool=A", "spool=c"),
			[]string{"PLA/Sand 2: 665 - 0; 17 17 85 | 5 2 20.6979 0 0 2026-05-25", "PLA/ 1: 915 - 0; 17 17 85 | 5 2 20.6979 0 0 2026-07-14"}}, // 644.302/5 = 128.86
		{"queued and nowhere", "purchases at=0 spool=A net_g=1000\nqueue at=1 job=q material=PETG colour=moss part_g=30\n" + hammers,
			[]string{"PETG/moss 0: 0 - 30; 0 0 0 | 0 days of history, 14 are wanted", "PLA/ 1: 915 - 0; 17 17 85 | 5 2 20.6979 0 0 2026-07-14"}},
		{"13 days", "purchases at=2026-01-05T23:59:59Z spool=A net_g=1000\npurchases at=2026-01-05T23:59:59Z spool=B net_g=1000 material=PETG\nconsumption at=2026-01-01T00:00:00Z spool=A part_g=1\nconsumption at=2026-01-17T00:00:00Z spool=A part_g=1\nconsumption at=2026-01-16T00:00:00Z spool=B part_g=1\nconsumption at=2026-01-17T00:00:00Z spool=B part_g=1\n",
			// By Python's statistics module, from the noughts and ones.
			[]string{"PLA/ 1: 998 - 0; 17 2 2 | 0.117647 0.332106 2.26881 0 0 2049-03-20", "PETG/ 1: 998 - 0; 13 2 2 | 13 days of history, 14 are wanted"}},
		{"one day of use", "purchases at=0 spool=A net_g=1000\nconsumption at=1 spool=A part_g=5\nconsumption at=2 spool=A part_g=5\n",
			[]string{"PLA/ 1: 990 - 0; 17 1 10 | used on 1 day of 17, 2 are wanted"}},
		{"no use, and rows of nothing", "purchases at=0 spool=A net_g=1000\nconsumption at=1 spool=A\nconsumption at=30 spool=A\n",
			[]string{"PLA/ 1: 1000 - 0; 17 0 0 | used on 0 days of 17, 2 are wanted"}},
		{"an older shelf in a new book", "purchases at=2025-06-01T00:00:00Z spool=A net_g=1000\npurchases at=2025-06-01T00:00:00Z spool=B net_g=1000 material=PETG\n" + hammers,
			[]string{"PLA/ 1: 915 - 0; 17 17 85 | 5 2 20.6979 0 0 2026-07-14", "PETG/ 1: 1000 - 0; 17 0 0 | used on 0 days of 17, 2 are wanted"}},
		{"gone, and neither used nor queued", "purchases at=0 spool=A net_g=1000\nweighins at=1 spool=A state=empty\n", nil},
		{"a lifetime off", "purchases at=0 spool=A net_g=1000\nconsumption at=1 spool=A part_g=0.001\nconsumption at=40 spool=A part_g=0.001\n",
			[]string{"PLA/ 1: 999.998 - 0; 17 2 0.002 | 0.000117647 0.000332106 0.00226881 0 0 "}},
	} {
		r := reordered(t, today, 90, c.rows)
		if c.name == "13 days" || c.name == "a lifetime off" { // lead time of the default
			if r.LeadDays != 7 || r.ServiceLevel != 0.95 || r.From != "2025-10-20" || r.To != "2026-01-17" {
				t.Errorf("%s: %+v", c.name, r)
			}
		}
		supplies(t, c.name, r, c.want...)
	}
}

// The window ends on the day that today's own clock shows, and each row's own clock tells its day.
func TestReorderWindow(t *testing.T) {
	t.Parallel()
	const book = `
purchases at=2025-01-01T00:00:00Z spool=A net_g=1000
consumption at=2025-02-01T00:00:00Z spool=A part_g=64
consumption at=2026-01-04T00:30:00+01:00 spool=A part_g=1
consumption at=2026-01-03T23:30:00Z spool=A part_g=2
consumption at=2026-01-17T23:59:59-05:00 spool=A part_g=4
consumption at=2026-01-18T00:30:00+09:00 spool=A part_g=8
`
	for _, c := range []struct {
		today string
		days  int
		want  string
	}{
		// 15 days from the 4th to the 18th: 1 + 4 + 8, the 2 of the 3rd being out.
		{"2026-01-18T06:00:00Z", 15, "15 3 13"},
		{"2026-01-18T06:00:00Z", 16, "16 4 15"},
		// At that instant it is still the 17th in the west: the window is a day earlier, and 8 g of the 18th are not in it yet.
		{"2026-01-18T00:00:00-06:00", 15, "15 3 13"},
		{"2026-01-17T23:59:59-06:00", 15, "15 3 7"},
		{"2026-01-18T06:00:00Z", 400, "352 5 79"}, // 1 February 2025 to 18 January 2026: the book's first use
	} {
		s := reordered(t, c.today, c.days, book).Supplies[0]
		if got := fmt.Sprint(s.Days, s.UseDays, s.Used); got != c.want {
			t.Errorf("%d days to %s: %s, want %s", c.days, c.today, got, c.want)
		}
	}
}

// How estimates run in this shop tells what is on hand.
func TestReorderLikely(t *testing.T) {
	t.Parallel()
	// Two intervals, w = 110 of c = 100 each: k = 1.1. Since the last weigh-in 100 are booked: 780 - 110 = 670.
	r := reordered(t, "2026-01-20T00:00:00Z", 90, `
settings setting=min_intervals value=2
purchases at=0 spool=A net_g=1000 tare_g=200
weighins at=1 spool=A gross_g=1200
consumption at=2 spool=A part_g=100
weighins at=3 spool=A gross_g=1090
consumption at=50 spool=A part_g=100
weighins at=51 spool=A gross_g=980
consumption at=52 spool=A part_g=100
`)
	booktest.Near(t, "on hand", r.Supplies[0].OnHand, 670, 1e-12)
}

// Merging folds of daily use equals one fold.
func TestMergedDemand(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		v := booktest.Drawn(r, t, booktest.Draw(r))
		s, err := inventory.Unfolded(v)
		if err != nil {
			r.Fatal(err)
		}
		day := ledger.NewTime(booktest.Start).Day()
		first, last := day-rapid.IntRange(-1, 2).Draw(r, "first"), day+rapid.IntRange(0, 2).Draw(r, "last")
		one := s.NewDemand(first, last)
		if err := v.FoldConsumption(one); err != nil {
			r.Fatal(err)
		}
		f := booktest.Split[*inventory.Demand]{Rand: rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "deal"), 0))}
		for range rapid.IntRange(2, 5).Draw(r, "folds") {
			f.Folds = append(f.Folds, s.NewDemand(first, last))
		}
		if err := v.FoldConsumption(f); err != nil {
			r.Fatal(err)
		}
		a, b := fmt.Sprint(one.Uses()), fmt.Sprint(f.Merged((*inventory.Demand).Merge).Uses())
		if a != b {
			r.Fatalf("one fold\n%s\nmany\n%s", a, b)
		}
	})
}
