package oracle

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// The ledgers whose conflicts a statement's exit status speaks of.
var (
	statementReads = []string{"purchases.csv", "consumption.csv", "voids.csv"}
	houseReads     = []string{"purchases.csv", "weighins.csv", "consumption.csv", "voids.csv"}
)

// TestStatements holds the program's statements against this calculation over
// random books: those of two clients, and the house's, of all time, of a month, between
// dates, and as of some instant.
func TestStatements(t *testing.T) {
	t.Parallel()
	binary := program(t)
	books, seed := setting(t, "ORACLE_BOOKS", 300), uint64(setting(t, "ORACLE_SEED", 1))
	comparisons, wrong := 0, 0
	met := map[string]int{}
	for s := seed; s < seed+uint64(books) && wrong < shownDifferences; s++ {
		dir := filepath.Join(t.TempDir(), fmt.Sprint("book-", s))
		asked, faults := holdStatements(t, dir, s, binary, met)
		comparisons += asked
		if len(faults) > 0 {
			wrong++
			t.Errorf("seed %d: %s", s, strings.Join(faults[:min(len(faults), shownDifferences)], "\n    "))
		}
	}
	t.Logf("%d books, %d comparisons of statements, %d books with a difference; %v", books, comparisons, wrong, met)
	for _, c := range []string{"two rates", "unpriced", "in part unpriced", "failed alone", "finished and failed", "two currencies", "not listed", "nothing",
		"house without a client", "lost", "found", "remainder", "house unpriced"} {
		if met[c] < 2 && books >= 300 {
			t.Errorf("%s: met %d times", c, met[c])
		}
	}
}

func holdStatements(t *testing.T, dir string, seed uint64, binary string, met map[string]int) (asked int, faults []string) {
	t.Helper()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	instants, err := writeRandomBook(dir, seed)
	if err != nil {
		t.Fatal(err)
	}
	f, err := readFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(seed, 9))
	month := fmt.Sprintf("2026-%02d", 6+r.IntN(6))
	text := instants[r.IntN(len(instants))]
	at, err := time.Parse(time.RFC3339Nano, text)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []question{{}, {month: month}, {from: month + "-10"}, {from: month + "-02", to: month + "-28"}, {to: month + "-15", asOf: &at, asOfText: text}} {
		l := liveLedgers(f, q.asOf)
		spools := buildSpools(f, l)
		var clients []string
		for _, row := range append(slices.Clone(l.live["consumption.csv"]), f["clients.csv"]...) {
			if client := row.get("client"); client != "" && !slices.Contains(clients, client) {
				clients = append(clients, client)
			}
		}
		r.Shuffle(len(clients), func(i, j int) { clients[i], clients[j] = clients[j], clients[i] })
		ask1 := func(args []string, reads []string, want object) {
			status := 0
			for _, file := range reads {
				if l.conflict[file] {
					status = 1
				}
			}
			if q.asOf != nil {
				args = append(args, "--as-of", q.asOfText)
			}
			for _, flag := range []struct{ name, value string }{{"--month", q.month}, {"--from", q.from}, {"--to", q.to}} {
				if flag.value != "" {
					args = append(args, flag.name, flag.value)
				}
			}
			got, gotStatus, stderr, err := ask(binary, dir, args)
			asked++
			where := fmt.Sprintf("tarebook --book %s --format json %q", dir, args)
			if err != nil {
				faults = append(faults, fmt.Sprintf("%s: %v, status %d, stderr %q", where, err, gotStatus, stderr))
				return
			}
			if gotStatus != status {
				faults = append(faults, fmt.Sprintf("%s: status %d, want %d", where, gotStatus, status))
			}
			for _, d := range compare("", got, want) {
				faults = append(faults, fmt.Sprintf("%s: %s", where, d))
			}
		}
		for _, client := range clients[:min(2, len(clients))] {
			want := statement(f, l, spools, showNames(f, l, statementReads), client, q, func(r *row) bool { return within(r, q) })
			meetStatement(want, met)
			ask1([]string{"statement", client}, statementReads, want)
		}
		want := house(f, l, spools, showNames(f, l, houseReads), q)
		meetHouse(want, met)
		if dries(spools) {
			for _, field := range []string{"spools", "totals", "water_g"} {
				want[field] = bench.then(want[field])
			}
		}
		ask1([]string{"statement", "--house"}, houseReads, want)
	}
	return asked, faults
}

// dries says whether some drying was not as the book had it: what of that is
// water is new since the bench step.
func dries(spools map[string]*spool) bool {
	for _, s := range spools {
		for _, w := range s.weighed {
			if state(w.row) == "dried" && w.measuredMG != nil && *w.measuredMG != w.bookMG {
				return true
			}
		}
	}
	return false
}

func meetStatement(s object, met map[string]int) {
	note := func(what string, is bool) {
		if is {
			met[what]++
		}
	}
	note("two rates", len(s["rates"].(records)) > 1)
	note("two currencies", len(s["totals"].(records)) > 1)
	note("not listed", s["listed"] == false)
	note("nothing", len(s["rows"].(unordered)) == 0)
	for _, r := range s["rows"].(unordered) {
		note("unpriced", r["cost"] == nil)
		note("in part unpriced", r["cost"] != nil && len(r["flags"].(flags)) > 0)
		note("failed alone", r["outcome"] == "failed")
		note("finished and failed", r["outcome"] == "finished and failed")
	}
}

func zero(mass any) bool {
	switch x := mass.(type) {
	case exact:
		return x.Sign() == 0
	case about:
		return x.Sign() == 0
	}
	return false
}

func meetHouse(h object, met map[string]int) {
	for _, r := range h["clients"].(records) {
		if r["client"] == "" {
			met["house without a client"]++
		}
	}
	for _, r := range h["spools"].(records) {
		for _, kind := range losses {
			if !zero(r[kind+"_g"]) {
				met[kind]++
			}
		}
		if r["cost"] == nil {
			met["house unpriced"]++
		}
	}
}
