package oracle

import (
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"testing"
)

// planCases counts what the random prints met, so that they don't grow tame.
type planCases struct {
	sync.Mutex
	met       map[string]int
	questions int
}

func (c *planCases) note(p *planner, want []plan, q planQuestion) {
	c.Lock()
	defer c.Unlock()
	if c.met == nil {
		c.met = map[string]int{}
	}
	c.questions++
	hold := func(name string, holds bool) {
		if holds {
			c.met[name]++
		}
	}
	hold("too near to call", p.tooNear)
	hold("sliced file", q.sliced)
	hold("as of", q.asOf != nil)
	hold("pinned", len(q.pins) > 0)
	hold("conflict", p.conflicted)
	hold("by cost", p.byCost)
	hold("in grams", !p.byCost)
	hold("with the cost of time", p.timed)
	hold("six slots or more", len(p.slots) >= 6)
	hold("none feasible", len(want) == 0 || !want[0].feasible)
	feasible, shorts, resolved, weighted, k := 0, map[int]bool{}, false, false, false
	none := false
	for _, s := range p.slots {
		none = none || s.spool == nil
		resolved = resolved || s.spool != nil && s.material != ""
		weighted = weighted || s.weight.Cmp(count(1)) != 0
		k = k || s.spool != nil && s.spool.estimate.k != 1
	}
	for _, one := range want {
		if one.feasible {
			feasible++
			shorts[len(one.best.short)] = true
			hold("printer that runs short", len(one.best.short) > 0)
			hold("more than one nozzle", len(one.printer.feeds) > 1)
			hold("shortness decides against waste", one.shortDecides)
		} else {
			hold("printer not feasible", true)
		}
	}
	hold("shortness decides between printers", len(shorts) > 1)
	hold("tie of printers", feasible > 1 && want[0].best.compare(want[1].best) == 0)
	hold("slot without a spool", none)
	hold("spool found by material", resolved)
	hold("weighted", weighted)
	hold("k learnt", k)
	hold("purges by pair", len(p.f["purges.csv"]) > 0)
	moved, bound, turns := false, false, false
	for _, one := range want {
		moved = moved || one.feasible && one.best.shift.length().Sign() > 0
		bound = bound || one.boundDecides
	}
	for _, s := range p.slots {
		turns = turns || len(s.spools) > 1
	}
	hold("moved on the plate", moved)
	hold("bound by limits or reach", bound)
	hold("as it lies", q.asItLies)
	hold("spools in turn on a slot", turns)
	hold("limits", len(p.f["limits.csv"]) > 0)
	hold("purges by material", slices.ContainsFunc(p.f["purges.csv"], func(r *row) bool { return r.get("to_material") != "" }))
}

func (c *planCases) report(t *testing.T) {
	cases := []string{
		"sliced file", "as of", "pinned", "conflict", "by cost", "in grams", "with the cost of time", "six slots or more", "none feasible",
		"printer that runs short", "more than one nozzle", "printer not feasible", "shortness decides between printers", "shortness decides against waste",
		"tie of printers", "slot without a spool", "spool found by material", "weighted", "k learnt", "purges by pair",
	}
	if reach.on() {
		cases = append(cases, "moved on the plate", "bound by limits or reach", "as it lies", "spools in turn on a slot", "limits", "purges by material")
	}
	for _, name := range cases {
		if c.met[name]*100 < c.questions {
			t.Errorf("%s: met %d times in %d prints", name, c.met[name], c.questions)
		}
	}
	if c.met["too near to call"]*50 > c.questions {
		t.Errorf("too near to call: %d of %d prints", c.met["too near to call"], c.questions)
	}
	t.Log(c.questions, "prints:", c.met)
}

