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

// Shops that begin with half-used spools on a core that they know to 220 +- 12 g in the mean, each core off by 2 g more: the net and
// what is called enough are to be trusted by that tare, and by the true mean once empty cores were weighed.
func TestSimulationOfHalfUsedShelves(t *testing.T) {
	t.Parallel()
	dir, err := crash.Folder()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	const shops = 600
	var enough, ranOut, covered [2]int // before the tare is corrected, and after
	for shop := range uint64(shops) {
		s := &trade{Rand: rand.New(rand.NewPCG(20261128, shop)), k: 1}
		s.k = s.normal(1, 0.03)
		mean := s.normal(220, 12)
		spool := &truth{id: "THIS", net: s.between(150, 700), tare: s.normal(mean, 2)}
		pan := pans[s.pan()]
		gross := spool.net + spool.tare + s.between(-pan.error, pan.error) + s.normal(0, pan.repeat)
		gross = math.Round(gross/pan.division) * pan.division
		scale := ""
		if pan.name != "" {
			scale = " scale=" + pan.name
		}
		spool.left = gross - 220
		s.write("purchases spool=THIS net_g=%.1f core=rough gross_g=%.1f%s", max(1, spool.left), gross, scale)
		s.print(spool, s.IntN(4))
		need := max(1, spool.left*s.between(0.85, 1.1))
		s.write("queue job=next slot=0 spool=THIS part_g=%.3f", need)
		held := spool.net-s.goes(need) >= 0
		for i, core := range []string{fmt.Sprintf("cores core=rough tare_g=220 tare_u_g=%.3f", math.Hypot(12, 2)), fmt.Sprintf("cores core=rough tare_g=%.3f tare_u_g=2", mean)} {
			v, err := booktest.Write(t, dir, append([]string{core}, s.rows...)).View(ledger.Time{})
			if err != nil {
				t.Fatal(err)
			}
			shelf, jobs, err := inventory.Check(v)
			if err != nil {
				t.Fatal(err)
			}
			book := shelf.Spool("THIS")
			if math.Abs(book.Net.Float()-spool.net) <= 2*book.NetU() {
				covered[i]++
			}
			if jobs[0].Needs[0].Verdict == inventory.Enough {
				enough[i]++
				if !held {
					ranOut[i]++
				}
			}
		}
	}
	for i, when := range []string{"before", "after"} {
		_, most := limits(enough[i], 0.05)
		t.Logf("%s the tare is corrected: net within 2 u %d of %d; enough %d, of which %d ran out, at most %d", when, covered[i], shops, enough[i], ranOut[i], most)
		if covered[i]*100 < 90*shops || covered[i]*100 > 99*shops {
			t.Errorf("%s the tare is corrected: the net was within 2 u in %d of %d shops, not in 90 to 99 %%", when, covered[i], shops)
		}
		if enough[i] < 30 || ranOut[i] > most {
			t.Errorf("%s the tare is corrected: of %d needs that were enough %d ran out, more than %d", when, enough[i], ranOut[i], most)
		}
	}
}
