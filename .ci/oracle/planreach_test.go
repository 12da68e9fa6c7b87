package oracle

import (
	"maps"
	"math/big"
	"slices"
	"testing"
)

func boxOf(texts ...string) *box {
	var n []*big.Rat
	for _, t := range texts {
		n = append(n, rational(t))
	}
	return &box{n[0], n[1], n[2], n[3], n[4]}
}

func TestShortestShift(t *testing.T) {
	for _, c := range []struct{ least, greatest, want, lying string }{
		{"", "", "0", "0"},
		{"10", "", "10", "no"},
		{"", "-5", "-5", "no"},
		{"-3", "4", "0", "0"},
		{"10", "12", "10", "no"}, // to the bound, no further
		{"-9", "-2", "-2", "no"},
		{"10", "9", "no", "no"},
		{"0.0005", "", "0", "0"}, // half a thousandth outside is within
		{"0.002", "", "0.002", "no"},
		{"", "-0.0005", "0", "0"},
		{"0.0004", "-0.0004", "0", "0"},
	} {
		var s span
		if c.least != "" {
			s.least = rational(c.least)
		}
		if c.greatest != "" {
			s.greatest = rational(c.greatest)
		}
		for _, lying := range []bool{false, true} {
			want := c.want
			if lying {
				want = c.lying
			}
			x, ok, near := s.shortest(lying)
			if ok != (want != "no") || ok && x.Cmp(rational(want)) != 0 || near {
				t.Errorf("%s to %s, as it lies %v: got %v, %v, near %v; want %s", c.least, c.greatest, lying, x, ok, near, want)
			}
		}
	}
	if _, _, near := (span{least: rational("0.001")}).shortest(false); !near {
		t.Error("a thousandth outside is no near thing")
	}
}

// Three slots on nozzles of one and two feeds; A may be alone, or B, or C. By waste
// B alone is best (TestPlanByHand), then A or C.
func TestReachByHand(t *testing.T) {
	grams := func() planQuestion { return planned(map[string]int64{"1": 5000, "2": 5000, "3": 5000}) }
	header := "nozzles.csv\nprinter,nozzle,x_min_mm,x_max_mm,y_min_mm,y_max_mm,z_max_mm,note\n"
	left, right := boxOf("10", "60", "20", "70", "9"), boxOf("150", "190", "20", "70", "9")
	for _, c := range []struct {
		name, nozzles, limits string
		boxes                 [3]*box
		lying                 bool
		want                  []int // by slot; nil: not feasible
		x, y                  string
	}{
		{name: "no box is known", nozzles: header + "M,1,500,,,,,\n", want: []int{1, 0, 1}, x: "0", y: "0"},
		{name: "all reach", nozzles: header + "M,1,0,100,0,100,9,\nM,2,,,,,,\n", boxes: [3]*box{right, left, right}, want: []int{1, 0, 1}, x: "0", y: "0"},
		// Nozzle 1 begins at 30: B is moved by 20, and by 5 back from 70 to 65.
		{name: "moved", nozzles: header + "m,1,30,,-5,65,,\n", boxes: [3]*box{right, left, right}, want: []int{1, 0, 1}, x: "20", y: "-5"},
		// On nozzle 2 a right one can go 5 at most, B on nozzle 1 needs 20. A alone on
		// nozzle 1 needs no move.
		{name: "another assignment", nozzles: header + "M,1,30,,,,,\nM,2,,195,,,,\n", boxes: [3]*box{right, left, left}, want: []int{0, 1, 1}, x: "0", y: "0"},
		{name: "one move for all", nozzles: header + "M,1,30,,,,,\nM,2,20,,,,,\n", boxes: [3]*box{boxOf("10", "60", "0", "1", "1"), left, left}, want: []int{1, 0, 1}, x: "20", y: "0"},
		{name: "as it lies", nozzles: header + "M,1,30,,,,,\n", boxes: [3]*box{left, left, left}, lying: true},
		{name: "too high", nozzles: header + "M,1,,,,,8.998,\nM,2,,,,,8.998,\n", boxes: [3]*box{left, left, left}},
		{name: "hardly too high", nozzles: header + "M,1,,,,,8.9995,\nM,2,,,,,9,\n", boxes: [3]*box{left, left, left}, want: []int{1, 0, 1}, x: "0", y: "0"},
		{name: "no room", nozzles: header + "M,1,0,40,,,,\nM,2,,40,,,,\n", boxes: [3]*box{left, left, left}, want: nil},
		{name: "another's nozzle", nozzles: header + "SMALL,1,0,40,,,,\n", boxes: [3]*box{left, left, left}, want: []int{1, 0, 1}, x: "0", y: "0"},
	} {
		files := []string{}
		if c.nozzles != "" {
			files = append(files, c.nozzles)
		}
		q := grams()
		q.asItLies, q.printers = c.lying, []string{"M"}
		q.boxes = map[string]*box{}
		for i, slot := range []string{"1", "2", "3"} {
			if c.boxes[i] != nil {
				q.boxes[slot] = c.boxes[i]
			}
		}
		p := planBook(t, "1+2", q, files...)
		one := p.plans()[0]
		if one.feasible != (c.want != nil) {
			t.Errorf("%s: feasible %v", c.name, one.feasible)
			continue
		}
		if c.want == nil {
			continue
		}
		if best := one.best; !slices.Equal(best.nozzles, c.want) || best.shift.x.Cmp(rational(c.x)) != 0 || best.shift.y.Cmp(rational(c.y)) != 0 {
			t.Errorf("%s: got %v moved %s, %s; want %v moved %s, %s", c.name, best.nozzles, best.shift.x, best.shift.y, c.want, c.x, c.y)
		}
	}
}

