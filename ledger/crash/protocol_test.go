package crash_test

import (
	"fmt"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"tarebook/ledger"
	"tarebook/ledger/crash"
)

// What a crash can do to the protocol of package ledger, on a book of few bytes. CRASH=whole makes more of the states.

func effort() crash.Effort {
	if os.Getenv("CRASH") == "whole" {
		return crash.Whole
	}
	return crash.Fine
}

func id(n int) string { return fmt.Sprintf("01ARZ3NDEKTSV4RRFFQ69%05d", n) }

// row is the row of moves.csv that moved records.
func row(n int, note string) string {
	return id(n) + ",2026-11-20T18:30:00+01:00,PLA-1,P1/2," + note + "\n"
}

// moved returns a command that records moves, with entries from n on.
func moved(n int, notes ...string) crash.Command {
	return func(dir string, disk ledger.Disk) error {
		at, err := ledger.ParseTime("2026-11-20T18:30:00+01:00")
		if err != nil {
			return err
		}
		var rows []ledger.Move
		for _, note := range notes {
			rows = append(rows, ledger.Move{Head: ledger.Head{At: at}, Spool: "PLA-1", Place: "P1/2", Note: note})
		}
		next := -1
		entry := func() string { next++; return id(n + next%len(notes)) } // the same where the command decides anew
		return (&ledger.Book{Dir: dir, Disk: disk}).Update(entry, func(*ledger.View) (ledger.Batch, error) {
			return ledger.NewBatch(rows), nil
		})
	}
}

func started(dir string, disk ledger.Disk) error {
	return (&ledger.Book{Dir: dir, Disk: disk}).Init(book(nil))
}

func looked(dir string, disk ledger.Disk) error {
	_, err := (&ledger.Book{Dir: dir, Disk: disk}).View(ledger.Time{})
	return err
}

// book returns the files of a book of one spool in which nobody has recorded, and more.
func book(more crash.Tree) crash.Tree {
	files := crash.Tree{
		ledger.SettingsFile: ledger.Header(ledger.SettingsFile) + "currency,EUR\n",
		ledger.Materials:    ledger.Header(ledger.Materials) + "PLA,1.24,,\n",
		ledger.Purchases:    ledger.Header(ledger.Purchases) + id(1) + ",2026-10-01T09:00:00+02:00,PLA-1,PLA,white,,,,1.75,1000,,180,20,,,,,\n",
	}
	maps.Copy(files, more)
	return files
}

// used returns the files of a book in which commands have recorded, and more.
func used(more crash.Tree) crash.Tree {
	files := book(crash.Tree{".tarebook/": "", ".tarebook/pending": ""})
	maps.Copy(files, more)
	return files
}

var (
	header = ledger.Header(ledger.Moves)
	moves  = crash.Tree{ledger.Moves: header + row(10, "")}
	two    = crash.Step{Run: moved(50, "a", "b")}
	// A person takes the last of the rows just recorded out again. A pending batch that came back would take what is left for torn.
	edited    = crash.Step{Edits: map[string]string{ledger.Moves: header + row(10, "") + row(50, "a")}}
	editedNew = crash.Step{Edits: map[string]string{ledger.Moves: header + row(50, "a")}}
	tidied    = crash.Step{Run: looked, Tidy: true}

	appends = crash.Scenario{Book: used(moves), Steps: []crash.Step{two, edited}}
	first   = crash.Scenario{Book: book(moves), Steps: []crash.Step{two, edited}}
	makes   = crash.Scenario{Book: used(nil), Steps: []crash.Step{two, editedNew}}
	starts  = crash.Scenario{Steps: []crash.Step{{Run: started}, two}}
)

