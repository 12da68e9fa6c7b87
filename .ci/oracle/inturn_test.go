package oracle

import (
	"math"
	"testing"
)

// 1 m of PLA of 1.75 mm: 1.24 pi 1.75^2/4 g.
const metre = 1.24 * math.Pi * 1.75 * 1.75 / 4

// checkNeeds gives the first need of each job of a queue in order. Spools are
// known to 1 % of the label, needs to 3 %, and k is 1.
func checkNeeds(t *testing.T, purchases, queue string, more ...string) []object {
	t.Helper()
	f := microBook(t, append(more,
		purchasesHeader+purchases, queueHeader+queue,
		"printers.csv\nprinter,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm\nM,4,,,,,1000\n")...)
	answer, _ := calculate(f, question{command: "check"})
	var needs []object
	for _, j := range answer.(object)["jobs"].(records) {
		needs = append(needs, j["needs"].(records)[0])
	}
	return needs
}

func buyPLA(id, grams string) string {
	return ",2026-07-01T00:00:00Z," + id + ",PLA,red,1.75," + grams + ",,,,,,\n"
}

func TestInTurn(t *testing.T) {
	t.Setenv("ORACLE_STEPS", "all")
	list := func(ids ...string) textList { return append(textList{}, ids...) }
	over := func(pairs ...any) records {
		r := records{}
		for i := 0; i < len(pairs); i += 2 {
			r = append(r, object{"spool": pairs[i], "at": measure(pairs[i+1].(float64))})
		}
		return r
	}
	three := buyPLA("A", "100") + buyPLA("B", "200") + buyPLA("C", "50")
	for _, c := range []struct {
		name, purchases, queue string
		want                   []object
		more                   []string
	}{
		{"handed over, and needs behind", three,
			// 300 - 150; u^2 = 1 + 4 + (150 x 0.03)^2. A is used up, B gives 50.
			",2026-08-01T00:00:00Z,one,c,,1,a+B,,,150,,,,\n" +
				// On B 150 are left. u^2 = 4 + 1 + ((50 + 140 + 100) x 0.03)^2 = 80.69: 10 are 1.1 u.
				",2026-08-02T00:00:00Z,two,c,,1,B,,,140,,,,\n" +
				// A is as if ended; of red PLA C is enough, B is not (10 of 10).
				",2026-08-03T00:00:00Z,three,c,,1,A,,,10,,,,\n",
			[]object{
				{"spool": "A", "spools": list("A", "B"), "likely_g": guessed(300), "tail_g": guessed(0), "after_g": guessed(150), "u_g": measure(math.Sqrt(25.25)),
					"verdict": "enough", "hands_over": over("B", 100.0/150), "runs_out_at": nil, "instead": list(), "in_turn": list(), "need_m": measure(150 / metre)},
				{"spool": "B", "spools": list("B"), "likely_g": guessed(150), "after_g": guessed(10), "u_g": measure(math.Sqrt(80.69)), "verdict": "marginal",
					"hands_over": over(), "runs_out_at": measure(1), "instead": list(), "in_turn": list("B", "C")},
				{"spool": "A", "likely_g": guessed(0), "after_g": guessed(-10), "u_g": measure(0), "odds": odds(0), "verdict": "short", "runs_out_at": measure(0), "instead": list("C"), "in_turn": list()},
			}, nil},
		{"short at the end, not reached in the middle", three,
			",2026-08-01T00:00:00Z,one,c,,1,A+C+B,,,120,,,,\n,2026-08-02T00:00:00Z,two,c,,1,B,,,190,,,,\n,2026-08-02T00:00:00Z,zwo,c,,1,C,,,40,,,,\n",
			[]object{
				{"hands_over": over("C", 100.0/120, "B", 1.0), "after_g": guessed(230)},
				// B was not reached: nothing stands behind it.
				{"likely_g": guessed(200), "u_g": measure(math.Sqrt(4 + 5.7*5.7))},
				// C gave 20, behind A: u^2 = 0.25 + 1 + ((20 + 40 + 100) x 0.03)^2.
				{"likely_g": guessed(30), "u_g": measure(math.Sqrt(1.25 + 4.8*4.8)), "verdict": "short"},
			}, nil},
		{"runs out of all", three, ",2026-08-01T00:00:00Z,one,c,,1,A+B,,,400,,,,\n",
			[]object{{"verdict": "short", "hands_over": over("B", 0.25), "runs_out_at": measure(0.75), "instead": list(), "in_turn": list()}}, nil},
		{"each loses its tail", three, ",2026-08-01T00:00:00Z,one,c,m,1,A+B,,,150,,,,\n",
			[]object{{"tail_g": guessed(2 * metre), "after_g": guessed(150 - 2*metre), "hands_over": over("B", (100-metre)/150)}}, nil},
		{"below its tail", buyPLA("A", "2") + buyPLA("B", "200"), ",2026-08-01T00:00:00Z,one,c,m,1,A+B,,,50,,,,\n,2026-08-02T00:00:00Z,two,c,m,1,B,,,20,,,,\n",
			[]object{
				{"spool": "A", "likely_g": guessed(200), "tail_g": guessed(metre), "hands_over": over("B", 0.0), "u_g": measure(math.Sqrt(4 + 2.25))},
				{"likely_g": guessed(150), "u_g": measure(math.Sqrt(4 + 2.1*2.1))},
			}, nil},
		{"all below their tails", buyPLA("A", "2") + buyPLA("B", "1"), ",2026-08-01T00:00:00Z,one,c,m,1,A+B,,,5,,,,\n",
			[]object{{"likely_g": guessed(1), "tail_g": guessed(metre), "after_g": guessed(1 - metre - 5), "hands_over": over("B", 0.0), "runs_out_at": measure(0), "verdict": "short"}}, nil},
		{"one ended", three, ",2026-08-01T00:00:00Z,one,c,,1,A+B,,,150,,,,\n,2026-08-02T00:00:00Z,two,c,,1,B,,,60,,,,\n",
			[]object{
				{"spool": "A", "spools": list("A", "B"), "likely_g": guessed(200), "after_g": guessed(50), "hands_over": over("B", 0.0)},
				{"likely_g": guessed(50), "after_g": guessed(-10), "instead": list()},
			}, []string{weighinsHeader + ",2026-07-02T00:00:00Z,A,,,discarded\n"}},
		{"all ended", three, ",2026-08-01T00:00:00Z,one,c,m,1,A+B,,,15,,,,\n",
			[]object{{"likely_g": guessed(0), "u_g": measure(0), "odds": odds(0), "after_g": guessed(-15 - metre), "runs_out_at": measure(0), "hands_over": over("B", 0.0), "instead": list("C")}},
			[]string{weighinsHeader + ",2026-07-02T00:00:00Z,A,,,discarded\n,2026-07-02T00:00:00Z,B,,,empty\n"}},
		{"passed over", three + ",2026-07-01T00:00:00Z,P,PETG,red,1.75,500,,,,,,\n,2026-07-01T00:00:00Z,T,PLA,red,2.85,500,,,,,,\n", ",2026-08-01T00:00:00Z,one,c,,1,gone+A+P+T+B,,,15,,,,\n",
			[]object{{"spools": list("A", "B"), "likely_g": guessed(300)}}, nil},
		{"offered: two, least left over", three, ",2026-08-01T00:00:00Z,one,c,,1,,pla,RED,240,,,,\n",
			// B + C leave 10 with u 7.5: not enough. A + B leave 60.
			[]object{{"spool": nil, "spools": list(), "hands_over": over(), "in_turn": list("A", "B")}}, nil},
		{"offered: three", three, ",2026-08-01T00:00:00Z,one,c,,1,,PLA,,320,,,,\n",
			[]object{{"in_turn": list("C", "A", "B")}}, nil}, // 30 with u 9.9
		{"offered: its own first", three, ",2026-08-01T00:00:00Z,one,c,,1,B,,,240,,,,\n",
			[]object{{"spool": "B", "verdict": "short", "in_turn": list("B", "A")}}, nil},
		{"offered: all its own first", three, ",2026-08-01T00:00:00Z,one,c,,1,B+A,,,320,,,,\n",
			[]object{{"spool": "B", "verdict": "short", "in_turn": list("B", "A", "C")}}, nil},
		{"offered: not of two colours", three + ",2026-07-01T00:00:00Z,W,PLA,white,1.75,180,,,,,,\n", ",2026-08-01T00:00:00Z,one,c,,1,,PLA,,335,,,,\n",
			[]object{{"in_turn": list()}}, nil}, // W + B would leave 45; A + B + C leave 15 with u 10.3
		{"offered: the oldest of twins", buyPLA("Z", "100") + ",2026-07-03T00:00:00Z,A,PLA,red,1.75,100,,,,,,\n,2026-07-02T00:00:00Z,B,PLA,red,1.75,100,,,,,,\n",
			",2026-08-01T00:00:00Z,one,c,,1,,PLA,red,150,,,,\n", []object{{"in_turn": list("Z", "B")}}, nil},
		{"used up: not offered, not loaded", three + ",2026-07-01T00:00:00Z,L,PLA,red,1.75,10,,,,,M/1,\n,2026-07-02T00:00:00Z,K,PLA,red,1.75,5,,,,,M/1,\n",
			",2026-08-01T00:00:00Z,one,c,,9,K+B,,,9,,,,\n,2026-08-02T00:00:00Z,two,c,M,1,,PLA,red,2,,,,\n",
			[]object{{"hands_over": over("B", 5.0/9)}, {"spool": "L", "spool_from": "loaded"}}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			needs := checkNeeds(t, c.purchases, c.queue, c.more...)
			if len(needs) != len(c.want) {
				t.Fatalf("got %d jobs, want %d", len(needs), len(c.want))
			}
			for i, want := range c.want {
				expect(t, needs[i], want)
			}
		})
	}
}

