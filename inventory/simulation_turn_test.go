package inventory_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
	"tarebook/ledger"
	"tarebook/ledger/crash"
)

// Shops that use spools in turn: a job on A, B and C, and a second one behind it on the spool where it ends. What the odds say comes true
// as often, and the share at which A hands over is as far off as its uncertainty.
func TestSimulationOfSpoolsInTurn(t *testing.T) {
	t.Parallel()
	dir, err := crash.Folder()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	const shops, tail = 900, 3.0 // 3 g of PLA never reach the nozzle
	type bin struct {
		n, held int
		odds    float64
	}
	bins := map[string]*[5]bin{"in turn": {}, "behind": {}}
	enough, ranOut, reached, near := 0, 0, 0, 0
	for shop := range uint64(shops) {
		s := &trade{Rand: rand.New(rand.NewPCG(20261129, shop))}
		s.k = s.normal(1, 0.03)
		var spools []*truth
		for _, id := range []string{"A", "B", "C"} {
			spool := &truth{id: id, net: s.between(40, 400), tare: s.between(150, 250)}
			spool.believed = math.Round(s.normal(spool.tare, 2)*1000) / 1000
			s.write("purchases spool=%s net_g=500 tare_g=%.3f material=PLA", id, spool.believed)
			s.weigh(spool, s.pan())
			s.print(spool, s.IntN(3))
			spools = append(spools, spool)
		}
		believed := 0.0
		for _, spool := range spools {
			believed += max(0, spool.left-tail)
		}
		need := max(1, believed*s.between(0.8, 1.08))
		behind := max(1, (believed-need)*s.between(0.7, 1.2))
		s.write("queue job=first slot=0 spool=A+B+C part_g=%.3f printer=P", need)
		s.write("queue job=second slot=0 spool=C part_g=%.3f printer=P", behind)
		// P's tail in mm of PLA, 1.24 g/cm3 and 1.75 mm.
		printer := fmt.Sprintf("printers printer=P feeds=1 tail_mm=%.6f", tail/(1.24*math.Pi*1.75*1.75/4)*1000)
		v, err := booktest.Write(t, dir, append([]string{printer}, s.rows...)).View(ledger.Time{})
		if err != nil {
			t.Fatal(err)
		}
		_, jobs, err := inventory.Check(v)
		if err != nil {
			t.Fatal(err)
		}
		// The truth: each gives what it has above its tail, and what the first leaves on C is there for the second.
		went := s.goes(need)
		given, has := 0.0, [3]float64{}
		for i, spool := range spools {
			has[i] = max(0, spool.net-tail)
			given += has[i]
		}
		first, second := jobs[0].Needs[0], jobs[1].Needs[0]
		left := min(has[2], given-went)
		for name, held := range map[string]bool{"in turn": went <= given, "behind": s.goes(behind) <= left} {
			n := first
			if name == "behind" {
				n = second
			}
			b := &bins[name][min(4, int(n.Odds*5))]
			b.n++
			b.odds += n.Odds
			if held {
				b.held++
			}
			if n.Verdict == inventory.Enough {
				if enough++; !held {
					ranOut++
				}
			}
		}
		// In its first part the print goes as all of it, but for the scatter, which these shops have none of.
		if at := first.HandsOver[0]; at > 0 && at < 1 && went > has[0] {
			reached++
			a := jobs[0].Needs[0].Spool
			u := math.Hypot(a.BaseU, a.Estimate.UK*(a.Others.Float()+at*need)) / need
			if math.Abs(at-has[0]/went) <= 2*u {
				near++
			}
		}
	}
	for name, all := range bins {
		var pool bin
		for i, b := range all {
			pool.n, pool.held, pool.odds = pool.n+b.n, pool.held+b.held, pool.odds+b.odds
			if pool.n < 30 && i < len(all)-1 {
				continue
			}
			p := pool.odds / float64(pool.n)
			least, most := limits(pool.n, p)
			t.Logf("%s, odds %.3f: %d of %d held, limits %d to %d", name, p, pool.held, pool.n, least, most)
			if pool.held < least || pool.held > most {
				t.Errorf("%s: of %d needs with odds %.3f on the average %d came true, outside %d to %d", name, pool.n, p, pool.held, least, most)
			}
			pool = bin{}
		}
	}
	_, most := limits(enough, 0.05)
	t.Logf("enough: %d of %d ran out, at most %d; handed over within 2u: %d of %d", ranOut, enough, most, near, reached)
	if ranOut > most {
		t.Errorf("of %d needs that were enough %d ran out, more than %d", enough, ranOut, most)
	}
	if reached < shops/2 || near*100 < 90*reached {
		t.Errorf("%d of %d hand-overs were within 2u of what was told, not 90 %%", near, reached)
	}
}
