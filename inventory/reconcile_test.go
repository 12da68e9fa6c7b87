package inventory_test

import (
	"math"
	"testing"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
)

const boughtA = "purchases at=0 spool=A net_g=1000 tare_g=200\n"

// The book of grams is exact; every case says what is left of the 1000 g, what has gone since the last weigh-in that
// moved the book, by weighed grams and by others, and the net then.
func TestBook(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, rows                 string
		net, base, weighed, others string
	}{
		{"as bought", boughtA, "1000", "1000", "0", "0"},
		{"all four kinds", boughtA + "consumption at=1 job=a spool=a part_g=100.001 support_g=10 prime_g=5 purge_g=2.5", "882.499", "1000", "0", "117.501"},
		{"consumed before it was bought", "purchases at=5 spool=A net_g=1000\nconsumption at=1 job=a spool=A part_g=100", "900", "1000", "0", "100"},
		{"bases", boughtA + "consumption at=1 job=a spool=A part_g=100\nconsumption at=1 job=b spool=A part_g=10 basis=path\nconsumption at=1 job=c spool=A part_g=1 basis=weighed outcome=failed", "889", "1000", "1", "110"},
		{"weighed", boughtA + "consumption at=1 job=a spool=A part_g=100\nweighins at=2 spool=A gross_g=1080\nconsumption at=3 job=b spool=A part_g=30", "850", "880", "0", "30"},
		{"dried sets the book too", boughtA + "weighins at=2 spool=A gross_g=1190 state=dried", "990", "990", "0", "0"},
		{"no tare: a weigh-in does not move the book", "purchases at=0 spool=A net_g=1000\nconsumption at=1 job=a spool=A part_g=100\nweighins at=2 spool=A gross_g=1080\nconsumption at=3 job=b spool=A part_g=30", "870", "1000", "0", "130"},
		{"the tare of later knowledge counts all along", "purchases at=0 spool=A net_g=1000 tare_g=200\nweighins at=1 spool=A gross_g=1080\nweighins at=9 spool=A gross_g=210 state=empty", "0", "0", "0", "0"},
		{"wound off", boughtA + "purchases at=2 spool=B net_g=250 from=a", "750", "1000", "250", "0"},
		{"wound off before a weigh-in", boughtA + "purchases at=2 spool=B net_g=250 from=A\nweighins at=3 spool=A gross_g=955", "755", "755", "0", "0"},
		{"wound off between two weigh-ins, and after", boughtA + "weighins at=1 spool=A gross_g=1200\npurchases at=2 spool=B net_g=250 from=A\nweighins at=3 spool=A gross_g=955\npurchases at=4 spool=C net_g=55 from=A", "700", "755", "55", "0"},
		{"overdrawn stays below nought", boughtA + "consumption at=1 job=a spool=A part_g=1000.5", "-0.5", "1000", "0", "1000.5"},
		{"weighed below the tare", boughtA + "weighins at=1 spool=A gross_g=190", "-10", "-10", "0", "0"},
		{"ended empty, unweighed", boughtA + "weighins at=2 spool=A state=empty", "0", "0", "0", "0"},
		{"ended discarded", boughtA + "weighins at=2 spool=A gross_g=500 state=discarded", "0", "0", "0", "0"},
		{"weighed after the end", boughtA + "weighins at=2 spool=A state=discarded\nweighins at=3 spool=A gross_g=700", "0", "0", "0", "0"},
		{"consumed after the end", boughtA + "weighins at=2 spool=A state=discarded\nconsumption at=3 job=a spool=A part_g=9", "0", "0", "0", "0"},
		{"wound off after the end", boughtA + "weighins at=2 spool=A state=discarded\npurchases at=3 spool=B net_g=9 from=A", "0", "0", "0", "0"},
		// At one instant: purchases, weigh-ins, consumption.
		{"consumed at the weigh-in's instant is after it", boughtA + "weighins at=2 spool=A gross_g=1100\nconsumption at=2 job=a spool=A part_g=30", "870", "900", "0", "30"},
		{"the same instant by another clock", boughtA + "weighins at=2026-01-01T03:00:00+01:00 spool=A gross_g=1100\nconsumption at=2026-01-01T01:00:00-01:00 job=a spool=A part_g=30", "870", "900", "0", "30"},
		{"wound off at the weigh-in's instant is before it", boughtA + "weighins at=2 spool=A gross_g=1100\npurchases at=2 spool=B net_g=30 from=A", "900", "900", "0", "0"},
		{"of two weigh-ins at one instant the greater entry is later", boughtA + "weighins at=2 spool=A gross_g=1100 entry=01K00000000000000000000002\nweighins at=2 spool=A gross_g=1050 entry=01K00000000000000000000001\nweighins at=2 spool=A gross_g=1000", "900", "900", "0", "0"},
		{"a weigh-in twice is one", boughtA + "weighins at=2 spool=A gross_g=1100\nweighins at=2 spool=A gross_g=1100", "900", "900", "0", "0"},
	} {
		s := booktest.Shelf(t, c.rows).Spool("A")
		if s.Net != booktest.Grams(c.net) || s.Base != booktest.Grams(c.base) || s.Weighed != booktest.Grams(c.weighed) || s.Others != booktest.Grams(c.others) {
			t.Errorf("%s: net %s base %s W %s E %s, want %s, %s, %s, %s", c.name, s.Net, s.Base, s.Weighed, s.Others, c.net, c.base, c.weighed, c.others)
		}
	}
}

