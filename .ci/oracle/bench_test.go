package oracle

import (
	"math"
	"testing"
	"time"
)

const openedHeader = "purchases.csv\nentry,at,spool,material,maker,lot,swatch,supplier,diameter_mm,net_g,core,tare_g,price,currency,from,gross_g,scale\n"

// A weigh-in without a scale has u^2 = 1/12 + 1/3 = 5/12.
const scale2 = 5.0 / 12

func stockOf(t *testing.T, f folder) map[string]object {
	t.Helper()
	answer, _ := calculate(f, question{command: "stock"})
	spools := map[string]object{}
	for _, o := range answer.(records) {
		spools[o["spool"].(string)] = o
	}
	return spools
}

func reconciled(f folder) records {
	answer, _ := calculate(f, question{command: "reconcile"})
	return answer.(records)
}

// 612 g on a core of 200 g are 412 g, whatever was reckoned that day; what
// came before moves nothing.
func TestOpenedFollowsItsScale(t *testing.T) {
	f := microBook(t,
		"cores.csv\ncore,tare_g,tare_u_g,note\nreel,200,25,\n",
		openedHeader+
			",2026-07-10T00:00:00Z,A,PLA,,,,,1.75,432,reel,,10.80,,,612,\n"+
			",2026-07-01T00:00:00Z,OFF,PLA,,,,,1.75,33,,,,,A,,\n",
		weighinsHeader+",2026-07-05T00:00:00Z,A,900,,\n,2026-07-06T00:00:00Z,A,,,discarded\n",
		consumptionHeader+",2026-07-09T00:00:00Z,j,c,p,A,77,,,,,\n,2026-07-10T00:00:00Z,j,c,p,A,100,,,,,\n",
	)
	bought := instant(time.Date(2026, 7, 10, 0, 0, 0, 0, time.UTC))
	// 432 g for 10.80 is 0.025 a gram; u^2 = 5/12 + 25^2 + (100 x 0.03)^2.
	expect(t, stockOf(t, f)["A"], object{"tare_from": "core", "tare_g": counted(200000), "net_g": counted(312000), "likely_g": guessed(312), "ended": false,
		"u_g": measure(math.Sqrt(scale2 + 625 + 9)), "drawn_since_g": counted(100000), "last_weighed": bought, "price_per_g": euros("0.025"), "value": euros("7.80"), "flags": standing{}})
	// 33/432 of 10.80 went with what was wound off all the same.
	expect(t, stockOf(t, f)["OFF"], object{"price_per_g": euros("0.025")})
	expect(t, reconciled(f)[0], object{"measured_g": counted(700000), "book_g": counted(412000), "variance_g": nil, "variance_u_g": nil, "flags": flags{}})
	// What was taken before costs: 177 g at 0.025.
	answer, _ := calculate(f, question{command: "waste"})
	expect(t, answer.(object)["totals"].(records)[0], object{"part_g": counted(177000), "part_cost": euros("4.43")})
}

