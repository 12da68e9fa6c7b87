package inventory_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
)

// The mortgage-guarantee triangle of D. E. A. Sanders (1990), as T. Mack uses it in ASTIN Bulletin 29 (1999) 361-366,
// Table 1; from the open R package ChainLadder, dataset Mortgage.
const mortgage = `
58046 127970 476599 1027692 1360489 1647310 1819179 1906852 1950105
24492 141767 984288 2142656 2961978 3683940 4048898 4115760
32848 274682 1522637 3203427 4445927 5158781 5342585
21439 529828 2900301 4999019 6460112 6853904
40397 763394 2920745 4989572 5648563
90748 951994 4210640 5866482
62096 868480 1954797
24983 284441
13121`

// column returns the pairs of column j, counted from 1, and the next, of the rows that have both.
func column(j int) (w, c []float64) {
	for _, line := range booktest.Lines(mortgage) {
		var row []float64
		for _, word := range strings.Fields(line) {
			var x float64
			fmt.Sscan(word, &x)
			row = append(row, x)
		}
		if len(row) > j {
			c, w = append(c, row[j-1]), append(w, row[j])
		}
	}
	return w, c
}

// k, s and u_k are Mack's development factor, sigma and its standard error, symbol for symbol. Printed: Mack 1999,
// Table 1; the full figures are that arithmetic done again.
func TestMackFactors(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		j, n                        int
		printedK, printedS, printed string
		k, s, uk                    float64
	}{
		{1, 8, "11.10", "1337", "2.24", 11.104258848779, 1336.968467169858, 2.243763182640},
		{2, 7, "4.092", "988.5", "0.517", 4.092273479647, 988.476426457589, 0.516818009944},
		{3, 6, "1.708", "440.1", "0.122", 1.707913126258, 440.139710981802, 0.122001442044},
		{4, 5, "1.276", "207", "0.051", 1.275919937251, 206.985110514554, 0.051170075072},
		{5, 4, "1.139", "164.2", "0.042", 1.138912444858, 164.199783606580, 0.042076918915},
		{6, 3, "1.069", "74.60", "0.023", 1.068696746463, 74.601762871212, 0.023033540796},
		{7, 2, "1.026", "35.49", "0.015", 1.026334862341, 35.493156686813, 0.014651993736},
	} {
		e := inventory.EstimatesOf(column(c.j))
		what := fmt.Sprintf("column %d: ", c.j)
		if e.N != c.n {
			t.Errorf("%sn = %d, want %d", what, e.N, c.n)
		}
		booktest.Near(t, what+"k", e.K, c.k, 1e-9)
		booktest.Near(t, what+"s", e.S, c.s, 1e-9)
		booktest.Near(t, what+"u_k", e.UK, c.uk, 1e-9)
		booktest.Printed(t, what+"k", e.K, c.printedK)
		booktest.Printed(t, what+"s", e.S, c.printedS)
		booktest.Printed(t, what+"u_k", e.UK, c.printed)
	}
}

// Column 4 of the same triangle, divided by 1000 and read as grams: five spools, each weighed, printed from and
// weighed again. k and u_k have no unit and stay; s goes as the square root of the unit.
const mortgageBook = `
purchases at=0 spool=A net_g=9000 tare_g=250
purchases at=0 spool=B net_g=9000 tare_g=250
purchases at=0 spool=C net_g=9000 tare_g=250
purchases at=0 spool=D net_g=9000 tare_g=250
purchases at=0 spool=E net_g=9000 tare_g=250
weighins at=1 spool=A gross_g=9000
weighins at=1 spool=B gross_g=9000
weighins at=1 spool=C gross_g=9000
weighins at=1 spool=D gross_g=9000
weighins at=1 spool=E gross_g=9000
consumption at=2 job=a spool=A part_g=1027.692
consumption at=2 job=b spool=B part_g=2142.656 outcome=failed
consumption at=2 job=c1 spool=C part_g=3000
consumption at=3 job=c2 spool=C part_g=100 support_g=3.427 prime_g=60 purge_g=40 basis=path
consumption at=2 job=d spool=D part_g=4999.019
consumption at=2 job=e spool=E part_g=4989.572
weighins at=9 spool=A gross_g=7639.511
weighins at=9 spool=B gross_g=6038.022
weighins at=9 spool=C gross_g=4554.073
weighins at=9 spool=D gross_g=2539.888
weighins at=9 spool=E gross_g=3351.437
`

