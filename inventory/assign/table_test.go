package assign

import (
	"math/rand/v2"
	"testing"
)

// What the table of sets says is what each set comes to by itself.
func TestTable(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(2, 1))
	for range 300 {
		p, m := drawSmall(r.IntN).print()
		e := newEvaluator(p, m)
		for set, got := range e.table() {
			var in bitset
			var slots []int
			for s := range p.Slots {
				if set>>s&1 != 0 {
					in.add(s)
					slots = append(slots, s)
				}
			}
			if want := e.score(slots, &in); got != want {
				t.Fatalf("%v of %+v: %+v, want %+v", slots, p, got, want)
			}
		}
	}
}