// The first row has a spool that two name, and the other goes on with the rest.
func TestInTurnServesOnce(t *testing.T) {
	t.Setenv("ORACLE_STEPS", "all")
	f := microBook(t, purchasesHeader+buyPLA("A", "100")+buyPLA("B", "200")+buyPLA("C", "50"),
		queueHeader+",2026-08-01T00:00:00Z,one,c,,1,A+B,,,150,,,,\n,2026-08-01T00:00:01Z,one,c,,2,B+C,,,10,,,,\n,2026-08-01T00:00:02Z,one,c,,3,C,,,10,,,,\n,2026-08-01T00:00:03Z,gone,c,,1,X+Y,,,10,,,,\n")
	answer, _ := calculate(f, question{command: "check"})
	jobs := answer.(object)["jobs"].(records)
	if len(jobs) != 1 {
		t.Fatal("a row without a live purchase stands:", len(jobs))
	}
	needs := jobs[0]["needs"].(records)
	expect(t, needs[0], object{"spools": textList{"A", "B"}})
	expect(t, needs[1], object{"spools": textList{"C"}, "verdict": "enough"})
	expect(t, needs[2], object{"spool": nil, "spool_from": "none"})
}

// What stands behind a need in turn is as well met, and as well known, as if both
// were one need: the filament is the same, wherever the hand-over falls.
func TestBehindIsAsOne(t *testing.T) {
	f := microBook(t, purchasesHeader+buyPLA("A", "100")+buyPLA("B", "200")+buyPLA("C", "50"),
		consumptionHeader+",2026-07-02T00:00:00Z,j,c,p,A,7,,,,,\n,2026-07-02T00:00:00Z,j,c,p,B,11,,,,,\n",
		"printers.csv\nprinter,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm\nM,4,,,,,1000\n")
	spools := buildSpools(f, liveLedgers(f, nil))
	n := &need{row: &row{cell: map[string]string{"printer": "M"}}}
	a, b, c := spools["A"], spools["B"], spools["C"]
	for _, x := range []struct {
		first, behind, whole []*spool
		mg, more             int64
	}{
		{[]*spool{a, b}, []*spool{b}, []*spool{a, b}, 150000, 60000},
		{[]*spool{a, b, c}, []*spool{b, c}, []*spool{a, b, c}, 150000, 150000},
		{[]*spool{a, b, c}, []*spool{c}, []*spool{a, b, c}, 300000, 10000},
	} {
		p := nothingPromised()
		p.promise(x.first, x.mg, n.tailBy(f))
		got := outlook(f, x.behind, x.more, p, n.tailBy(f))
		want := outlook(f, x.whole, x.mg+x.more, nothingPromised(), n.tailBy(f))
		if math.Abs(got.after-want.after) > 1e-9 || math.Abs(got.u-want.u) > 1e-9 || math.Abs(got.odds-want.odds) > 1e-9 {
			t.Errorf("%d then %d: got %.3f, u %.3f; as one %.3f, u %.3f", x.mg, x.more, got.after, got.u, want.after, want.u)
		}
	}
}
