package inventory_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"runtime/debug"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebook/inventory"
	"tarebook/ledger"
	"tarebook/ledger/crash"
)

// drawBook draws the rows of a book that crowds few spools, instants and names, so that ties, conflicts, voids and ends
// are common. Every row keeps the rules of its file.
func drawBook(t *rapid.T) []string {
	entries := 0
	var taken []string
	head := func() string {
		at := rapid.SampledFrom([]string{"1", "2", "3", "4", "5", "6", "2026-01-01T03:00:00+01:00", "2026-01-01T04:00:00-01:00"}).Draw(t, "at")
		text := " at=" + at
		switch rapid.IntRange(0, 9).Draw(t, "entry") {
		case 0, 1, 2, 3, 4: // typed by hand
		case 5:
			if len(taken) > 0 { // twice, with the same content or another
				text += " entry=" + rapid.SampledFrom(taken).Draw(t, "twice")
				break
			}
			fallthrough
		default:
			entries++
			entry := fmt.Sprintf("01K%023d", entries)
			taken = append(taken, entry)
			text += " entry=" + entry
		}
		return text
	}
	pick := func(column string, values ...string) string {
		if v := rapid.SampledFrom(values).Draw(t, column); v != "" {
			return " " + column + "=" + v
		}
		return ""
	}
	spool := func() string { return pick("spool", "A", "b", "C") }
	mass := func(column string) string {
		return pick(column, "", "0.001", "7.5", "30", "100", "333.333")
	}
	rows := []string{
		"settings setting=min_intervals value=2",
		"clients client=Quay",
		"purchases at=0 spool=A net_g=500 colour=Sand tare_g=100 price=19.99 place=Bench/0",
		"purchases at=0 spool=B net_g=200 colour=SAND price=7 currency=KWD entry=01K10000000000000000000000",
		"purchases at=2 spool=C net_g=100 from=A colour=Slate core=card",
	}
	add := func(file string, least, most int, row func() string) {
		for range rapid.IntRange(least, most).Draw(t, file) {
			rows = append(rows, file+row())
		}
		taken = nil // an entry in two files is another matter
	}
	add("purchases", 0, 2, func() string {
		return head() + pick("spool", "D", "E") + pick("net_g", "40", "200") + pick("material", "PLA", "PETG") + pick("from", "", "A", "B", "C") +
			pick("price", "", "3.333") + pick("colour", "", "sand", "sAnd") + pick("place", "", "Bench/0")
	})
	add("weighins", 0, 8, func() string {
		row := head() + spool() + pick("scale", "", "fine", "coarse")
		if state := pick("state", "", "loaded", "dried", "empty", "discarded"); strings.HasSuffix(state, "ed") && !strings.HasSuffix(state, "discarded") || state == "" {
			return row + state + pick("gross_g", "90", "250", "600", "900.5")
		} else {
			return row + state + pick("gross_g", "", "99", "120")
		}
	})
	add("consumption", 0, 15, func() string {
		return head() + spool() + pick("job", "", "one", "ONE", "two") + pick("client", "", "quay", "mole", "Mole") + pick("printer", "", "bench", "Other") +
			mass("part_g") + mass("purge_g") + pick("changes", "", "0", "3", "7") + pick("outcome", "", "failed", "failed") + pick("basis", "", "path", "weighed")
	})
	add("queue", 0, 6, func() string {
		return head() + pick("job", "one", "two", "Two", "three", "four") + pick("slot", "", "0", "1") + pick("client", "", "QUAY", "MOLE") +
			pick("printer", "", "BENCH", "long", "other") + pick("spool", "", "A", "B", "C") + pick("material", "PLA", "pla", "PETG") +
			pick("colour", "", "sand", "Slate") + mass("part_g") + mass("prime_g") + pick("due", "", "9", "8")
	})
	add("moves", 0, 3, func() string { return head() + spool() + pick("place", "", "box", "Bench/0", "bench/1") })
	add("voids", 0, 3, func() string {
		return head() + pick("target", "01K00000000000000000000001", "01K00000000000000000000004", "01K00000000000000000000009", "01K10000000000000000000000")
	})
	return rows
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
		b.WriteString(strings.Join(tellQuote(inventory.NewQuote(s, job, &inventory.Rates{}, "2026-01-01")), "\n") + "\n")
		fmt.Fprintf(&b, "job %q of %q on %q due %s: %s\n", job.Name, job.Client, job.Printer, job.Due, job.Verdict)
		for _, n := range job.Needs {
			spool := "-"
			if n.Spool != nil {
				spool = n.Spool.ID
			}
			fmt.Fprintf(&b, "  %q on %q: %s %s %q %q likely %v tail %v margin %v u %v odds %v %s at %v, instead %v, ahead %s\n", n.Slot, n.Printer, spool, n.From,
				n.Material, n.Colour, n.Likely, n.Tail, n.Margin, n.U, n.Odds, n.Verdict, n.RunsOut, ids(n.Instead), n.Ahead)
		}
	}
	for _, by := range inventory.Bys {
		c, err := inventory.NewCosting(v, by, "", "")
		if err != nil {
			t.Fatal(err)
		}
		tellCosts(&b, c)
	}
	r, err := inventory.NewReorder(v, ledger.NewTime(start.AddDate(0, 0, 20)), 90)
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

