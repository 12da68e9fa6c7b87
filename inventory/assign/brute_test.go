package assign

import (
	"errors"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"
)

// A second calculation, written from the rules alone: every assignment is tried, and each is played step by step. It counts in
// whole units and shares nothing with the package but the shapes of what goes in.
//
// A small case: volumes in mm3, densities in thousandths of a g/cm3, so grams in millionths; prices in whole units a gram.
type small struct {
	feeds           []int
	sequence        []int
	purge           [][]int64 // by slot held and slot loaded
	prime           int64
	swap, load      int64 // seconds
	density, price  []int64
	likely, need, k []float64
	hour            int64 // price of an hour; 0 for none
	pins            map[int]int
}

// worth is what is compared, level by level: waste times 3600 where an hour has a price, so that it stays whole.
type worth struct{ short, waste, time int64 }

func (a worth) better(b worth) bool {
	return slices.Compare([]int64{a.short, a.waste, a.time}, []int64{b.short, b.waste, b.time}) < 0
}

func (c *small) play(on []int) worth {
	var w worth
	micro := make([]int64, len(c.price)) // grams wasted by slot, in millionths
	loaded := map[int]int{}
	for i, slot := range c.sequence {
		if i > 0 && c.sequence[i-1] != slot {
			last := c.sequence[i-1]
			if on[last] != on[slot] {
				w.time += c.swap
			}
			if held, there := loaded[on[slot]]; there && held != slot {
				w.time += c.load
				micro[slot] += c.purge[held][slot] * c.density[slot]
			}
			micro[slot] += c.prime * c.density[slot]
		}
		loaded[on[slot]] = slot
	}
	for slot := range micro {
		w.waste += 3600 * micro[slot] * c.price[slot]
		if c.likely[slot]-c.k[slot]*(c.need[slot]+float64(micro[slot])/1e6) < -1e-9 {
			w.short++
		}
	}
	w.waste += w.time * c.hour * 1e6
	return w
}

// brute returns the best of all assignments, and how many there are.
func (c *small) brute() (best worth, ways int) {
	on := make([]int, len(c.price))
	var try func(slot int)
	try = func(slot int) {
		if slot < len(on) {
			for nozzle := range c.feeds {
				if pin, pinned := c.pins[slot]; pinned && pin != nozzle {
					continue
				}
				on[slot] = nozzle
				try(slot + 1)
			}
			return
		}
		for nozzle, feeds := range c.feeds {
			serves := 0
			for _, n := range on {
				if n == nozzle {
					serves++
				}
			}
			if serves > feeds {
				return
			}
		}
		if w := c.play(on); ways == 0 || w.better(best) {
			best = w
		}
		ways++
	}
	try(0)
	return best, ways
}

func (c *small) print() (Print, Machine) {
	p := Print{}
	for slot := range c.price {
		p.Slots = append(p.Slots, Slot{Likely: c.likely[slot], K: c.k[slot], Need: c.need[slot],
			PerMM3: big.NewRat(c.density[slot], 1e6), PerGram: big.NewRat(c.price[slot], 1)})
	}
	for _, slot := range c.sequence {
		p.Sequence = append(p.Sequence, uint8(slot))
	}
	m := Machine{Feeds: c.feeds, Prime: big.NewRat(c.prime, 1), Swap: big.NewRat(c.swap, 1), Load: big.NewRat(c.load, 1),
		Purge: func(from, to int) *big.Rat { return big.NewRat(c.purge[from][to], 1) }}
	if c.hour > 0 {
		m.SecondCosts = big.NewRat(c.hour, 3600)
	}
	return p, m
}

func worthOf(p *Plan) worth {
	whole := func(x *big.Rat, times int64) int64 {
		x = new(big.Rat).Mul(x, new(big.Rat).SetInt64(times))
		if !x.IsInt() {
			panic("a value that should be whole: " + x.String())
		}
		return x.Num().Int64()
	}
	return worth{int64(len(p.Short)), whole(p.Waste, 3600*1e6), whole(p.Seconds, 1)}
}

func drawSmall(r *rand.Rand) *small {
	n := 1 + r.IntN(5)
	c := &small{prime: int64(r.IntN(3)) * 20, swap: int64(r.IntN(4)) * 5, load: int64(r.IntN(4)) * 30, pins: map[int]int{}}
	for range 1 + r.IntN(3) {
		c.feeds = append(c.feeds, 1+r.IntN(4))
	}
	for range 1 + r.IntN(30) {
		c.sequence = append(c.sequence, r.IntN(n))
	}
	even := r.IntN(2) == 0
	flush := []int64{0, 60, 150, 400}
	for from := range n {
		c.purge = append(c.purge, make([]int64, n))
		for to := range n {
			c.purge[from][to] = 150
			if !even {
				c.purge[from][to] = flush[(from+to*to+r.IntN(3))%len(flush)]
			}
		}
		// Few different values, so that many assignments are equal on the first levels.
		c.density = append(c.density, []int64{1240, 1240, 1270}[r.IntN(3)])
		c.price = append(c.price, []int64{1, 1, 2, 20}[r.IntN(4)])
		c.k = append(c.k, []float64{1, 1.25}[r.IntN(2)])
		c.need = append(c.need, float64(10*r.IntN(4)))
		c.likely = append(c.likely, []float64{1000, 1000, 30.5, 20, 12.5}[r.IntN(5)])
	}
	if r.IntN(4) == 0 {
		c.pins[r.IntN(n)] = r.IntN(len(c.feeds))
	}
	if r.IntN(4) == 0 {
		c.hour = int64(1 + r.IntN(3))
	}
	return c
}

func TestBruteForce(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(8, 1))
	feasible, short, pinned := 0, 0, 0
	for i := 0; feasible < 10_000; i++ {
		c := drawSmall(r)
		want, ways := c.brute()
		p, m := c.print()
		plan, err := Best(p, m, c.pins)
		var why *Infeasible
		switch {
		case ways == 0 && !errors.As(err, &why):
			t.Fatalf("case %d, %+v: %v, want none possible", i, c, err)
		case ways > 0 && err != nil:
			t.Fatalf("case %d, %+v: %v, want %+v", i, c, err, want)
		case ways == 0:
			continue
		}
		if got := worthOf(plan); got != want || !plan.Proven {
			t.Fatalf("case %d: %+v\non %v: %+v, want %+v of %d ways", i, c, plan.Nozzle, got, want, ways)
		}
		if got := c.play(plan.Nozzle); got != want {
			t.Fatalf("case %d: %+v\non %v: said to come to %+v, comes to %+v", i, c, plan.Nozzle, want, got)
		}
		// The search beyond what can be proven obeys the same rules, and can't be better.
		e := newEvaluator(p, m)
		if got := c.play(climb(e, c.pins)); got.better(want) {
			t.Fatalf("case %d: %+v\nclimbing comes to %+v, the best is %+v", i, c, got, want)
		}
		feasible++
		if want.short > 0 {
			short++
		}
		if len(c.pins) > 0 {
			pinned++
		}
	}
	if short < 1000 || pinned < 1000 {
		t.Errorf("only %d of the cases run short, %d are pinned: they try too little", short, pinned)
	}
}