// holdPlans makes the book of a seed, has prints planned and compares.
func holdPlans(dir string, seed uint64, binary string, seen *planCases) (asked int, faults []fault) {
	fail := func(err error) (int, []fault) {
		return asked, append(faults, fault{difference{"book", err.Error(), "an answer"}, []string{"plan"}})
	}
	book := filepath.Join(dir, "book")
	if err := os.MkdirAll(book, 0o755); err != nil {
		return fail(err)
	}
	g, err := writePlanBook(book, seed)
	if err != nil {
		return fail(err)
	}
	f, err := readFolder(book)
	if err != nil {
		return fail(err)
	}
	for n := range 3 {
		q, ok := g.askPlan(f)
		if !ok {
			continue
		}
		l := liveLedgers(f, q.asOf)
		p := newPlanner(f, l, buildSpools(f, l), q)
		want := p.plans()
		seen.note(p, want, q)
		if p.tooNear {
			continue
		}
		args, err := g.writePrint(filepath.Join(dir, "print-"+strconv.Itoa(n)), q)
		if err != nil {
			return fail(err)
		}
		got, status, stderr, err := ask(binary, book, args)
		asked++
		if err != nil {
			faults = append(faults, fault{difference{"output", fmt.Sprintf("%v, status %d, stderr %q", err, status, stderr), "one JSON value"}, args})
			continue
		}
		for _, d := range p.hold(want, got, status) {
			faults = append(faults, fault{d, args})
		}
	}
	return asked, faults
}

// planBook is one printer and three spools, B five times as dear as A and C:
// 100 mm3 of PLA is 0.124 g.
func planBook(t *testing.T, feeds string, q planQuestion, files ...string) *planner {
	t.Helper()
	f := microBook(t, append(files,
		purchasesHeader+
			",2026-07-01T00:00:00Z,A,PLA,white,1.75,1000,,,20,,,\n"+
			",2026-07-02T00:00:00Z,B,PLA,red,1.75,1000,,,100,,,\n"+
			",2026-07-03T00:00:00Z,C,PLA,blue,1.75,1000,,,20,,,\n",
		"printers.csv\nprinter,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm,hour_cost\nM,"+feeds+",100,10,8,50,,\nSMALL,2,0,0,0,0,0,\n",
	)...)
	l := liveLedgers(f, nil)
	return newPlanner(f, l, buildSpools(f, l), q)
}

func planned(grams map[string]int64) planQuestion {
	q := planQuestion{loads: []planLoad{{"1", "A"}, {"2", "B"}, {"3", "C"}}}
	for _, slot := range []string{"1", "2", "1", "3", "1", "2"} {
		q.uses = append(q.uses, planUse{slot: slot, part: grams[slot]})
		grams[slot] = 0
	}
	return q
}

func TestPlanByHand(t *testing.T) {
	// A B A C A B on nozzles of 1 and 2 feeds. A alone: B and C loaded once
	// each, 5 swaps; B alone: C and A loaded once each, 3 swaps; C alone: B twice
	// and A once. With B alone purge costs least, 2 x 0.124 g x 0.02.
	// Prime: A 2, B 2, C 1 changes of 0.0124 g: 0.062 g, 0.003224 EUR.
	for _, c := range []struct {
		name           string
		q              planQuestion
		nozzles        []int
		swaps          int
		second, change string
		short          []string
	}{
		{"least cost", planned(map[string]int64{"1": 5000, "2": 5000, "3": 5000}), []int{1, 0, 1}, 3, "0.008184", "124", nil},
		// 1000 - 999.925 - 0.0248 = 0.0502 g: enough if A is never flushed.
		{"short first", planned(map[string]int64{"1": 999925, "2": 5000, "3": 5000}), []int{0, 1, 1}, 5, "0.018104", "140", nil},
		{"short anyhow", planned(map[string]int64{"1": 999980, "2": 5000, "3": 5000}), []int{1, 0, 1}, 3, "0.008184", "124", []string{"A"}},
	} {
		p := planBook(t, "1+2", c.q)
		list := p.plans()
		best := list[0].best
		if !slices.Equal(best.nozzles, c.nozzles) || best.loads != 2 || best.swaps != c.swaps || !slices.Equal(best.short, c.short) ||
			best.second.Cmp(rational(c.second)) != 0 || best.changeSeconds.Cmp(rational(c.change)) != 0 {
			t.Errorf("%s: got %v, %d loads, %d swaps, short %v, %s, %s s", c.name, best.nozzles, best.loads, best.swaps, best.short, best.second.FloatString(6), best.changeSeconds)
		}
		if best.purgeG.Cmp(rational("0.248")) != 0 || best.primeG.Cmp(rational("0.062")) != 0 || best.cost.Cmp(best.second) != 0 {
			t.Errorf("%s: got purge %s, prime %s, cost %s", c.name, best.purgeG, best.primeG, best.cost)
		}
		if list[0].walked != 3 || list[1].feasible {
			t.Errorf("%s: got %d assignments; three slots on two feeds %v", c.name, list[0].walked, list[1].feasible)
		}
	}
}

