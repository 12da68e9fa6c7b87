package inventory_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"runtime/debug"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
	"tarebook/ledger"
)

func TestLaws(t *testing.T) {
	t.Parallel()
	booktest.Laws(t, all)
}

// all tells everything that is derived from a book.
func all(t testing.TB, v *ledger.View) string {
	t.Helper()
	var b strings.Builder
	s, jobs, err := inventory.Check(v)
	if err != nil {
		t.Fatal(err)
	}
	tellShelf(&b, s)
	ids := func(spools []*inventory.Spool) (ids []string) {
		for _, spool := range spools {
			ids = append(ids, spool.ID)
		}
		return ids
	}
	for _, job := range jobs {
		fmt.Fprintf(&b, "job %q of %q on %q due %s: %s\n", job.Name, job.Client, job.Printer, job.Due, job.Verdict)
		for _, n := range job.Needs {
			spool := "-"
			if n.Spool != nil {
				spool = n.Spool.ID
			}
			fmt.Fprintf(&b, "  %q on %q: %s %s %q %q likely %v tail %v margin %v u %v odds %v %s at %v, instead %v, in turn %v, hands over %v\n", n.Slot, n.Printer, spool, n.From,
				n.Material, n.Colour, n.Likely, n.Tail, n.Margin, n.U, n.Odds, n.Verdict, n.RunsOut, ids(n.Instead), ids(n.InTurn), n.HandsOver)
		}
	}
	r, err := inventory.NewReorder(v, ledger.NewTime(booktest.Start.AddDate(0, 0, 20)), 90)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range r.Supplies {
		b.WriteString(tell(s) + "\n")
	}
	return b.String()
}

func tellShelf(b *strings.Builder, s *inventory.Shelf) {
	for _, spool := range s.Spools {
		fmt.Fprintf(b, "spool %s %q %q at %q: tare %v %v %s, ended %v, net %s u %v, likely %v, %+v, after the end %v\n", spool.ID, spool.Material, spool.Colour, spool.Place,
			spool.Tare.Grams, spool.Tare.U, spool.Tare.From, spool.Ended, spool.Net, spool.NetU(), spool.Likely(), spool.Estimate, spool.AfterEnd)
		for _, r := range spool.Readings {
			fmt.Fprintf(b, "  %s %q: %v u %v, book %s, %v %s u %v, %v %v\n", r.Weighin.At, r.Weighin.Entry, r.Measured, r.U, r.Book, r.Judged, r.Variance, r.VarianceU, r.Outside, r.Heavier)
		}
	}
}

func TestMain(m *testing.M) {
	debug.SetGCPercent(400) // tests allocate much and keep little
	os.Exit(m.Run())
}

// Merging folds equals one fold.
func TestMergedUsage(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		v := booktest.Drawn(r, t, booktest.Draw(r))
		jobs := []string{"one", "Two", "three"}
		reckoned := func(fold func(*inventory.Shelf) *inventory.Usage) string {
			s, err := inventory.Unfolded(v)
			if err != nil {
				r.Fatal(err)
			}
			u := fold(s)
			s.Reckon(u)
			var b strings.Builder
			tellShelf(&b, s)
			fmt.Fprintln(&b, u.First())
			for _, job := range jobs {
				fmt.Fprintln(&b, job, u.Over(job))
			}
			return b.String()
		}
		one := reckoned(func(s *inventory.Shelf) *inventory.Usage {
			u := s.NewUsage(jobs...)
			if err := v.FoldConsumption(u); err != nil {
				r.Fatal(err)
			}
			return u
		})
		many := reckoned(func(s *inventory.Shelf) *inventory.Usage {
			f := booktest.Split[*inventory.Usage]{Rand: rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "deal"), 0))}
			for range rapid.IntRange(2, 5).Draw(r, "folds") {
				f.Folds = append(f.Folds, s.NewUsage(jobs...))
			}
			if err := v.FoldConsumption(f); err != nil {
				r.Fatal(err)
			}
			return f.Merged((*inventory.Usage).Merge)
		})
		if one != many {
			r.Fatalf("one fold\n%s\nmany\n%s", one, many)
		}
	})
}
