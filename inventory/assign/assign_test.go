package assign

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"
)

// even is a print whose spools are alike: PLA at a unit a gram, and enough of it.
func even(slots int, sequence []uint8) Print {
	p := Print{Sequence: sequence}
	for range slots {
		p.Slots = append(p.Slots, Slot{Likely: 1e9, K: 1, PerMM3: big.NewRat(124, 100_000), PerGram: big.NewRat(1, 1)})
	}
	return p
}

func machine(purge, prime, swap, load int64, feeds ...int) Machine {
	return Machine{Feeds: feeds, Prime: big.NewRat(prime, 1), Swap: big.NewRat(swap, 1), Load: big.NewRat(load, 1),
		Purge: func(from, to int) *big.Rat { return big.NewRat(purge, 1) }}
}

func best(t testing.TB, p Print, m Machine, pins map[int]int) *Plan {
	t.Helper()
	plan, err := Best(p, m, pins)
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

// An evaluator of a print without any change, so that all assignments score 0.
func unchanging(slots int, feeds []int) (*evaluator, *rules) {
	p, m := even(slots, []uint8{0}), machine(1, 1, 1, 1, feeds...)
	return newEvaluator(p, m), newRules(p, m, nil, nil)
}

// The search tries each way of dividing slots among nozzles once. The counts are multinomials.
func TestWays(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		slots int
		feeds []int
		want  int
	}{
		{4, []int{1, 1, 1, 1}, 24},
		{4, []int{1, 4}, 5},
		{5, []int{1, 4}, 5},
		{8, []int{4, 4}, 70},
		{16, []int{4, 4, 4, 4}, 63_063_000},
		{3, []int{5, 5}, 8}, // 2^3
	} {
		d := newDivision(unchanging(c.slots, c.feeds))
		ways := map[uint32]int{0: 1}
		for i := len(c.feeds) - 1; i >= 0; i-- {
			here := map[uint32]int{}
			for left := range d.left(i, d.all, d.all) {
				for set := range d.choices(left, 0) {
					if bits.OnesCount32(set) <= d.feeds[i] {
						here[left] += ways[left&^set]
					}
				}
			}
			ways = here
		}
		if got := ways[d.all]; got != c.want {
			t.Errorf("%d slots on %v: %d ways, want %d", c.slots, c.feeds, got, c.want)
		}
	}
}

// turns uses slots in turn: 0 1 2 .. n-1 0 1 2, with so many changes.
func turns(slots, changes int) []uint8 {
	s := make([]uint8, changes+1)
	for i := range s {
		s[i] = uint8(i % slots)
	}
	return s
}

// Common practice, no source: on a tool changer 174 changes at 10 to 12 s add 29 to 35 minutes, and 33 were seen; a shared nozzle
// at about a minute and a half a load adds about 4.4 h for the same, and 4.6 h were seen. A tower on a tool changer takes a couple
// of grams; flushing takes many.
func TestCommonPractice(t *testing.T) {
	t.Parallel()
	p := even(4, turns(4, 174))
	for _, c := range []struct {
		name        string
		machine     Machine
		swaps       int
		loads       int
		least, most float64 // seconds
	}{
		{"tool changer, 10 s", machine(60, 10, 10, 90, 1, 1, 1, 1), 174, 0, 29 * 60, 29 * 60},
		{"tool changer, 12 s", machine(60, 10, 12, 90, 1, 1, 1, 1), 174, 0, 34.8 * 60, 34.8 * 60},
		{"one nozzle, 90 s", machine(60, 10, 0, 90, 4), 0, 174, 4.3 * 3600, 4.4 * 3600},
	} {
		plan := best(t, p, c.machine, nil)
		seconds, _ := plan.Seconds.Float64()
		if plan.Swaps != c.swaps || plan.Loads != c.loads || seconds < c.least || seconds > c.most {
			t.Errorf("%s: %d swaps, %d loads, %.0f s; want %d, %d, %.0f to %.0f s", c.name, plan.Swaps, plan.Loads, seconds, c.swaps, c.loads, c.least, c.most)
		}
	}
	// 174 x 10 mm3 x 1.24 g/cm3 = 2.16 g on the tower, and nothing purged.
	plan := best(t, p, machine(60, 10, 10, 90, 1, 1, 1, 1), nil)
	if got := sum(plan.Prime); got.Cmp(big.NewRat(21576, 10_000)) != 0 || sum(plan.Purge).Sign() != 0 {
		t.Errorf("a tool changer primes %s g and purges %s g, want 2.1576 and 0", got.FloatString(4), sum(plan.Purge).FloatString(4))
	}
}

