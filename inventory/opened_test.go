package inventory_test

import (
	"math"
	"testing"

	"tarebook/inventory/booktest"
)

// A spool whose core of 180 +- 5 g was weighed with 612 g on the scale "fine": division 0.1, error 0.1.
const openedA = "purchases at=2 spool=A net_g=432 core=card gross_g=612 scale=fine price=10.80\n"

func TestOpenedSpool(t *testing.T) {
	t.Parallel()
	fine := math.Sqrt(0.01/12 + 0.01/3)
	whole := math.Sqrt(1./12 + 1./3) // of a weigh-in without a scale
	for _, c := range []struct {
		name, book, net string
		u               float64
		tareFrom        string
	}{
		{"by its core", openedA, "432", math.Hypot(fine, 5), "core"},
		// A better tare later betters it: 612 - 205.
		{"by a typed tare", "purchases at=2 spool=A net_g=432 core=card tare_g=205 gross_g=612 scale=fine", "407", math.Hypot(fine, 2), "purchase"},
		{"by no scale", "purchases at=2 spool=A net_g=432 core=card gross_g=612", "432", math.Hypot(whole, 5), "core"},
		{"below its tare", "purchases at=2 spool=A net_g=432 core=card gross_g=170.5", "-9.5", math.Hypot(whole, 5), "core"},
		// The label rule: 612 less the 432 of its label.
		{"by its label", "purchases at=2 spool=A net_g=432 gross_g=612 scale=fine", "432", math.Hypot(fine, math.Hypot(fine, 4.32)), "label"},
		{"its label says nothing after consumption", "purchases at=2 spool=A net_g=432 gross_g=612 scale=fine\nconsumption at=1 job=j spool=A part_g=5", "432", 4.32, "none"},
		{"nor where it is more than the gross", "purchases at=2 spool=A net_g=432 gross_g=400 scale=fine", "432", 4.32, "none"},
		// Before it was booked: cost alone, also a winding-off, and a weigh-in is listed only.
		{"what was before moves no book", openedA + "consumption at=1 job=j spool=A part_g=50\npurchases at=1 spool=B net_g=20 from=A\nweighins at=1 spool=A gross_g=900", "432", math.Hypot(fine, 5), "core"},
		{"an empty weigh-in before ends nothing, but measured the core", openedA + "weighins at=1 spool=A gross_g=190 scale=fine state=empty", "422", math.Hypot(fine, fine), "empty"},
		{"the same instant is not before", openedA + "consumption at=2 job=j spool=A part_g=50 basis=weighed\npurchases at=2 spool=B net_g=20 from=A", "362", math.Hypot(fine, 5), "core"},
		{"a weigh-in at the same instant comes after it", openedA + "weighins at=2 spool=A gross_g=600 scale=fine", "420", math.Hypot(fine, 5), "core"},
		// 50 g of estimates, each with estimate_u 0.03.
		{"and what was estimated since", openedA + "consumption at=3 job=j spool=A part_g=50", "382", math.Hypot(math.Hypot(fine, 5), 1.5), "core"},
	} {
		a := booktest.Shelf(t, c.book).Spool("A")
		if a.Net.String() != c.net || a.Tare.From != c.tareFrom || a.Ended {
			t.Errorf("%s: net %s, tare from %s, ended %v, want %s and %s", c.name, a.Net, a.Tare.From, a.Ended, c.net, c.tareFrom)
		}
		booktest.Near(t, c.name+": u", a.NetU(), c.u, 1e-12)
	}
}