func tellCosts(b *strings.Builder, c *inventory.Costing) {
	rows, totals := c.Rows()
	for _, r := range append(rows, totals...) {
		fmt.Fprintln(b, line(r), r.Changes, r.ChangesPurge)
	}
	for _, printer := range []string{"", "Bench", "Other"} {
		flushed, ok := c.Flushed(printer)
		fmt.Fprintln(b, flushed, ok)
	}
}

func TestMain(m *testing.M) {
	debug.SetGCPercent(400) // tests allocate much and keep little
	os.Exit(m.Run())
}

// Every drawn book has a folder of its own, gone when the law has been tried.
func drawn(t *rapid.T, tb testing.TB, rows []string) *ledger.View {
	dir, err := crash.Folder()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	v, err := write(tb, dir, rows).View(ledger.Time{})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func shuffled(t *rapid.T, rows []string) []string {
	return rapid.Permutation(rows).Draw(t, "order")
}

// The order of lines never matters.
func TestOrderOfLines(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		rows := drawBook(r)
		before := all(t, drawn(r, t, rows))
		if after := all(t, drawn(r, t, shuffled(r, rows))); after != before {
			r.Fatalf("told\n%s\nin another order\n%s", before, after)
		}
	})
}

// A voided consumption equals one never written.
func TestVoided(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		rows := drawBook(r)
		row := "consumption entry=01K30000000000000000000000 at=" + rapid.SampledFrom([]string{"0", "1", "3", "9"}).Draw(r, "at") +
			" spool=" + rapid.SampledFrom([]string{"A", "B", "C"}).Draw(r, "spool") + " job=" + rapid.SampledFrom([]string{"one", "ONE", "new"}).Draw(r, "job") + " client=MOLE part_g=50 purge_g=1"
		void := "voids at=1 target=01k30000000000000000000000"
		rows = append(rows, void)
		before := all(t, drawn(r, t, rows))
		if after := all(t, drawn(r, t, shuffled(r, append(rows, row)))); after != before {
			r.Fatalf("told\n%s\nwith a voided row\n%s", before, after)
		}
	})
}

// Of an entry that stands with different contents none counts, not even by how it spells a name.
func TestConflicting(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		rows := drawBook(r)
		before := all(t, drawn(r, t, rows))
		const row = "consumption entry=01K30000000000000000000000 at=0 spool=A job=TWO client=MOLE printer=OTHER part_g="
		if after := all(t, drawn(r, t, shuffled(r, append(rows, row+"50", row+"51")))); after != before {
			r.Fatalf("told\n%s\nwith a conflict\n%s", before, after)
		}
	})
}

// split is a fold that deals its rows out to several.
type split[F ledger.ConsumptionFold] struct {
	folds []F
	r     *rand.Rand
}

func (s split[F]) Add(row *ledger.Consumption) { s.folds[s.r.IntN(len(s.folds))].Add(row) }

func (s split[F]) Reset() {
	for _, f := range s.folds {
		f.Reset()
	}
}

// merged merges the folds two by two, in any order.
func (s split[F]) merged(merge func(into, from F)) F {
	folds := slices.Clone(s.folds)
	for len(folds) > 1 {
		i := s.r.IntN(len(folds))
		from := folds[i]
		folds = slices.Delete(folds, i, i+1)
		merge(folds[s.r.IntN(len(folds))], from)
	}
	return folds[0]
}

// Merging folds equals one fold.
func TestMergedUsage(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		v := drawn(r, t, drawBook(r))
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
			f := split[*inventory.Usage]{r: rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "deal"), 0))}
			for range rapid.IntRange(2, 5).Draw(r, "folds") {
				f.folds = append(f.folds, s.NewUsage(jobs...))
			}
			if err := v.FoldConsumption(f); err != nil {
				r.Fatal(err)
			}
			return f.merged((*inventory.Usage).Merge)
		})
		if one != many {
			r.Fatalf("one fold\n%s\nmany\n%s", one, many)
		}
	})
}

func TestMergedCosting(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		v := drawn(r, t, drawBook(r))
		by := rapid.SampledFrom(inventory.Bys).Draw(r, "by")
		from := rapid.SampledFrom([]string{"", "2026-01-01", "2026-01-02"}).Draw(r, "from")
		one, err := inventory.NewCosting(v, by, from, "")
		if err != nil {
			r.Fatal(err)
		}
		f := split[*inventory.Costing]{r: rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "deal"), 0))}
		for range rapid.IntRange(2, 5).Draw(r, "folds") {
			f.folds = append(f.folds, one.Another())
		}
		if err := v.FoldConsumption(f); err != nil {
			r.Fatal(err)
		}
		var a, b strings.Builder
		tellCosts(&a, one)
		tellCosts(&b, f.merged((*inventory.Costing).Merge))
		if a.String() != b.String() {
			r.Fatalf("one fold\n%s\nmany\n%s", a.String(), b.String())
		}
	})
}