func TestEstimatesOfABook(t *testing.T) {
	t.Parallel()
	s, jobs := booktest.Check(t, mortgageBook+"queue at=10 job=next slot=0 spool=A part_g=400 purge_g=100")
	e := s.Spool("A").Estimate
	if e.N != 5 {
		t.Fatalf("n = %d, want 5, which is min_intervals", e.N)
	}
	booktest.Near(t, "k", e.K, 1.275919937251, 1e-9)
	booktest.Near(t, "u_k", e.UK, 0.051170075072, 1e-9)
	booktest.Near(t, "s", e.S, 6.545443909677, 1e-9)
	booktest.Near(t, "prediction for 500 g", e.Predicted(500), 148.579985641, 1e-9)
	// The weighing adds its own: division 1, error 1 and a typed tare, 5/12 + 2^2 g2.
	need := jobs[0].Needs[0]
	booktest.Near(t, "u of the margin", need.U, math.Sqrt(148.579985641*148.579985641+5./12+4), 1e-9)
	booktest.Near(t, "margin", need.Margin, 7389.511-1.275919937251*500, 1e-9)

	s, jobs = booktest.Check(t, mortgageBook+`
settings setting=min_intervals value=6
queue at=10 job=next slot=0 spool=A part_g=500`)
	if e := s.Spool("A").Estimate; e != (inventory.Estimates{K: 1, UK: 0.03}) {
		t.Errorf("with min_intervals 6: %+v, want the settings' own", e)
	}
	booktest.Near(t, "u of the margin by estimate_u", jobs[0].Needs[0].U, math.Sqrt(15*15+5./12+4), 1e-9)
}

// The prediction is Mack's too: Taylor-Ashe triangle, ASTIN Bulletin 23 (1993) 213-225, accident year 2. The printed
// reserve 94 634 and its error 75 535 are from memory; the full figures are the arithmetic done again.
func TestPrediction(t *testing.T) {
	t.Parallel()
	seven := inventory.EstimatesOf([]float64{3606286, 4914039, 4909315}, []float64{3466336, 4647867, 4628910})
	booktest.Near(t, "step 7: k", seven.K, 1.053874355505, 1e-9)
	booktest.Near(t, "step 7: s2", seven.S*seven.S, 446.616550105353, 1e-9)
	booktest.Near(t, "step 7: u_k", seven.UK, 0.005920108130, 1e-9)
	eight := inventory.EstimatesOf([]float64{3833515, 5339085}, []float64{3606286, 4914039})
	booktest.Near(t, "step 8: k", eight.K, 1.076555178353, 1e-9)
	booktest.Near(t, "step 8: s2", eight.S*eight.S, 1147.365968428654, 1e-9)
	booktest.Near(t, "step 8: u_k", eight.UK, 0.011604405647, 1e-9)

	// Step 9 has one pair; Mack takes the least of s8^4/s7^2, s7^2 and s8^2 for its s^2.
	const T = 5339085
	s := math.Min(seven.S, eight.S)
	e := inventory.Estimates{K: 3901463. / 3833515, UK: s / math.Sqrt(3833515), S: s}
	booktest.Near(t, "k", e.K, 1.017724725220, 1e-9)
	booktest.Near(t, "u_k", e.UK, 0.010793662215, 1e-9)
	booktest.Near(t, "k T - T", e.K*T-T, 94633.81455, 1e-9)
	booktest.Near(t, "u", e.Predicted(T), 75535.04076, 1e-9)
	booktest.Printed(t, "k T - T", e.K*T-T, "94634")
	booktest.Printed(t, "u", e.Predicted(T), "75535")
}