func newChecker(t *testing.T, s crash.Scenario) *crash.Checker {
	t.Helper()
	dir, err := crash.Folder()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	s.Next = moved(90, "next")
	c, err := crash.New(s, dir)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// find returns the first operation that begins so.
func find(t *testing.T, c *crash.Checker, op string) int {
	t.Helper()
	i := slices.IndexFunc(c.History.Ops, func(o crash.Op) bool { return strings.HasPrefix(o.String(), op) })
	if i < 0 {
		t.Fatalf("no operation %q in %v", op, c.History.Ops)
	}
	return i
}

// tidies returns the scenario in which a command of s dies after so many bytes of its batch, and somebody looks at the book.
func tidies(t *testing.T, s crash.Scenario, bytes int) crash.Scenario {
	t.Helper()
	c := newChecker(t, s)
	return crash.Scenario{Book: c.Left(find(t, c, "write book/moves.csv"), bytes), Steps: []crash.Step{tidied, s.Steps[len(s.Steps)-1]}}
}

func TestProtocol(t *testing.T) {
	t.Parallel()
	scenarios := map[string]crash.Scenario{
		"append":                appends,
		"first in a book":       first,
		"new ledger":            makes,
		"new book":              starts,
		"last line not ended":   {Book: used(crash.Tree{ledger.Moves: strings.TrimSuffix(header+row(10, ""), "\n")}), Steps: []crash.Step{two, edited}},
		"a ledger without rows": {Book: used(crash.Tree{ledger.Moves: header}), Steps: []crash.Step{two}},
		"several commands":      {Book: book(nil), Steps: []crash.Step{two, {Run: moved(60, "c")}, edited, {Run: moved(70, "d")}}},
		"tidy nothing":          tidies(t, appends, 0),
		"tidy a torn batch":     tidies(t, appends, 40),
		"tidy a torn ledger":    tidies(t, makes, 40),
		"tidy an empty ledger":  tidies(t, makes, 0),
		"a whole batch to tidy": tidies(t, appends, len(row(50, "a")+row(51, "b"))),
	}
	var all sync.Mutex
	var total crash.Result
	t.Run("in", func(t *testing.T) {
		for name, s := range scenarios {
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				r, err := newChecker(t, s).Check(effort())
				if err != nil {
					t.Fatal(err)
				}
				for _, v := range r.Violations {
					t.Error(v)
				}
				t.Logf("%d states, %d distinct", r.States, r.Distinct)
				all.Lock()
				defer all.Unlock()
				total.Add(r)
			})
		}
	})
	t.Logf("crash: %d scenarios, %d states, %d distinct, %d violations", len(scenarios), total.States, total.Distinct, len(total.Violations))
}

// A sync that fails may drop what it was to write, and let it read as if it were on disk. Whatever sync fails: a command
// that says that it could not record has recorded nothing, and what somebody saw afterwards outlives a loss of power.
func TestFailedSyncs(t *testing.T) {
	t.Parallel()
	failed := 0
	for name, s := range map[string]crash.Scenario{"append": appends, "first in a book": first, "new ledger": makes, "new book": starts} {
		s.Steps = s.Steps[:1]
		c := newChecker(t, s)
		for n := 1; ; n++ {
			ended := false
			for _, how := range [][2]bool{{true, false}, {false, false}, {true, true}, {false, true}} {
				h, err := c.FailSync(n, how[0], how[1])
				if err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				if ended = h == nil; ended {
					break
				}
				r, err := c.LosePower(h, crash.Coarse)
				if err != nil {
					t.Fatal(err)
				}
				for _, v := range r.Violations {
					t.Errorf("%s: %s", name, v)
				}
				failed++
			}
			if ended {
				break
			}
		}
	}
	if failed < 20 {
		t.Errorf("only %d syncs failed", failed)
	}
	t.Logf("crash: %d failed syncs", failed)
}

// synced is a sync in a log: what is synced, where the protocol asks for it, and whether a crash without it breaks a promise.
type synced struct {
	op, by string
	needed bool
}

// The places in which the protocol syncs. Each is needed in some course of things, or it would be a sync too many.
const (
	line, lineName, ownName = "pending line", "name of pending", "name of .tarebook"
	rows, rowsName          = "batch", "name of a new ledger"
	noted, notedName        = "what was recorded last", "name of what was recorded last"
	cleared                 = "pending emptied"
	keptBytes, keptName     = "torn bytes", "name of torn bytes"
	cut, cutName            = "torn bytes cut off", "torn ledger removed"
	whole, wholeName        = "whole batch", "name of a whole ledger"
	bookName                = "name of the book"
)

