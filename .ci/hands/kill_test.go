package hands

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

const slots = 8

// pace remembers how long runs take that nobody kills, so that kills fall anywhere from start to end of a run, also
// when the book has grown or the machine is busy.
type pace struct {
	mu     sync.Mutex
	recent []time.Duration
	kills  [4]int // by quarter of the time that such a run takes
}

func (p *pace) add(d time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.recent) == 64 {
		p.recent = p.recent[1:]
	}
	p.recent = append(p.recent, d)
}

// draw picks an instant in a run, and how long that run would take. Runs that end early escape the late instants, so
// the quarter of a run that was hit least has every other turn.
func (p *pace) draw(r *rand.Rand) (at, whole time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	whole = p.recent[r.IntN(len(p.recent))]
	quarter := r.IntN(4)
	if r.IntN(2) == 0 {
		quarter = slices.Index(p.kills[:], slices.Min(p.kills[:]))
	}
	return time.Duration((float64(quarter) + r.Float64()) / 4 * float64(whole)), whole
}

func (p *pace) hit(at, whole time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.kills[min(3, int(4*at/max(whole, 1)))]++
}

// told counts what runs say on stderr beside their answer, of killed ones for example; figures apart.
type told struct {
	mu    sync.Mutex
	lines map[string]int
}

var figures = regexp.MustCompile(`[0-9]+(-[0-9a-f]+)?`)

func (s *told) add(stderr string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.lines == nil {
		s.lines = map[string]int{}
	}
	for line := range strings.Lines(stderr) {
		s.lines[figures.ReplaceAllString(strings.TrimSpace(line), "#")]++
	}
}

// TestKill records from many processes, of which most are killed at some instant: what was acknowledged is there, and
// of no command a part, neither at the end nor in what a reader sees meanwhile.
func TestKill(t *testing.T) {
	p := theProgram(t)
	wanted, seed := setting(t, "HANDS_KILLS", 1000), uint64(setting(t, "HANDS_SEED", 1))
	book := filepath.Join(t.TempDir(), "book")
	newBook(t, p, book, 12)
	desk := newDesk(book)
	var pace pace
	for range 8 {
		pace.add(p.must(t, "--book", book, "move", "C-001", "rack 1", "--note", "pace", "--dry-run").took)
	}

	began := time.Now()
	faults, told := &faults{t: t}, &told{}
	var kills, runs, missed, looked, batches atomic.Int64
	record := func(h *hand, until int) {
		for kills.Load() < int64(until) && time.Since(began) < 5*time.Minute {
			c, err := h.next()
			if err != nil {
				faults.add("a row lost", err.Error())
				continue
			}
			runs.Add(1)
			at, whole := time.Duration(-1), time.Duration(0)
			if h.random.IntN(4) > 0 { // those left alone show how long a run takes
				at, whole = pace.draw(h.random)
			}
			switch o := p.runUntil(at, c.args...); {
			case o.killed && at >= 0:
				kills.Add(1)
				pace.hit(at, whole)
			case o.failed(0) == nil:
				told.add(o.stderr)
				h.acknowledged(c)
				if at < 0 {
					pace.add(o.took)
				} else {
					missed.Add(1)
				}
			default:
				faults.add("not recorded", o.String())
			}
		}
	}
	var ended atomic.Bool
	var hands, readers sync.WaitGroup
	newHand := func(n int) *hand {
		return &hand{desk: desk, name: fmt.Sprintf("kill-%d", n), book: book, random: rand.New(rand.NewPCG(seed, uint64(n))),
			toWeigh: ids("W", 12), toPrint: ids("C", 12)}
	}
	for n := range slots {
		hands.Go(func() { record(newHand(n), wanted) })
	}
	readers.Go(func() {
		for i := 0; !ended.Load(); i++ {
			n, o, bad := desk.look(p, looks[i%len(looks)])
			looked.Add(1)
			batches.Add(int64(n))
			for _, b := range bad {
				faults.add("a reader beside", b)
			}
			told.add(o.stderr)
		}
	})
	hands.Wait()
	ended.Store(true)
	readers.Wait()
	// Of many hands most wait for the lock most of the time; one hand alone is hit at its work.
	record(newHand(slots), wanted+wanted/4)
	faults.tell()

	if kills.Load() < int64(wanted+wanted/4) {
		t.Errorf("%d kills only in %s", kills.Load(), time.Since(began))
	}
	entries := p.sound(t, book)
	a := hold(t, book, desk.commands)
	if entries != a.rows+24 {
		t.Errorf("verify counts %d entries, and the ledgers have %d", entries, a.rows+24)
	}
	for _, what := range looks {
		_, _, bad := desk.look(p, what)
		for _, b := range bad {
			t.Errorf("at the end: %s", b)
		}
	}
	if wanted >= 200 {
		for quarter, n := range pace.kills {
			if n < wanted/20 {
				t.Errorf("only %d kills fell into quarter %d of a run", n, quarter+1)
			}
		}
		if a.whole == 0 || a.none == 0 {
			t.Errorf("of the killed commands %d are in the book and %d are not: the kills are not spread over a run", a.whole, a.none)
		}
	}
	t.Logf("%d kills over %d recordings, %d too late; by quarter of a run %v; of the killed %d are whole in the book, %d not at all", kills.Load(), runs.Load(), missed.Load(), pace.kills, a.whole, a.none)
	for _, line := range slices.Sorted(maps.Keys(told.lines)) {
		t.Logf("told %d times: %s", told.lines[line], line)
	}
	t.Logf("%d rows, %d looks beside that saw %d batches", a.rows, looked.Load(), batches.Load())
}