func TestEnd(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, rows      string
		ended, afterEnd bool
	}{
		{"never", "weighins at=2 spool=A gross_g=1100\nconsumption at=3 job=a spool=A part_g=9", false, false},
		{"empty", "weighins at=2 spool=A gross_g=205 state=empty", true, false},
		{"first of two", "weighins at=2 spool=A state=discarded\nweighins at=4 spool=A gross_g=205 state=empty\nconsumption at=3 job=a spool=A part_g=9", true, true},
		{"consumed before", "weighins at=2 spool=A state=discarded\nconsumption at=1 job=a spool=A part_g=9", true, false},
		{"consumed at that instant, which is after", "weighins at=2 spool=A state=discarded\nconsumption at=2 job=a spool=A part_g=9", true, true},
		{"wound off after, which moves nothing", "weighins at=2 spool=A state=discarded\npurchases at=3 spool=B net_g=9 from=A", true, false},
	} {
		s := booktest.Shelf(t, boughtA+c.rows).Spool("A")
		if s.Ended != c.ended || s.AfterEnd != c.afterEnd {
			t.Errorf("%s: ended %v, after end %v; want %v, %v", c.name, s.Ended, s.AfterEnd, c.ended, c.afterEnd)
		}
		if s.Ended && (s.NetU() != 0 || s.Likely() != 0 || s.End.At.String() != "2026-01-01T02:00:00Z") {
			t.Errorf("%s: u %v, likely %v, end at %s", c.name, s.NetU(), s.Likely(), s.End.At)
		}
	}
}

type reading struct {
	measured, book, variance string // variance blank: not judged
	u, varianceU             float64
	outside, heavier         bool
}