func TestOpenedTares(t *testing.T) {
	use := consumptionHeader + ",2026-07-09T00:00:00Z,j,c,p,BEFORE,1,,,,,\n"
	f := microBook(t,
		"scales.csv\nscale,division_g,error_g,repeat_g,note\nfine,0.1,0,0.2,\n",
		openedHeader+
			",2026-07-10T00:00:00Z,LABEL,PLA,,,,,1.75,400,,,,,,600,\n"+ // 600 - 400
			",2026-07-10T00:00:00Z,NONE,PLA,,,,,1.75,600,,,,,,600,\n"+ // not above 0
			",2026-07-10T00:00:00Z,BEFORE,PLA,,,,,1.75,400,,,,,,600,\n"+ // something was taken before
			",2026-07-10T00:00:00Z,TYPED,PLA,,,,,1.75,400,,190,,,,600,fine\n"+
			",2026-07-10T00:00:00Z,LATER,PLA,,,,,1.75,400,,190,,,,600,\n"+ // its empty core is weighed
			",2026-07-10T00:00:00Z,BELOW,PLA,,,,,1.75,40,,190,8,,,150,\n"+
			",2026-07-10T00:00:00Z,OLD,PLA,,,,,1.75,1000,,200,,,,,\n"+
			",2026-07-11T00:00:00Z,WOUND,PLA,,,,,1.75,300,,200,,,OLD,510,\n",
		weighinsHeader+",2026-07-20T00:00:00Z,LATER,230,,empty\n", use)
	s := stockOf(t, f)
	expect(t, s["LABEL"], object{"tare_from": "label", "tare_g": counted(200000), "net_g": counted(400000), "u_g": measure(math.Sqrt(2*scale2 + 16)), "flags": standing{"unpriced"}})
	expect(t, s["NONE"], object{"tare_from": "none", "tare_g": nil, "net_g": counted(600000), "u_g": measure(6), "flags": standing{"no tare", "unpriced"}})
	expect(t, s["BEFORE"], object{"tare_from": "none", "net_g": counted(400000), "u_g": measure(4)})
	// u_scale^2 = 0.01/12 + 0.04; typed: 2 g.
	expect(t, s["TYPED"], object{"tare_from": "purchase", "net_g": counted(410000), "u_g": measure(math.Sqrt(0.01/12 + 0.04 + 4))})
	expect(t, s["BELOW"], object{"net_g": counted(-40000), "value": euros("0"), "flags": standing{"overdrawn"}})
	expect(t, s["OLD"], object{"net_g": counted(700000), "drawn_since_g": counted(300000)})
	expect(t, s["WOUND"], object{"net_g": counted(310000)})
	// 230 g of core: it began at 370 g, and nothing was taken: the empty core says that 370 g went.
	expect(t, reconciled(f)[0], object{"tare_g": counted(230000), "measured_g": counted(0), "book_g": counted(370000), "variance_g": counted(-370000), "variance_u_g": measure(math.Sqrt(2 * scale2))})
}

// Opened spools of 800 and 400 g: 110 g went for 100 recorded and 55 for 50.
func TestOpenedBeginsAnInterval(t *testing.T) {
	f := microBook(t, "settings.csv\nsetting,value\nmin_intervals,2\n",
		openedHeader+",2026-07-10T00:00:00Z,A,PLA,,,,,1.75,790,,200,,,,1000,\n,2026-07-10T00:00:00Z,B,PLA,,,,,1.75,390,,200,,,,600,\n",
		weighinsHeader+",2026-07-12T00:00:00Z,A,890,,\n,2026-07-12T00:00:00Z,B,545,,discarded\n",
		consumptionHeader+",2026-07-09T00:00:00Z,j,c,p,A,5,,,,,\n,2026-07-11T00:00:00Z,j,c,p,A,100,,,,,\n,2026-07-11T00:00:00Z,j,c,p,B,50,,,,,\n")
	if e := buildSpools(f, liveLedgers(f, nil))["A"].estimate; math.Abs(e.k-1.1) > 1e-12 || e.intervals != 2 || e.s2 > 1e-20 {
		t.Errorf("got %+v, want k 1.1 of 2 intervals", e)
	}
}

// A reading that does not fit raises its flag, and the next that fits clears it
// in stock; reconcile goes on to name the row.
func TestFlagsClear(t *testing.T) {
	purchases := openedHeader + ",2026-07-01T00:00:00Z,A,PLA,,,,,1.75,432,,200,9,,,612,\n"
	misread := weighinsHeader + ",2026-07-02T00:00:00Z,A,620,,\n"
	for _, c := range []struct {
		name, weighins string
		flags          standing
	}{
		// 420 g where 412 are booked: 8 is above 2 sqrt(5/6) = 1.83, and above
		// 2 sqrt(5/12 + 4) = 4.20, though 432 g were reckoned.
		{"heavier", misread, standing{"outside", "heavier than bought"}},
		{"fits", misread + ",2026-07-03T00:00:00Z,A,619,,\n", standing{"heavier than bought"}},
		{"as bought", misread + ",2026-07-03T00:00:00Z,A,611,,\n,2026-07-04T00:00:00Z,A,611,,\n", standing{}},
		{"ended without a gross", misread + ",2026-07-03T00:00:00Z,A,,,discarded\n", standing{"outside", "heavier than bought"}},
	} {
		f := microBook(t, purchases, c.weighins)
		answer, _ := calculate(f, question{command: "stock"})
		// Compared as flags: also before the program has taken the step.
		for _, d := range compare(c.name, decoded(answer.(records)[0]["flags"]), flags(c.flags)) {
			t.Error(d)
		}
		expect(t, reconciled(f)[0], object{"flags": flags{"outside", "heavier than bought"}})
	}
}