// Each sync of the protocol is left out in turn, and the states are made that a crash may then leave.
func TestEachSync(t *testing.T) {
	t.Parallel()
	const needed, idle = true, false
	pending := func(lineName, ownName bool) []synced {
		return []synced{
			{"sync .tarebook/pending", line, needed}, // else half a batch could be there of which nothing is known
			{"syncdir .tarebook", "name of pending", lineName},
			{"syncdir .", "name of .tarebook", ownName},
		}
	}
	// Who records next makes up for it where pending was not durably emptied, but a person's edit does not.
	empty := func(edited bool) synced { return synced{"sync .tarebook/pending", cleared, edited} }
	last := []synced{{"sync .tarebook/last-new", noted, needed}, {"syncdir .tarebook", notedName, needed}}
	appended := slices.Concat(pending(idle, idle), []synced{{"sync moves.csv", rows, needed}}, last, []synced{empty(idle)})
	file := func(name string, first, last bool) []synced {
		// The name of a file is also synced with that of .tarebook for the file after it.
		return slices.Concat(pending(first, first), []synced{{"sync " + name, rows, needed}, {"syncdir .", rowsName, last}, empty(idle)})
	}
	torn := []synced{
		{"sync .tarebook/torn-moves.csv", keptBytes, needed},
		{"syncdir .tarebook", keptName, needed},
	}
	places, tried := map[string]bool{}, 0
	for _, c := range []struct {
		name     string
		scenario crash.Scenario
		died     string // here a process dies; then somebody looks, and the next command records
		want     [][]synced
	}{
		{"append, then an edit", appends, "", [][]synced{
			pending(idle, idle), {{"sync moves.csv", rows, needed}}, last, {empty(needed)},
		}},
		{"first in a book, then an edit", first, "", [][]synced{
			pending(needed, needed), {{"sync moves.csv", rows, needed}}, last, {empty(needed)},
		}},
		{"new ledger, then an edit", makes, "", [][]synced{
			pending(idle, idle), {{"sync moves.csv", rows, needed}, {"syncdir .", rowsName, needed}}, last, {empty(needed)},
		}},
		{"new book", starts, "", [][]synced{
			{{"syncdir ..", bookName, needed}},
			file("materials.csv", needed, idle), file("purchases.csv", idle, idle), file("settings.csv", idle, needed),
			pending(idle, idle), {{"sync moves.csv", rows, needed}, {"syncdir .", rowsName, needed}}, last, {empty(idle)},
		}},
		{"new book, died before its name was durable", starts, "syncdir .", [][]synced{
			{{"syncdir ..", bookName, needed}},
			file("materials.csv", needed, idle), file("purchases.csv", idle, idle), file("settings.csv", idle, needed),
		}},
		{"first in a book, died before names were durable", first, "syncdir book/.tarebook", [][]synced{
			{{"sync moves.csv", cut, idle}, empty(idle)}, // nothing was cut off
			pending(needed, needed), {{"sync moves.csv", rows, needed}}, last, {empty(idle)},
		}},
		{"append, died with all written", appends, "sync book/moves.csv", [][]synced{
			{{"sync moves.csv", whole, needed}, {"syncdir .", wholeName, idle}}, last, {empty(idle)}, // it was seen
			appended,
		}},
		{"new ledger, died with all written", makes, "sync book/moves.csv", [][]synced{
			{{"sync moves.csv", whole, needed}, {"syncdir .", wholeName, needed}}, last, {empty(idle)},
			appended,
		}},
		{"torn batch tidied up, then an edit", tidies(t, appends, 40), "", [][]synced{
			torn, {{"sync moves.csv", cut, needed}, empty(needed)},
		}},
		{"torn ledger tidied up, then an edit", tidies(t, makes, 40), "", [][]synced{
			torn, {{"syncdir .", cutName, needed}, empty(needed)},
		}},
		{"torn batch, died with it cut off", tidies(t, appends, 40), "sync book/moves.csv", [][]synced{
			{{"sync moves.csv", cut, needed}, empty(idle)},
			appended,
		}},
	} {
		checker := newChecker(t, c.scenario)
		h := checker.History
		if c.died != "" {
			var err error
			if h, err = checker.Kill(find(t, checker, c.died), 0, true); err != nil {
				t.Errorf("%s: %v", c.name, err)
				continue
			}
		}
		want := slices.Concat(c.want...)
		for n, i := range h.Syncs() {
			if n >= len(want) {
				t.Errorf("%s: %s is not in the table", c.name, h.Ops[i])
				continue
			}
			r, err := checker.LosePower(h.Without(i), crash.Coarse)
			if err != nil {
				t.Fatal(err)
			}
			w := want[n]
			if got := (synced{short(h.Ops[i]), w.by, len(r.Violations) > 0}); got != w {
				t.Errorf("%s: sync %d: got %v, want %v", c.name, n+1, got, w)
			}
			places[w.by] = places[w.by] || w.needed
		}
		if got := len(h.Syncs()); got < len(want) {
			t.Errorf("%s: %d syncs, want %d", c.name, got, len(want))
		}
		tried += len(h.Syncs())
	}
	for _, place := range []string{line, lineName, ownName, rows, rowsName, cleared, keptBytes, keptName, cut, cutName, whole, wholeName, noted, notedName, bookName} {
		if !places[place] {
			t.Errorf("nothing is lost without the sync of the %s", place)
		}
	}
	t.Logf("crash: %d syncs left out, of %d places", tried, len(places))
}

var hash = regexp.MustCompile(`-[0-9]+-[0-9a-f]{8}$`)

// short returns an operation with its name relative to the book.
func short(op crash.Op) string {
	kind, name, _ := strings.Cut(op.String(), " ")
	switch name {
	case ".":
		name = ".."
	case "book":
		name = "."
	}
	return kind + " " + hash.ReplaceAllString(strings.TrimPrefix(name, "book/"), "")
}