func TestReadings(t *testing.T) {
	t.Parallel()
	const bench = 5. / 12 // division 1, error 1: 1/12 + 1/3 g2
	root := math.Sqrt
	tared := root(bench + 4)
	labelled := root(bench + bench + 100) // this reading, and the tare by the label's 1 % of 1000 g
	for _, c := range []struct {
		name, rows string
		want       []reading
	}{
		{"none moved the book before: scale, tare and label", boughtA + "weighins at=1 spool=A gross_g=1190",
			[]reading{{"990", "1000", "-10", tared, root(bench + 4 + 100), false, false}}},
		{"and what was estimated", boughtA + "consumption at=1 job=a spool=A part_g=200\nweighins at=2 spool=A gross_g=1000",
			[]reading{{"800", "800", "0", tared, root(bench + 4 + 100 + 36), false, false}}},
		{"the tare cancels between two", boughtA + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=100\nweighins at=3 spool=A gross_g=1095",
			[]reading{{"1000", "1000", "0", tared, root(bench + 4 + 100), false, false}, {"895", "900", "-5", tared, root(2*bench + 9), false, false}}},
		{"each scale its own", boughtA + "weighins at=1 spool=A gross_g=1200 scale=coarse\nweighins at=3 spool=A gross_g=1195 scale=fine",
			[]reading{{"1000", "1000", "0", root(1./3 + 3 + 1 + 4), root(1./3 + 3 + 1 + 4 + 100), false, false},
				{"995", "1000", "-5", root(bench/100 + 4), root(1./3 + 3 + 1 + bench/100), true, false}}},
		{"weighed grams are exact", boughtA + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=100 basis=weighed\nweighins at=3 spool=A gross_g=1098",
			[]reading{{"1000", "1000", "0", tared, root(bench + 4 + 100), false, false}, {"898", "900", "-2", tared, root(2 * bench), true, false}}},
		{"outside is beyond 2 u, both ways", boughtA + "weighins at=1 spool=A gross_g=1200\nweighins at=2 spool=A gross_g=1201.825\nweighins at=3 spool=A gross_g=1203.651",
			[]reading{{"1000", "1000", "0", tared, root(bench + 4 + 100), false, false},
				{"1001.825", "1000", "1.825", tared, root(2 * bench), false, false}, // 2 u = 1.825742
				{"1003.651", "1001.825", "1.826", tared, root(2 * bench), true, false}}},
		{"the weigh-in that gave the label's tare has none", "purchases at=0 spool=A net_g=1000\nweighins at=1 spool=A gross_g=1207\nweighins at=2 spool=A gross_g=1206",
			[]reading{{"1000", "1000", "", labelled, 0, false, false}, {"999", "1000", "-1", labelled, root(2 * bench), false, false}}},
		{"dried", boughtA + "weighins at=1 spool=A gross_g=1200\nweighins at=2 spool=A gross_g=1195 state=dried\nweighins at=3 spool=A gross_g=1195",
			[]reading{{"1000", "1000", "0", tared, root(bench + 4 + 100), false, false}, {"995", "1000", "-5", tared, root(2 * bench), true, false},
				{"995", "995", "0", tared, root(2 * bench), false, false}}},
		{"discarded on the scale; later ones are listed, with the book at nought", boughtA + "weighins at=1 spool=A gross_g=1200\nweighins at=2 spool=A gross_g=1199 state=discarded\nweighins at=3 spool=A gross_g=1000",
			[]reading{{"1000", "1000", "0", tared, root(bench + 4 + 100), false, false}, {"999", "1000", "-1", tared, root(2 * bench), false, false},
				{"800", "0", "", tared, 0, false, false}}},
		{"ended unweighed", boughtA + "weighins at=1 spool=A state=discarded", []reading{{"", "1000", "", 0, 0, false, false}}},
		{"empty: the core measures itself", boughtA + "weighins at=1 spool=A gross_g=1190\nconsumption at=2 job=a spool=A part_g=1000\nweighins at=3 spool=A gross_g=195 state=empty",
			[]reading{{"995", "1000", "-5", root(2 * bench), root(2*bench + 100), false, false}, {"0", "-5", "5", root(2 * bench), root(2*bench + 900), false, false}}},
		{"no tare: only the book is known", "purchases at=0 spool=A net_g=1000\nconsumption at=0 job=a spool=A part_g=1\nweighins at=1 spool=A gross_g=1190",
			[]reading{{"", "999", "", 0, 0, false, false}}},
		{"wound off", boughtA + "weighins at=1 spool=A gross_g=1200\npurchases at=2 spool=B net_g=250 from=A\nweighins at=3 spool=A gross_g=949",
			[]reading{{"1000", "1000", "0", tared, root(bench + 4 + 100), false, false}, {"749", "750", "-1", tared, root(2 * bench), false, false}}},
		{"heavier than bought", boughtA + "weighins at=1 spool=A gross_g=1204.203\nweighins at=2 spool=A gross_g=1204.204", // 2 u = 4.203173
			[]reading{{"1004.203", "1000", "4.203", tared, root(bench + 4 + 100), false, false}, {"1004.204", "1004.203", "0.001", tared, root(2 * bench), false, true}}},
	} {
		s := booktest.Shelf(t, c.rows).Spool("A")
		if len(s.Readings) != len(c.want) {
			t.Fatalf("%s: %d readings, want %d", c.name, len(s.Readings), len(c.want))
		}
		for i, want := range c.want {
			r := s.Readings[i]
			got := reading{book: r.Book.String(), u: r.U, outside: r.Outside, heavier: r.Heavier, varianceU: r.VarianceU}
			if r.Measured.Given {
				got.measured = r.Measured.Grams.String()
			}
			if r.Judged {
				got.variance = r.Variance.String()
			}
			if got.measured != want.measured || got.book != want.book || got.variance != want.variance || got.outside != want.outside || got.heavier != want.heavier {
				t.Errorf("%s: reading %d: %+v, want %+v", c.name, i, got, want)
			}
			booktest.Near(t, c.name+": u", r.U, want.u, 1e-12)
			booktest.Near(t, c.name+": u of the variance", r.VarianceU, want.varianceU, 1e-12)
		}
	}
}