// Common practice, no source: a spool alone on its nozzle loses nothing to purge; on one shared nozzle the same print loses most
// of its waste from that very spool when it is the commonest colour.
func TestAloneOnItsNozzle(t *testing.T) {
	t.Parallel()
	var sequence []uint8 // white after each of four others
	for i := range 100 {
		sequence = append(sequence, 0, uint8(1+i%4))
	}
	p := even(5, sequence)
	plan := best(t, p, machine(170, 20, 8, 46, 1, 4), nil)
	if plan.Nozzle[0] != 0 || plan.Purge[0].Sign() != 0 {
		t.Errorf("on 1+4 the commonest stands on nozzle %d and purges %s g, want nozzle 1 and nothing", plan.Nozzle[0]+1, plan.Purge[0].FloatString(3))
	}
	shared := best(t, p, machine(170, 20, 0, 46, 5), nil)
	own, all := shared.Purge[0], sum(shared.Purge)
	if half := new(big.Rat).Quo(own, all); half.Cmp(big.NewRat(45, 100)) < 0 {
		t.Errorf("on one nozzle the commonest purges %s of %s g, want about half", own.FloatString(1), all.FloatString(1))
	}
	for s := 1; s < 5; s++ {
		if own.Cmp(shared.Purge[s]) <= 0 {
			t.Errorf("on one nozzle slot %d purges %s g, the commonest %s", s, shared.Purge[s].FloatString(1), own.FloatString(1))
		}
	}
}

func sum(amounts []*big.Rat) *big.Rat {
	total := new(big.Rat)
	for _, a := range amounts {
		total.Add(total, a)
	}
	return total
}

// The dearest slot goes where nothing is flushed, though others are changed to more often.
func TestDearSlot(t *testing.T) {
	t.Parallel()
	p := even(3, []uint8{0, 1, 0, 2, 0, 1, 0, 2, 0})
	m := machine(150, 20, 5, 40, 1, 4)
	if plan := best(t, p, m, nil); plan.Nozzle[0] != 0 {
		t.Errorf("at equal prices slot 0 stands on nozzle %d, want 1", plan.Nozzle[0]+1)
	}
	p.Slots[2].PerGram = big.NewRat(100, 1)
	plan := best(t, p, m, nil)
	if plan.Nozzle[2] != 0 || plan.LoadsOf[2] != 0 {
		t.Errorf("slot 2 at a hundred times the price stands on nozzle %d, loaded %d times, want 1 and never", plan.Nozzle[2]+1, plan.LoadsOf[2])
	}
	plan = best(t, p, m, map[int]int{1: 0})
	if plan.Nozzle[1] != 0 || plan.Nozzle[2] != 1 {
		t.Errorf("pinned to nozzle 1 slot 1 stands on %d, want 1", plan.Nozzle[1]+1)
	}
	// What runs short comes before any price.
	p.Slots[0].Likely, p.Slots[0].Need = 10, 9.9 // 4 primes of 20 mm3 are 0.0992 g, one purge 0.186 g
	plan = best(t, p, m, nil)
	if plan.Nozzle[0] != 0 || len(plan.Short) != 0 {
		t.Errorf("the nearly empty spool stands on nozzle %d, short: %v; want 1 and none", plan.Nozzle[0]+1, plan.Short)
	}
}

// grouped is a print of which the best is known. Slots form four groups of four. The groups take turns, and the slots of a group
// follow each other, so four nozzles need one load for each slot but their first. Fewer are not possible.
func grouped(r *rand.Rand, rounds int) (sequence []uint8) {
	names := r.Perm(16)
	for part := range 4 {
		for range rounds {
			for g := range 4 {
				sequence = append(sequence, uint8(names[4*g+part]))
			}
		}
	}
	return sequence
}