// Of assignments that waste alike the least move decides: one slot on either of
// two nozzles that begin at 30 and at 25, and B's box begins at 10.
func TestLeastMove(t *testing.T) {
	q := planQuestion{printers: []string{"M"}, loads: []planLoad{{"1", "A"}}, uses: []planUse{{slot: "1", part: 5}}, boxes: map[string]*box{"1": boxOf("10", "60", "0", "9", "1")}}
	p := planBook(t, "1+1", q, "nozzles.csv\nprinter,nozzle,x_min_mm,x_max_mm,y_min_mm,y_max_mm,z_max_mm,note\nM,1,30,,,,,\nM,2,25,,4,,,\n")
	if best := p.plans()[0].best; !slices.Equal(best.nozzles, []int{1}) || best.shift.length().Cmp(count(19)) != 0 {
		t.Errorf("got %v moved %s", best.nozzles, best.shift.length()) // 15 + 4 below 20
	}
}

func TestLimits(t *testing.T) {
	for _, c := range []struct {
		limit     string
		nozzles   []int // of PLA, Flex, PLA
		forbidden bool
	}{
		{"M,2,flex,,soft", []int{0, 1, 0}, true},
		{"M,2,flex,,soft", []int{1, 0, 1}, false},
		{"SMALL,2,flex,,soft", []int{0, 1, 0}, false},
		{"*,*,Flex,,soft", []int{1, 0, 1}, true},
		{"*,1,Flex,,soft", []int{1, 0, 1}, true},
		{"m,*,PLA,Flex,apart", []int{1, 0, 1}, false},
		{"m,*,PLA,Flex,apart", []int{1, 1, 0}, true},
		{"m,*,Flex,PLA,apart", []int{0, 1, 1}, true}, // both ways
		{"m,1,Flex,PLA,apart", []int{0, 1, 1}, false},
		{"m,*,Flex,ASA,apart", []int{1, 1, 1}, false},
	} {
		p := planBook(t, "3+3", planned(map[string]int64{}), "limits.csv\nprinter,nozzle,material,beside,why\n"+c.limit+"\n")
		for i, material := range []string{"PLA", "Flex", "PLA"} {
			p.slots[i].spool, p.slots[i].material = nil, material
		}
		if got := p.forbidden(p.printers[0], c.nozzles) != nil; got != c.forbidden {
			t.Errorf("%s, %v: got %v", c.limit, c.nozzles, got)
		}
	}
}