// Limited feeds leave as many assignments as multinomials count: 4!; C(4,0) +
// C(4,1); C(5,1); 2^3 (arithmetic).
func TestEveryAssignmentOnce(t *testing.T) {
	for _, c := range []struct {
		feeds string
		slots int
		want  int
	}{{"1+1+1+1", 4, 24}, {"1+4", 4, 5}, {"1+4", 5, 5}, {"3+3", 3, 8}, {"1+1", 3, 0}, {"2+2+2", 6, 90}, {"7+7+7+7", 7, 16384}} {
		p := planBook(t, c.feeds, planned(map[string]int64{}))
		p.slots = make([]planSlot, c.slots)
		p.pins = slices.Repeat([]int{-1}, c.slots)
		seen := map[string]bool{}
		p.everyAssignment(p.printers[0], func(nozzles []int) { seen[fmt.Sprint(nozzles)] = true })
		if len(seen) != c.want {
			t.Errorf("%d slots on %s: got %d, want %d", c.slots, c.feeds, len(seen), c.want)
		}
	}
}

func TestPurgesByPair(t *testing.T) {
	rows := []string{"*,*,*,10", "*,*,Red,20", "*,white,*,30", "m,*,*,40", "*,WHITE,red,50", "M,*,red,60", "M,white,*,70", "M,white,red,80"}
	for _, c := range []struct {
		keep []int // of rows
		from string
		to   string
		want string
	}{
		{nil, "white", "red", "100"}, {[]int{0}, "white", "red", "10"}, {[]int{0, 2, 1}, "white", "red", "20"}, {[]int{1, 2, 3}, "white", "red", "40"},
		{[]int{3, 4}, "white", "red", "50"}, {[]int{4, 6}, "white", "red", "70"}, {[]int{6, 5, 4}, "white", "red", "60"}, {[]int{0, 1, 2, 3, 4, 5, 6, 7}, "white", "red", "80"},
		{[]int{0, 1, 2, 3, 4, 5, 6, 7}, "white", "blue", "70"}, {[]int{0, 1, 2, 3, 4, 5, 6, 7}, "blue", "red", "60"}, {[]int{0, 1, 4, 7}, "blue", "white", "10"},
	} {
		text := "purges.csv\nprinter,from_colour,to_colour,purge_mm3\n"
		for _, i := range c.keep {
			text += rows[i] + "\n"
		}
		p := planBook(t, "1+2", planned(map[string]int64{}), text)
		colours := map[string]planSlot{"white": p.slots[0], "red": p.slots[1], "blue": p.slots[2]}
		if got := p.purgeVolume(p.printers[0], colours[c.from], colours[c.to]); got.Cmp(rational(c.want)) != 0 {
			t.Errorf("%v: %s to %s: got %s, want %s", c.keep, c.from, c.to, got, c.want)
		}
	}
}

// The hour has its cost: with all purge alike a printer with 0.5 EUR an hour
// weighs 124 s at 0.0172; a weight counts B's waste ten times, which is told
// unweighted.
func TestPlanTimeAndWeights(t *testing.T) {
	q := planned(map[string]int64{"1": 5000, "2": 5000, "3": 5000})
	q.printers = []string{"m"}
	p := planBook(t, "1+2", q)
	p.printers[0].cell["hour_cost"] = "0.5"
	p.price()
	want := ratSum(rational("0.008184"), ratMul(rational("124"), rational("0.5"), big.NewRat(1, 3600)))
	if best := p.plans()[0].best; best.second.Cmp(want) != 0 || best.cost.Cmp(rational("0.008184")) != 0 {
		t.Errorf("got %s, told %s", best.second.FloatString(9), best.cost.FloatString(9))
	}
	p.slots[1].weight = count(10) // 9 x 0.0248 g x 0.1
	want.Add(want, rational("0.02232"))
	if best := p.plans()[0].best; best.second.Cmp(want) != 0 || best.cost.Cmp(rational("0.008184")) != 0 {
		t.Errorf("weighted: got %s, told %s", best.second.FloatString(9), best.cost.FloatString(9))
	}
}