func TestSixteenSlots(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(16, 4))
	for range 2 {
		sequence := grouped(r, 40)
		m := machine(170, 20, 8, 46, 4, 4, 4, 4)
		plan := best(t, even(16, sequence), m, nil)
		if plan.Loads != 12 || !plan.Proven {
			t.Errorf("%d loads, proven %t; want 12 and proven", plan.Loads, plan.Proven)
		}
		// Two more nozzles can't make it worse.
		if more := best(t, even(16, sequence), machine(170, 20, 8, 46, 4, 4, 4, 4, 2, 2), nil); more.Loads > plan.Loads {
			t.Errorf("with two nozzles more: %d loads, want at most %d", more.Loads, plan.Loads)
		}
	}
}

// Beyond Exact, a plan isn't proven. It is the same each time, and no worse than where the search begins.
func TestManySlots(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(40, 1))
	sequence := make([]uint8, 400)
	for i := range sequence {
		sequence[i] = uint8(r.IntN(40))
	}
	for s := range 40 {
		sequence[10*s] = uint8(s)
	}
	p, m := even(40, sequence), machine(170, 20, 8, 46, 10, 20, 5, 5)
	pins := map[int]int{3: 2, 39: 1}
	plan := best(t, p, m, pins)
	if plan.Proven {
		t.Error("40 slots are said to be proven")
	}
	if again := best(t, p, m, pins); !slices.Equal(plan.Nozzle, again.Nozzle) {
		t.Errorf("%v, then %v", plan.Nozzle, again.Nozzle)
	}
	if plan.Nozzle[3] != 2 || plan.Nozzle[39] != 1 {
		t.Errorf("pinned slots stand on nozzles %d and %d, want 3 and 2", plan.Nozzle[3]+1, plan.Nozzle[39]+1)
	}
	filled, _ := place(newRules(p, m, pins, nil), (*placing).fill, beginEffort)
	if first := Play(p, m, filled); first.Waste.Cmp(plan.Waste) < 0 {
		t.Errorf("%s units of waste, one nozzle after another comes to %s", plan.Waste.FloatString(3), first.Waste.FloatString(3))
	}
	serves := make([]int, len(m.Feeds))
	for _, n := range plan.Nozzle {
		serves[n]++
	}
	for n, feeds := range m.Feeds {
		if serves[n] > feeds {
			t.Errorf("nozzle %d serves %d slots on %d feeds", n+1, serves[n], feeds)
		}
	}
}

func TestInfeasible(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		slots int
		feeds []int
		pins  map[int]int
		want  string
	}{
		{5, []int{4}, nil, "5 slots, 4 feeds in all"},
		{2, []int{1}, nil, "2 slots, 1 feed in all"},
		{2, []int{1, 1}, map[int]int{0: 2}, "it has no nozzle 3"},
		{3, []int{1, 4}, map[int]int{0: 0, 1: 0}, "2 slots pinned to nozzle 1, which has 1 feed"},
		{17, []int{16}, nil, "17 slots, 16 feeds in all"},
	} {
		_, err := Best(even(c.slots, turns(c.slots, 5)), machine(1, 1, 1, 1, c.feeds...), c.pins)
		var why *Infeasible
		if !errors.As(err, &why) || why.Error() != c.want {
			t.Errorf("%d slots on %v: %v, want %q", c.slots, c.feeds, err, c.want)
		}
	}
}

// Amounts whose common denominator is beyond 62 bits still differ if they are a part in 10^15 apart.
func TestWhole(t *testing.T) {
	t.Parallel()
	amounts := []*big.Rat{big.NewRat(1, 1_000_003), big.NewRat(1, 1_000_033), big.NewRat(1, 1_000_037), big.NewRat(7, 1_000_039), big.NewRat(0, 1)}
	got, _ := whole(amounts, 1000)
	for i, a := range amounts {
		for j, b := range amounts {
			if a.Cmp(b) != cmpInt(got[i], got[j]) {
				t.Errorf("%s and %s come to %d and %d", a, b, got[i], got[j])
			}
		}
	}
	if limit := int64(1) << 62 / 1000; got[3] > limit+1 || got[3] < limit-1000 {
		t.Errorf("the largest comes to %d, want about %d", got[3], limit)
	}
	if got, unit := whole([]*big.Rat{big.NewRat(1, 2), big.NewRat(1, 3), new(big.Rat)}, 10); !slices.Equal(got, []int64{3, 2, 0}) || unit != 6 {
		t.Errorf("a half and a third come to %v, want 3, 2 and 0", got)
	}
}