// A weigh-in after an opened spool was booked is judged by both readings, in which the tare cancels, and the two make an interval.
func TestWeighedAfterOpened(t *testing.T) {
	t.Parallel()
	const weighed = openedA + "consumption at=3 job=j spool=A part_g=100\nweighins at=4 spool=A gross_g=507 scale=fine\n"
	shelf := booktest.Shelf(t, weighed)
	r := shelf.Spool("A").Readings[0]
	if r.Book != booktest.Grams("332") || r.Variance != -booktest.Grams("5") || r.Outside || r.Before != shelf.Spool("A").Opening() {
		t.Errorf("book %s, variance %s, outside %v; want 332, -5 within 2u", r.Book, r.Variance, r.Outside)
	}
	booktest.Near(t, "u of the variance", r.VarianceU, math.Sqrt(2*(0.01/12+0.01/3)+9), 1e-12)

	again := booktest.Shelf(t, "settings setting=min_intervals value=2\n"+weighed+"consumption at=5 job=j spool=A part_g=100\nweighins at=6 spool=A gross_g=404 scale=fine")
	// Two intervals: 105 g and 103 g went where 100 g each were booked.
	booktest.Near(t, "k", again.Spool("A").Estimate.K, 1.04, 1e-12)

	// As the tare is bettered, the variance stays what it is, and nothing is heavier than was bought.
	better := booktest.Shelf(t, weighed+"cores core=card tare_g=150 tare_u_g=1")
	if r := better.Spool("A").Readings[0]; r.Variance != -booktest.Grams("5") || r.Heavier || r.Measured.Grams != booktest.Grams("357") {
		t.Errorf("with a tare of 150 g: measured %s, variance %s, heavier %v; want 357, -5, no", r.Measured.Grams, r.Variance, r.Heavier)
	}
	heavier := booktest.Shelf(t, openedA+"weighins at=4 spool=A gross_g=623 scale=fine")
	if !heavier.Spool("A").Readings[0].Heavier { // 443 is 11 above 432, and 2u is 10.001
		t.Error("11 g above its opening reading are not heavier than bought")
	}
}

// What is blank of a spool wound off another is that one's, through chains.
func TestOrigin(t *testing.T) {
	t.Parallel()
	const drum = "purchases at=0 spool=DRUM net_g=1000 price=20 currency=CHF maker=Reed lot=7 supplier=Quay swatch=#102030\n"
	for _, c := range []struct{ name, book, maker, lot, supplier, currency string }{
		{"its own", "purchases at=1 spool=A net_g=1 maker=Moss", "Moss", "", "", "EUR"},
		{"of the old spool", drum + "purchases at=1 spool=A net_g=1 from=DRUM", "Reed", "7", "Quay", "CHF"},
		{"its own first", drum + "purchases at=1 spool=A net_g=1 from=DRUM lot=8", "Reed", "8", "Quay", "CHF"},
		{"the nearest of a chain, whatever the order", "purchases at=0 spool=A net_g=1 from=B\npurchases at=1 spool=B net_g=5 from=DRUM supplier=Mole\n" + drum, "Reed", "7", "Mole", "CHF"},
		{"of an old spool that has no price", "purchases at=0 spool=B net_g=9 currency=CHF\npurchases at=1 spool=A net_g=1 from=B", "", "", "", "EUR"},
		{"a ring ends where it closes", "purchases at=0 spool=C net_g=1 from=A\npurchases at=0 spool=A net_g=1 from=B\npurchases at=0 spool=B net_g=1 from=C lot=5 maker=Reed", "Reed", "5", "", "EUR"},
		{"of a ring that begins with itself", "purchases at=0 spool=A net_g=1 from=B\npurchases at=0 spool=B net_g=1 from=C\npurchases at=0 spool=C net_g=1 from=B lot=5", "", "5", "", "EUR"},
	} {
		a := booktest.Shelf(t, c.book).Spool("A")
		if a.Maker != c.maker || a.Lot != c.lot || a.Supplier != c.supplier || a.Currency() != c.currency {
			t.Errorf("%s: got %+v, %s", c.name, a.Origin, a.Currency())
		}
	}
	ring := booktest.Shelf(t, "purchases at=0 spool=A net_g=1 from=B\npurchases at=0 spool=B net_g=1 from=C lot=5\npurchases at=0 spool=C net_g=1 from=A maker=Reed")
	for _, s := range ring.Spools { // each reaches both, whichever comes first
		if s.Maker != "Reed" || s.Lot != "5" {
			t.Errorf("%s of a ring: got %+v", s.ID, s.Origin)
		}
	}
}