// NIST StRD, NoInt1 and NoInt2, regression through the origin. Its certified B is that of ordinary least squares and
// guards against it: k weighs by 1/c, so that a long print counts by its grams and not by their square.
func TestNotLeastSquares(t *testing.T) {
	t.Parallel()
	var w, c []float64
	for x := 60.0; x <= 70; x++ {
		c, w = append(c, x), append(w, x+70)
	}
	for _, set := range []struct {
		name          string
		w, c          []float64
		k, s, uk      float64
		leastSquaresB float64
	}{
		{"NoInt1", w, c, 2.076923076923, 0.443957925814, 0.016603085057, 2.07438016528926},
		{"NoInt2", []float64{3, 4, 4}, []float64{4, 5, 6}, 0.733333333333, 0.158113883008, 0.040824829046, 0.727272727272727},
	} {
		e := inventory.EstimatesOf(set.w, set.c)
		booktest.Near(t, set.name+": k", e.K, set.k, 1e-9)
		booktest.Near(t, set.name+": s", e.S, set.s, 1e-9)
		booktest.Near(t, set.name+": u_k", e.UK, set.uk, 1e-9)
		if math.Abs(e.K-set.leastSquaresB) < 1e-3 {
			t.Errorf("%s: k = %v is that of least squares", set.name, e.K)
		}
	}
}

// NIST StRD, univariate: with every c = 1, k is the mean and s the standard deviation. A one-pass sum of squares
// loses NumAcc3 and NumAcc4.
func TestNumericalAccuracy(t *testing.T) {
	t.Parallel()
	swing := func(mean float64) (w []float64) {
		w = append(w, mean)
		for range 500 {
			w = append(w, mean-0.1, mean+0.1)
		}
		return w
	}
	for _, set := range []struct {
		name        string
		w           []float64
		mean, sd    float64
		toleranceSD float64 // the data are not exact in binary
	}{
		{"NumAcc1", []float64{10000001, 10000003, 10000002}, 10000002, 1, 1e-12},
		{"NumAcc3", swing(1000000.2), 1000000.2, 0.1, 1e-8},
		{"NumAcc4", swing(10000000.2), 10000000.2, 0.1, 1e-7},
	} {
		ones := make([]float64, len(set.w))
		for i := range ones {
			ones[i] = 1
		}
		e := inventory.EstimatesOf(set.w, ones)
		booktest.Near(t, set.name+": mean", e.K, set.mean, 1e-12)
		booktest.Near(t, set.name+": standard deviation", e.S, set.sd, set.toleranceSD)
	}
}

