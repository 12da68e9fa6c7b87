package hands

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// TestManyHands records from many processes at once beside readers: nothing is lost, nobody is turned away, and no
// reader sees a part of a batch.
func TestManyHands(t *testing.T) {
	p := theProgram(t)
	each, seed := setting(t, "HANDS_RECORDS", 200), uint64(setting(t, "HANDS_SEED", 1))
	book := filepath.Join(t.TempDir(), "book")
	newBook(t, p, book, 12)
	desk := newDesk(book)

	faults := &faults{t: t}
	var looked, batches, longest atomic.Int64
	var ended atomic.Bool
	var hands, readers sync.WaitGroup
	for slot := range slots {
		hands.Go(func() {
			h := &hand{desk: desk, name: fmt.Sprintf("many-%d", slot), book: book, random: rand.New(rand.NewPCG(seed, uint64(100+slot))),
				toWeigh: ids("W", 12), toPrint: ids("C", 12)}
			for range each {
				c, err := h.next()
				if err != nil {
					faults.add("a row lost", err.Error())
					continue
				}
				o := p.run(c.args...)
				for took := int64(o.took); ; {
					if old := longest.Load(); took <= old || longest.CompareAndSwap(old, took) {
						break
					}
				}
				if err := o.failed(0); err != nil {
					faults.add("not recorded", err.Error())
					continue
				}
				h.acknowledged(c)
			}
		})
	}
	for reader := range 2 {
		readers.Go(func() {
			for i := 2 * reader; !ended.Load(); i++ {
				n, o, bad := desk.look(p, looks[i%len(looks)])
				looked.Add(1)
				batches.Add(int64(n))
				for _, b := range bad {
					faults.add("a reader beside", b)
				}
				if o.stderr != "" && len(bad) == 0 {
					faults.add("a reader beside, on stderr", o.String())
				}
			}
		})
	}
	hands.Wait()
	ended.Store(true)
	readers.Wait()
	faults.tell()

	entries := p.sound(t, book)
	a := hold(t, book, desk.commands)
	if entries != a.rows+24 {
		t.Errorf("verify counts %d entries, and the ledgers have %d", entries, a.rows+24)
	}
	if n := len(desk.commands); n != slots*each || a.whole+a.none > 0 {
		t.Errorf("%d recordings, of which %d were not acknowledged; want %d and 0", n, a.whole+a.none, slots*each)
	}
	if looked.Load() < 8 || batches.Load() == 0 {
		t.Errorf("the readers saw %d batches in %d looks, so this shows nothing of them", batches.Load(), looked.Load())
	}
	for _, what := range looks {
		_, _, bad := desk.look(p, what)
		for _, b := range bad {
			t.Errorf("at the end: %s", b)
		}
	}
	t.Logf("%d recordings by %d hands, %d rows, the longest took %s; %d looks beside that saw %d batches", len(desk.commands), slots, a.rows,
		time.Duration(longest.Load()).Round(time.Millisecond), looked.Load(), batches.Load())
}
