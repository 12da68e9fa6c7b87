package inventory_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
	"tarebook/ledger"
	"tarebook/ledger/crash"
)

// A simulation after the way of JCGM 101:2008, propagation of distributions: shops are drawn with truths that no book
// can hold, each writes the book that it would have written, and the truth then decides what came of the answers.
// The drawing uses none of the project's formulas. It keeps to what the model takes for granted: labels, cores and
// typed tares off by normal errors of their u; a scale off by a rectangle and rounded to its division, anew at each
// reading; estimates that run by one factor in the whole shop, with a scatter whose variance grows with the grams.

// truth is a spool as it is.
type truth struct {
	id        string
	net, tare float64
	left      float64 // as the shop believes: last gross, less what it takes for the tare, less what it booked since
	believed  float64 // the tare that the shop takes for left
}

// trade is a shop as it is.
type trade struct {
	*rand.Rand
	k, s float64 // grams for a booked one, and the scatter for the root of a gram
	hour int
	rows []string
}

func (t *trade) normal(mean, u float64) float64 { return mean + u*t.NormFloat64() }
func (t *trade) between(a, b float64) float64   { return a + (b-a)*t.Float64() }

func (t *trade) write(format string, args ...any) {
	t.hour++
	t.rows = append(t.rows, fmt.Sprintf(format, args...)+fmt.Sprintf(" at=%d", t.hour))
}

// goes takes what a job booked at c grams takes in truth.
func (t *trade) goes(c float64) float64 { return max(0, t.normal(t.k*c, t.s*math.Sqrt(c))) }

var pans = []struct {
	name                    string
	division, error, repeat float64
}{{"", 1, 1, 0}, {"fine", 0.1, 0.1, 0}, {"coarse", 2, 3, 1}}

func (t *trade) weigh(s *truth, pan int) {
	p := pans[pan]
	gross := s.net + s.tare + t.between(-p.error, p.error) + t.normal(0, p.repeat)
	gross = math.Round(gross/p.division) * p.division
	t.write("weighins spool=%s gross_g=%.1f scale=%s", s.id, gross, p.name)
	s.left = gross - s.believed
}

// buy draws a spool, of a core and a tare that the shop knows in one of four ways or not at all.
func (t *trade) buy(id string) (s *truth, weighable bool) {
	label := []float64{500, 750, 1000}[t.IntN(3)]
	s = &truth{id: id, net: t.normal(label, 0.01*label), left: label}
	row := fmt.Sprintf("purchases spool=%s net_g=%v", id, label)
	switch t.IntN(5) {
	case 0:
		s.tare, s.believed = t.normal(180, 5), 180
		t.write("%s core=card", row)
	case 1:
		s.tare, s.believed = t.normal(240, 3), 240
		t.write("%s core=plastic", row)
	case 2:
		s.tare = t.between(150, 250)
		s.believed = math.Round(t.normal(s.tare, 2)*1000) / 1000
		t.write("%s tare_g=%.3f", row, s.believed)
	case 3: // its label, from the first weighing
		s.tare = t.between(150, 250)
		t.write("%s", row)
		s.believed = 0
		t.weigh(s, t.pan())
		s.believed, s.left = s.left-label, label
	case 4: // never to be weighed
		t.write("%s", row)
		return s, false
	}
	return s, true
}

// pan is mostly the bench scale.
func (t *trade) pan() int { return []int{0, 0, 0, 1, 2}[t.IntN(5)] }

// print books jobs and lets go what they take; sliced tells whether all were booked by estimate.
func (t *trade) print(s *truth, jobs int) (sliced bool) {
	sliced = true
	for range jobs {
		c := math.Round(t.between(5, 60)*1000) / 1000
		went := t.goes(c)
		switch t.IntN(12) {
		case 0: // weighed on a balance: what is booked is what went
			c = math.Round(went*1000) / 1000
			went, sliced = c, false
			t.write("consumption spool=%s part_g=%.3f basis=weighed", s.id, c)
		case 1:
			t.write("consumption spool=%s part_g=%.3f outcome=failed basis=path", s.id, c)
		default:
			t.write("consumption spool=%s part_g=%.3f", s.id, c)
		}
		s.net -= went
		s.left -= c
	}
	return sliced
}

// outcome is what one shop tells: one need, as needs of one shop share its k.
type outcome struct {
	odds    float64
	verdict string
	held    bool // the spool held the need
	covered bool // the book's net was within 2 u of the truth
}