// What is an interval: two clean ones stand on Z, and each case adds one or none on A.
func TestIntervals(t *testing.T) {
	t.Parallel()
	const clean = `
settings setting=min_intervals value=2
purchases at=0 spool=Z net_g=1000 tare_g=200
weighins at=1 spool=Z gross_g=1200
consumption at=2 job=z1 spool=Z part_g=100
weighins at=3 spool=Z gross_g=1090
consumption at=4 job=z2 spool=Z part_g=100
weighins at=5 spool=Z gross_g=990
`
	const bought = "purchases at=0 spool=A net_g=1000 tare_g=200\n"
	for _, c := range []struct {
		name, rows string
		want       int
	}{
		{"loaded to loaded", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A gross_g=1150", 1},
		{"dried to loaded", bought + "weighins at=1 spool=A gross_g=1200 state=dried\nconsumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A gross_g=1150", 1},
		{"loaded to dried: water went too", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A gross_g=1150 state=dried", 0},
		{"to discarded, on the scale", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A gross_g=1150 state=discarded", 1},
		{"to discarded, not weighed", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A state=discarded", 0},
		{"to empty: its tail is not a print's", bought + "weighins at=1 spool=A gross_g=300\nconsumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A gross_g=205 state=empty", 0},
		{"failed jobs count", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50 outcome=failed\nweighins at=3 spool=A gross_g=1150", 1},
		{"path grams count", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50 basis=path\nweighins at=3 spool=A gross_g=1150", 1},
		{"a weighed row between", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50\nconsumption at=2 job=b spool=A part_g=5 basis=weighed\nweighins at=3 spool=A gross_g=1150", 0},
		{"a weighed row after", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A gross_g=1150\nconsumption at=3 job=b spool=A part_g=5 basis=weighed", 1},
		{"wound off between", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50\npurchases at=2 spool=B net_g=20 from=A\nweighins at=3 spool=A gross_g=1130", 0},
		{"wound off at the second's instant comes before it", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50\npurchases at=3 spool=B net_g=20 from=A\nweighins at=3 spool=A gross_g=1130", 0},
		{"nothing booked", bought + "weighins at=1 spool=A gross_g=1200\nweighins at=3 spool=A gross_g=1150", 0},
		{"nought booked", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A\nweighins at=3 spool=A gross_g=1150", 0},
		{"weighed once", bought + "consumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A gross_g=1150", 0},
		{"no tare", "purchases at=0 spool=A net_g=1000\nconsumption at=1 job=a spool=A part_g=1\nweighins at=1 spool=A gross_g=1200\nconsumption at=2 job=b spool=A part_g=50\nweighins at=3 spool=A gross_g=1150\nweighins at=4 spool=A gross_g=1100\nconsumption at=0 job=c spool=A part_g=1", 0},
		{"from the weigh-in that gave the label's tare", "purchases at=0 spool=A net_g=1000\nweighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A gross_g=1150", 1},
		{"after the end", bought + "weighins at=1 spool=A gross_g=1200 state=discarded\nconsumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A gross_g=1150\nconsumption at=4 job=b spool=A part_g=50\nweighins at=5 spool=A gross_g=1100", 0},
		{"three weigh-ins, two intervals", bought + "weighins at=1 spool=A gross_g=1200\nconsumption at=2 job=a spool=A part_g=50\nweighins at=3 spool=A gross_g=1150\nconsumption at=4 job=b spool=A part_g=50\nweighins at=5 spool=A gross_g=1100", 2},
	} {
		if got := booktest.Shelf(t, clean+c.rows).Estimates("PLA").N - 2; got != c.want {
			t.Errorf("%s: %d intervals, want %d", c.name, got, c.want)
		}
	}
}

// interval is a spool that was weighed, booked for 100 g and weighed w grams lighter.
func interval(spool, material string, gross2 int) string {
	return fmt.Sprintf(`
purchases at=0 spool=%[1]s net_g=1000 tare_g=200 material=%[2]s
weighins at=1 spool=%[1]s gross_g=1200
consumption at=2 job=%[1]s spool=%[1]s part_g=100
weighins at=3 spool=%[1]s gross_g=%[3]d
`, spool, material, gross2)
}

func TestMaterialBeforeShop(t *testing.T) {
	t.Parallel()
	three := interval("A", "PLA", 1090) + interval("B", "pla", 1090) + interval("C", "PLA", 1090)
	petg := interval("D", "PETG", 1110)
	const at3 = "settings setting=min_intervals value=3"
	for _, c := range []struct {
		name, rows string
		pla, petg  float64
	}{
		{"own intervals, else the shop's", three + petg + at3, 1.1, 420. / 400},
		{"too few of its own", three + petg + "settings setting=min_intervals value=4", 1.05, 1.05},
		{"too few in all", three + petg, 1, 1},
		{"never fewer than two", petg + "settings setting=min_intervals value=0", 1, 1},
		// No more than was there before went off: nothing can be told from that, and the shop is not asked for it. PETG
		// rests on the shop: 400 g and 100 g in 400.
		{"k of nought", interval("A", "PLA", 1200) + interval("B", "PLA", 1200) + interval("C", "PLA", 1200) + interval("D", "PETG", 800) + at3, 1, 1},
		{"k below nought", interval("A", "PLA", 1300) + interval("B", "PLA", 1300) + interval("C", "PLA", 1300) + interval("D", "PETG", 800) + at3, 1, 0.25},
	} {
		s := booktest.Shelf(t, c.rows)
		pla, other := s.Estimates("pla"), s.Estimates("PETG")
		booktest.Near(t, c.name+": k of PLA", pla.K, c.pla, 1e-12)
		booktest.Near(t, c.name+": k of PETG", other.K, c.petg, 1e-12)
		if pla.N == 0 && (pla.UK != 0.03 || pla.S != 0) {
			t.Errorf("%s: without intervals %+v, want estimate_u 0.03 and s 0", c.name, pla)
		}
	}
}

// Drops that cancel are nothing at all, for which the settings' own k is taken; as floats they leave 5.6e-17.
func TestDropsThatCancel(t *testing.T) {
	t.Parallel()
	if e := inventory.EstimatesOf([]float64{0.1, 0.2, -0.3}, []float64{10, 20, 30}); e.K != 0 {
		t.Errorf("k is %g, want 0", e.K)
	}
}