// 1000 g, then 1004, 1001, 1006: of the last gains 5, 5 - 3 and 5 - 3 + 4 the
// greatest is 6. Dried at 995, 11 less: 6 are taken back, 5 are water. Dried
// at 998 where 997 were booked: 1 is found. Dried at once again at 990: 8 are water.
func TestWaterGivesBack(t *testing.T) {
	f := microBook(t,
		openedHeader+",2026-07-01T00:00:00Z,A,PLA,,,,,1.75,1000,,0,1000,,,,\n",
		weighinsHeader+",2026-07-02T00:00:00Z,A,1004,,\n,2026-07-03T00:00:00Z,A,1001,,\n,2026-07-04T00:00:00Z,A,1006,,\n,2026-07-05T00:00:00Z,A,995,,dried\n"+
			",2026-07-06T00:00:00Z,A,997,,\n,2026-07-07T00:00:00Z,A,998,,dried\n,2026-07-08T00:00:00Z,A,990,,dried\n")
	for _, c := range []struct {
		from, to           string
		lost, found, water string
	}{
		{"", "", "3", "-6", "13"}, // -4 - 5 + 6 - 2 - 1
		{"2026-07-05", "2026-07-05", "0", "6", "5"},
		{"2026-07-06", "", "0", "-3", "8"},
	} {
		q := question{from: c.from, to: c.to}
		l := liveLedgers(f, nil)
		h := house(f, l, buildSpools(f, l), showNames(f, l, houseReads), q)
		expect(t, h["spools"].(records)[0], object{"lost_g": euros(c.lost), "found_g": euros(c.found), "remainder_g": euros("0"), "found_cost": euros(c.found)})
		expect(t, h, object{"water_g": euros(c.water)})
	}
	for _, c := range []struct {
		list []int64
		want int64
	}{{nil, 0}, {[]int64{-5}, 0}, {[]int64{9, -10, 4, -1}, 3}, {[]int64{9, -4, 4}, 9}} {
		if got := greatestLatest(c.list); got != c.want {
			t.Errorf("%v: got %d, want %d", c.list, got, c.want)
		}
	}
}

func TestInheritance(t *testing.T) {
	f := microBook(t,
		openedHeader+
			",2026-07-01T00:00:00Z,A,PLA,Weaver,L1,#112233,shop,1.75,1000,,,,USD,,,\n"+
			",2026-07-02T00:00:00Z,B,PLA,,L2,,,1.75,500,,,8,GBP,a,,\n"+
			",2026-07-03T00:00:00Z,C,PLA,,,,,1.75,250,,,,EUR,B,,\n"+
			",2026-07-04T00:00:00Z,D,PLA,Own,,,,1.75,100,,,,JPY,A,,\n"+
			",2026-07-05T00:00:00Z,E,PLA,,,,,1.75,100,,,,,F,,\n"+
			",2026-07-05T00:00:00Z,F,PLA,,,,,1.75,100,,,,,E,,\n")
	spools := buildSpools(f, liveLedgers(f, nil))
	for _, c := range []struct{ spool, maker, lot, swatch, supplier string }{
		{"C", "Weaver", "L2", "#112233", "shop"}, {"D", "Own", "L1", "#112233", "shop"}, {"E", "", "", "", ""},
	} {
		s := spools[c.spool]
		got := []string{s.inherited("maker"), s.inherited("lot"), s.inherited("swatch"), s.inherited("supplier")}
		for i, want := range []string{c.maker, c.lot, c.swatch, c.supplier} {
			if got[i] != want {
				t.Errorf("%s: got %q, want %q", c.spool, got[i], want)
			}
		}
	}
	s := stockOf(t, f)
	// Half of 8 GBP for half of the grams; a share of no price is none.
	expect(t, s["C"], object{"price_per_g": euros("0.016"), "value": euros("4"), "currency": "GBP"})
	expect(t, s["D"], object{"price_per_g": nil, "value": nil, "currency": "JPY"})
}