func cmpInt(a, b int64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// Where the machine has one direct nozzle and one on a four-way feeder, the dearest goes to the direct one.
func Example() {
	p := Print{Sequence: []uint8{0, 1, 0, 2, 0, 1, 0, 2, 0}}
	for _, price := range []int64{20, 25, 60} { // thousandths of a euro a gram
		p.Slots = append(p.Slots, Slot{Likely: 500, Need: 80, K: 1, PerMM3: big.NewRat(124, 100_000), PerGram: big.NewRat(price, 1000)})
	}
	m := Machine{Feeds: []int{1, 4}, Prime: big.NewRat(20, 1), Swap: big.NewRat(8, 1), Load: big.NewRat(45, 1),
		Purge: func(from, to int) *big.Rat { return big.NewRat(170, 1) }}
	plan, err := Best(p, m, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for slot, nozzle := range plan.Nozzle {
		fmt.Printf("slot %d on nozzle %d: %d loads, purge %s g\n", slot, nozzle+1, plan.LoadsOf[slot], plan.Purge[slot].FloatString(3))
	}
	fmt.Printf("waste %s EUR, changes take %s s\n", plan.Waste.FloatString(4), plan.Seconds.FloatString(0))
	// Output:
	// slot 0 on nozzle 2: 2 loads, purge 0.422 g
	// slot 1 on nozzle 2: 2 loads, purge 0.422 g
	// slot 2 on nozzle 1: 0 loads, purge 0.000 g
	// waste 0.0252 EUR, changes take 212 s
}

// A print of 16 slots in no order at all: the hardest, as no return is like another.
func hard(changes int) Print {
	r := rand.New(rand.NewPCG(5, 5))
	sequence := make([]uint8, changes+1)
	for i := range sequence {
		for sequence[i] = uint8(r.IntN(16)); i > 0 && sequence[i] == sequence[i-1]; {
			sequence[i] = uint8(r.IntN(16))
		}
	}
	return even(16, sequence)
}

// bounded gives a print of 16 slots boxes of 20 to 150 mm, and a machine bounds and limits: each nozzle reaches about 200 mm, from
// another place on; three slots can't go through one nozzle, and four pairs can't share one.
func bounded(p Print, m Machine, r *rand.Rand) (Print, Machine) {
	p.Slots = slices.Clone(p.Slots)
	for s := range p.Slots {
		x, y := math.Round(r.Float64()*100_000)/1000, math.Round(r.Float64()*100_000)/1000
		p.Slots[s].Box = &Box{x, x + 20 + 130*r.Float64(), y, y + 20 + 130*r.Float64(), 50}
	}
	for i := range m.Feeds {
		x, y := float64(20*i+r.IntN(30)-30), float64(r.IntN(30)-10)
		m.Bounds = append(m.Bounds, Bounds{new(x), new(x + 200), new(y), new(y + 200), new(200.0)})
	}
	for s := range 3 {
		m.Limits = append(m.Limits, Limit{Nozzle: s % len(m.Feeds), Slots: []int{s}, Why: "it is soft"})
	}
	for s := 3; s < 11; s += 2 {
		m.Limits = append(m.Limits, Limit{Nozzle: Every, Slots: []int{s, s + 1}, Why: "they don't bond"})
	}
	return p, m
}

func BenchmarkBest(b *testing.B) {
	for _, c := range []struct {
		name    string
		changes int
		feeds   []int
	}{
		{"4+4+4+4/1000", 1000, []int{4, 4, 4, 4}},
		{"4+4+4+4/5000", 5000, []int{4, 4, 4, 4}},
		{"4+4+4+4/25000", 25_000, []int{4, 4, 4, 4}},
		{"8+8/5000", 5000, []int{8, 8}},
		{"16+16/5000", 5000, []int{16, 16}},
		{"8x4/5000", 5000, []int{4, 4, 4, 4, 4, 4, 4, 4}},
		{"16+16+16+16/5000", 5000, []int{16, 16, 16, 16}},
	} {
		p, m := hard(c.changes), machine(170, 20, 8, 46, c.feeds...)
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				best(b, p, m, nil)
			}
		})
		// Limits and bounds, of five machines.
		b.Run("bounded/"+c.name, func(b *testing.B) {
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				p, m := bounded(p, m, rand.New(rand.NewPCG(uint64(i%5), 3)))
				var why *Infeasible
				if _, err := Best(p, m, nil); err != nil && !errors.As(err, &why) {
					b.Fatal(err)
				}
			}
		})
	}
}
