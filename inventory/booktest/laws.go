package booktest

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebook/ledger"
	"tarebook/ledger/crash"
)

// Draw draws the rows of a book that crowds few spools, instants and names, so that ties, conflicts, voids and ends
// are common. Every row keeps the rules of its file.
func Draw(t *rapid.T) []string {
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
		// 250 g is above its core, 150 g is below.
		"purchases at=2 spool=C net_g=100 from=A colour=Slate core=card" + pick("gross_g", "", "250", "150") + pick("lot", "", "7"),
	}
	add := func(file string, least, most int, row func() string) {
		for range rapid.IntRange(least, most).Draw(t, file) {
			rows = append(rows, file+row())
		}
		taken = nil // an entry in two files is another matter
	}
	add("purchases", 0, 2, func() string {
		return head() + pick("spool", "D", "E") + pick("net_g", "40", "200") + pick("material", "PLA", "PETG") + pick("from", "", "A", "B", "C") +
			pick("price", "", "3.333") + pick("colour", "", "sand", "sAnd") + pick("place", "", "Bench/0") + pick("gross_g", "", "", "300") + pick("maker", "", "Reed")
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

// Drawn returns a view of a drawn book. It has a folder of its own, gone when the law has been tried.
func Drawn(t *rapid.T, tb testing.TB, rows []string) *ledger.View {
	dir, err := crash.Folder()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	v, err := Write(tb, dir, rows).View(ledger.Time{})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Shuffled returns rows in another order.
func Shuffled(t *rapid.T, rows []string) []string {
	return rapid.Permutation(rows).Draw(t, "order")
}

// Laws holds the laws of every answer; tell tells all that is derived from a book.
func Laws(t *testing.T, tell func(testing.TB, *ledger.View) string) {
	t.Run("order of lines", func(t *testing.T) { orderOfLines(t, tell) })
	t.Run("voided", func(t *testing.T) { voided(t, tell) })
	t.Run("conflicting", func(t *testing.T) { conflicting(t, tell) })
}

// The order of lines never matters.
func orderOfLines(t *testing.T, tell func(testing.TB, *ledger.View) string) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		rows := Draw(r)
		before := tell(t, Drawn(r, t, rows))
		if after := tell(t, Drawn(r, t, Shuffled(r, rows))); after != before {
			r.Fatalf("told\n%s\nin another order\n%s", before, after)
		}
	})
}

// A voided consumption equals one never written.
func voided(t *testing.T, tell func(testing.TB, *ledger.View) string) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		rows := Draw(r)
		row := "consumption entry=01K30000000000000000000000 at=" + rapid.SampledFrom([]string{"0", "1", "3", "9"}).Draw(r, "at") +
			" spool=" + rapid.SampledFrom([]string{"A", "B", "C"}).Draw(r, "spool") + " job=" + rapid.SampledFrom([]string{"one", "ONE", "new"}).Draw(r, "job") + " client=MOLE part_g=50 purge_g=1"
		void := "voids at=1 target=01k30000000000000000000000"
		rows = append(rows, void)
		before := tell(t, Drawn(r, t, rows))
		if after := tell(t, Drawn(r, t, Shuffled(r, append(rows, row)))); after != before {
			r.Fatalf("told\n%s\nwith a voided row\n%s", before, after)
		}
	})
}

// Of an entry that stands with different contents none counts, not even by how it spells a name.
func conflicting(t *testing.T, tell func(testing.TB, *ledger.View) string) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		rows := Draw(r)
		before := tell(t, Drawn(r, t, rows))
		const row = "consumption entry=01K30000000000000000000000 at=0 spool=A job=TWO client=MOLE printer=OTHER part_g="
		if after := tell(t, Drawn(r, t, Shuffled(r, append(rows, row+"50", row+"51")))); after != before {
			r.Fatalf("told\n%s\nwith a conflict\n%s", before, after)
		}
	})
}

// Split is a fold that deals its rows out to several.
type Split[F ledger.ConsumptionFold] struct {
	Folds []F
	Rand  *rand.Rand
}

// Add gives the row to one of them.
func (s Split[F]) Add(row *ledger.Consumption) { s.Folds[s.Rand.IntN(len(s.Folds))].Add(row) }

// Reset forgets all rows.
func (s Split[F]) Reset() {
	for _, f := range s.Folds {
		f.Reset()
	}
}

// Merged merges the folds two by two, in any order.
func (s Split[F]) Merged(merge func(into, from F)) F {
	folds := slices.Clone(s.Folds)
	for len(folds) > 1 {
		i := s.Rand.IntN(len(folds))
		from := folds[i]
		folds = slices.Delete(folds, i, i+1)
		merge(folds[s.Rand.IntN(len(folds))], from)
	}
	return folds[0]
}