func simulate(tb testing.TB, dir string, shop uint64) outcome {
	t := &trade{Rand: rand.New(rand.NewPCG(20260101, shop))}
	spools := 0
	if t.IntN(4) == 0 {
		// A new shop has too few intervals; it takes its estimates for right to within estimate_u, in all.
		t.k = t.normal(1, 0.03)
	} else {
		t.k, t.s = t.between(0.95, 1.10), t.between(0.3, 0.9)
		spools = 4 + t.IntN(8)
	}
	for i, intervals := 0, 0; i < spools || spools > 0 && intervals < 5; i++ {
		s, weighable := t.buy(fmt.Sprintf("OTHER-%d", i))
		if !weighable {
			continue
		}
		t.weigh(s, t.pan())
		for range 2 + t.IntN(3) {
			if t.print(s, 1+t.IntN(3)) {
				intervals++
			}
			t.weigh(s, t.pan())
		}
	}
	s, weighable := t.buy("THIS")
	if weighable && t.IntN(8) > 0 {
		t.weigh(s, t.pan())
		for range t.IntN(3) {
			t.print(s, 1+t.IntN(2))
			t.weigh(s, t.pan())
		}
	}
	t.print(s, t.IntN(4))
	// What is left sets the need, by the plain reckoning that a shop does in its head.
	need := max(1, s.left*t.between(0.85, 1.1))
	t.write("queue job=next slot=0 spool=THIS part_g=%.3f", need)
	v, err := booktest.Write(tb, dir, t.rows).View(ledger.Time{})
	if err != nil {
		tb.Fatal(err)
	}
	shelf, jobs, err := inventory.Check(v)
	if err != nil {
		tb.Fatal(err)
	}
	n, spool := jobs[0].Needs[0], shelf.Spool("THIS")
	if (spools == 0) != (spool.Estimate.N == 0) {
		tb.Fatalf("shop %d rests on %d intervals", shop, spool.Estimate.N)
	}
	o := outcome{odds: n.Odds, verdict: n.Verdict, held: s.net-t.goes(need) >= 0}
	o.covered = math.Abs(spool.Net.Float()-s.net) <= 2*spool.NetU()
	return o
}

// limits returns the least and the greatest count of n that a share p gives with 99 % probability.
func limits(n int, p float64) (least, most int) {
	b := distuv.Binomial{N: float64(n), P: p}
	for b.CDF(float64(least)) <= 0.005 {
		least++
	}
	for most = n; most > 0 && 1-b.CDF(float64(most-1)) <= 0.005; {
		most--
	}
	return least, most
}

func TestSimulation(t *testing.T) {
	t.Parallel()
	// Ten bins at 99 % each miss by chance once in ten draws of the seed; 16 000 shops of this seed pass as well.
	const shops, workers = 2400, 2
	outcomes := make([]outcome, shops)
	t.Run("shops", func(t *testing.T) {
		for w := range workers {
			t.Run(fmt.Sprint(w), func(t *testing.T) {
				t.Parallel()
				dir, err := crash.Folder() // one book after another: making folders would take longer than the rest
				if err != nil {
					t.Fatal(err)
				}
				t.Cleanup(func() { os.RemoveAll(dir) })
				for i := w; i < shops; i += workers {
					outcomes[i] = simulate(t, dir, uint64(i))
				}
			})
		}
	})

	// Odds mean what they say: of the needs with odds about p the share p came true.
	type bin struct {
		n, held int
		odds    float64
	}
	var bins [10]bin
	enough, ranOut, covered := 0, 0, 0
	for _, o := range outcomes {
		b := &bins[min(9, int(o.odds*10))]
		b.n++
		b.odds += o.odds
		if o.held {
			b.held++
		}
		if o.verdict == inventory.Enough {
			enough++
			if !o.held {
				ranOut++
			}
		}
		if o.covered {
			covered++
		}
	}
	var pool bin
	judge := func() {
		p := pool.odds / float64(pool.n)
		least, most := limits(pool.n, p)
		t.Logf("odds %.3f: %d of %d held, limits %d to %d", p, pool.held, pool.n, least, most)
		if pool.held < least || pool.held > most {
			t.Errorf("of %d needs with odds %.3f on the average %d came true, outside %d to %d", pool.n, p, pool.held, least, most)
		}
		pool = bin{}
	}
	for _, b := range bins {
		pool.n, pool.held, pool.odds = pool.n+b.n, pool.held+b.held, pool.odds+b.odds
		if pool.n >= 30 {
			judge()
		}
	}
	if pool.n > 0 {
		judge()
	}
	// Of what was enough no more ran out than enough_odds leaves.
	_, most := limits(enough, 0.05)
	t.Logf("enough: %d of %d ran out, at most %d", ranOut, enough, most)
	if ranOut > most {
		t.Errorf("of %d needs that were enough %d ran out, more than %d", enough, ranOut, most)
	}
	t.Logf("net within 2 u: %d of %d", covered, shops)
	if share := float64(covered) / shops; share < 0.90 || share > 0.99 {
		t.Errorf("the true net was within 2 u of the book's in %.1f %%", 100*share)
	}
}