// Most names count, then the printer, the colour and the material brought, the
// colour held. PLA white is followed by Flex red.
func TestPurgesByMaterial(t *testing.T) {
	for _, c := range []struct{ rows, want string }{
		{"*,PLA,*,*,*,1", "1"},
		{"*,,*,,*,7", "7"},
		{"*,PLA,*,*,*,1\n*,*,white,*,*,2", "2"},
		{"*,*,white,*,*,2\n*,*,*,flex,*,3", "3"},
		{"*,*,*,Flex,*,3\n*,*,*,*,red,4", "4"},
		{"*,*,*,*,red,4\nM,*,*,*,*,5", "5"},
		{"M,*,*,*,*,5\n*,PLA,*,*,red,6", "6"},
		{"*,PLA,*,*,red,6\n*,PLA,white,Flex,*,8", "8"},
		{"*,PLA,white,Flex,*,8\n*,PLA,*,Flex,red,9", "9"},
		{"M,PLA,white,Flex,blue,10\n*,*,*,ASA,*,11", "100"}, // the printer's own
	} {
		p := planBook(t, "1+2", planned(map[string]int64{}), "purges.csv\nprinter,from_material,from_colour,to_material,to_colour,purge_mm3\n"+c.rows+"\n")
		from, to := p.slots[0], planSlot{material: "Flex", colour: "red"}
		if got := p.purgeVolume(p.printers[0], from, to); got.Cmp(rational(c.want)) != 0 {
			t.Errorf("%q: got %s, want %s", c.rows, got, c.want)
		}
	}
}

// A machine of somebody else's is told of only where it is named.
func TestCandidatesAreNotOffered(t *testing.T) {
	rows := "printers.csv\nprinter,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm,hour_cost,price,owned\nM,3,100,10,8,50,,9,,1\nWISH,3,10,10,8,50,,,990,0\n"
	for _, c := range []struct {
		asked []string
		want  []string
		timed bool
	}{{nil, []string{"M"}, true}, {[]string{"wish"}, []string{"WISH"}, false}, {[]string{"wish", "m"}, []string{"M", "WISH"}, false}} {
		q := planned(map[string]int64{"1": 5, "2": 5, "3": 5})
		q.printers = c.asked
		f := microBook(t, rows, purchasesHeader+",2026-07-01T00:00:00Z,A,PLA,,1.75,9,,,1,,,\n,2026-07-01T00:00:00Z,B,PLA,,1.75,9,,,1,,,\n,2026-07-01T00:00:00Z,C,PLA,,1.75,9,,,1,,,\n")
		l := liveLedgers(f, nil)
		p := newPlanner(f, l, buildSpools(f, l), q)
		var got []string
		for _, printer := range p.printers {
			got = append(got, printer.get("printer"))
		}
		if !slices.Equal(got, c.want) || p.timed != c.timed {
			t.Errorf("%v: got %v, timed %v", c.asked, got, p.timed)
		}
	}
}

// A and B hold 1000 g each: 1999 g in turn are enough, each less 1.24 g of tail
// (415.752 mm) no longer.
func TestShortInTurn(t *testing.T) {
	for _, c := range []struct {
		tail, need string
		short      bool
	}{{"", "1999", false}, {"", "2000.001", true}, {"415.752", "1997.519", false}, {"415.752", "1997.521", true}} {
		q := planQuestion{printers: []string{"M"}, loads: []planLoad{{"1", "a+B"}}, uses: []planUse{{slot: "1", part: milligrams(c.need)}}}
		p := planBook(t, "1", q)
		p.printers[0].cell["tail_mm"] = c.tail
		best := p.plans()[0].best
		if got := len(best.short) > 0; got != c.short {
			t.Errorf("tail %q, %s g: short %v", c.tail, c.need, got)
		}
		if c.short && best.short[0] != "A+B" {
			t.Errorf("got %v", best.short)
		}
	}
}

// A limit or a bound more never makes the best better.
func TestBoundsNeverHelp(t *testing.T) {
	t.Setenv("ORACLE_STEPS", "all")
	compared := 0
	for seed := range uint64(40) {
		dir := t.TempDir()
		g, err := writePlanBook(dir, seed)
		if err != nil {
			t.Fatal(err)
		}
		f, err := readFolder(dir)
		if err != nil {
			t.Fatal(err)
		}
		q, ok := g.askPlan(f)
		if !ok {
			continue
		}
		best := func(without ...string) map[string]plan {
			less := maps.Clone(f)
			for _, file := range without {
				less[file] = nil
			}
			l := liveLedgers(less, q.asOf)
			byName := map[string]plan{}
			for _, one := range newPlanner(less, l, buildSpools(less, l), q).plans() {
				byName[one.printer.get("printer")] = one
			}
			return byName
		}
		all := best()
		for _, less := range []map[string]plan{best("limits.csv"), best("nozzles.csv"), best("limits.csv", "nozzles.csv")} {
			for name, one := range all {
				if one.feasible && (!less[name].feasible || one.best.compare(less[name].best) < 0) {
					t.Errorf("seed %d on %s: bounds made it better", seed, name)
				}
				compared++
			}
		}
	}
	if compared < 100 {
		t.Errorf("compared %d", compared)
	}
}