// What was estimated carries the prediction and, as the book takes estimates for what went, the bias.
func TestVarianceOfEstimates(t *testing.T) {
	t.Parallel()
	s := booktest.Shelf(t, mortgageBook+"consumption at=10 job=more spool=A part_g=500")
	a := s.Spool("A")
	const k, predicted = 1.275919937251, 148.579985641 // Mack's column 4, for 500 g
	bias := (k - 1) * 500
	booktest.Near(t, "u of the net now", a.NetU(), math.Sqrt(5./12+4+predicted*predicted+bias*bias), 1e-9)
	booktest.Near(t, "likely", a.Likely(), 7389.511-k*500, 1e-12)
	if a.Net != booktest.Grams("6889.511") {
		t.Errorf("the book is %s; it takes estimates as booked: 6889.511", a.Net)
	}
	s = booktest.Shelf(t, mortgageBook+"consumption at=10 job=more spool=A part_g=500\nweighins at=11 spool=A gross_g=7139.511 state=dried")
	r := s.Spool("A").Readings[2]
	booktest.Near(t, "u of a variance", r.VarianceU, math.Sqrt(2*5./12+predicted*predicted+bias*bias), 1e-9)

	booktest.Near(t, "u of an unweighed spool", booktest.Shelf(t, "purchases at=0 spool=A net_g=750\nconsumption at=1 job=a spool=A part_g=100").Spool("A").NetU(), math.Hypot(7.5, 3), 1e-12)
}

func TestFlags(t *testing.T) {
	t.Parallel()
	s := booktest.Shelf(t, boughtA+"weighins at=1 spool=A gross_g=1200\nweighins at=2 spool=A gross_g=1250\nweighins at=3 spool=A state=empty\npurchases at=0 spool=B net_g=1000")
	a, b := s.Spool("a"), s.Spool("B")
	last := a.LastReading()
	if last == nil || !last.Outside || !last.Heavier || a.LastWeighed() != a.Weighins[1] {
		t.Errorf("last reading %+v, last weighed %v; want it outside and heavier, and the second weigh-in", last, a.LastWeighed())
	}
	if b.LastReading() != nil || b.LastWeighed() != nil {
		t.Errorf("a spool never weighed: last reading %+v, last weighed %v", b.LastReading(), b.LastWeighed())
	}
	s = booktest.Shelf(t, boughtA+"weighins at=1 spool=A gross_g=1200\nweighins at=2 spool=A gross_g=1250\nweighins at=3 spool=A gross_g=1250")
	if last := s.Spool("A").LastReading(); last.Outside {
		t.Errorf("the last reading fits the one before it, but is outside: %+v", last)
	}
}

// Rows about a spool without a purchase that counts are left out.
func TestVoidedPurchase(t *testing.T) {
	t.Parallel()
	s, jobs := booktest.Check(t, boughtA+`
purchases entry=01K00000000000000000000001 at=0 spool=B net_g=500
purchases at=1 spool=C net_g=100 from=B
weighins at=1 spool=B gross_g=600
consumption at=1 job=over spool=B part_g=1
moves at=1 spool=B place=Bench/0
queue at=2 job=over slot=0 spool=A part_g=1
queue at=2 job=gone slot=0 spool=B part_g=1
voids at=3 target=01K00000000000000000000001
`)
	if s.Spool("B") != nil || len(s.Spools) != 2 {
		t.Errorf("B stays on the shelf of %d", len(s.Spools))
	}
	if len(jobs) != 1 || jobs[0].Name != "over" {
		t.Errorf("jobs %v; want the one on A alone: a row on B finishes no job, nor queues one", jobs)
	}
	if c := s.Spool("C"); c == nil || c.Net != booktest.Grams("100") {
		t.Error("C was wound off B and is there whatever became of B")
	}
	var none *inventory.Spool
	if got := s.Spool("nobody"); got != none {
		t.Errorf("a spool never bought: %v", got)
	}
}
