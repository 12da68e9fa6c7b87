package hands

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// marks of one entry in each ledger, which both benches edit by hand.
var edited = map[string]string{
	purchases: "bought-note", weighins: "weighed-note", consumption: "consumed-note", queue: "queued-note", moves: "moved-note", voids: "cancelled-why",
}

// mergeApart makes a shelf with an entry in each ledger, lets two benches do something to it apart, and merges them.
func mergeApart(t *testing.T, p *program, apart func(book, bench string)) (book string) {
	t.Helper()
	root := t.TempDir()
	origin, base := newShelf(t, p, root)
	must := func(args ...string) { t.Helper(); p.must(t, slices.Concat([]string{"--book", base}, args)...) }
	buy := []string{"--material", "PLA", "--colour", "ash", "--net", "1kg", "--core", "card 1 kg", "--price", "21.50"}
	must(slices.Concat([]string{"buy", "PLA", "--count", "4"}, buy)...)
	must(slices.Concat([]string{"buy", "LONE-1", "--note", edited[purchases]}, buy)...) // no other row names it
	must("weigh", "PLA-001", "1175", "--note", "first")
	must("weigh", "PLA-001", "1170", "--note", edited[weighins])
	must("consume", "lantern", "PLA-002:30", "--client", "pellam", "--note", edited[consumption])
	must("queue", "add", "town-gate", "0=PLA-003:30", "--client", "pellam", "--note", edited[queue])
	must("move", "PLA-003", "TWIN/0", "--note", edited[moves])
	must("move", "PLA-004", "rack 2", "--note", "moved in error")
	must("void", "--last", "--why", edited[voids])
	commit(t, origin, "the shelf as both benches know it")
	repositories := [2]string{}
	for i, bench := range []string{"a", "b"} {
		repositories[i], book = clone(t, root, origin, bench)
		apart(book, bench)
		commit(t, repositories[i], "what was done apart")
	}
	pull(t, repositories[0], repositories[1], "--no-rebase", "--no-edit")
	return filepath.Join(repositories[0], "shelf")
}

// editNote changes one entry by hand.
func editNote(t *testing.T, book, file, mark, bench string) {
	t.Helper()
	path := filepath.Join(book, file)
	text, err := os.ReadFile(path)
	if err != nil || strings.Count(string(text), mark) != 1 {
		t.Fatalf("%s stands %d times in %s: %v", mark, strings.Count(string(text), mark), file, err)
	}
	if err := os.WriteFile(path, []byte(strings.Replace(string(text), mark, mark+" edited at "+bench, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
}

var (
	onLines = regexp.MustCompile(`on lines ([0-9]+) and ([0-9]+)`)
	advice  = regexp.MustCompile(`tarebook (void --only [0-9A-HJKMNP-TV-Z]{26}) --why REASON`)
)

// conflicts requires verify to name, of each of these marks, both rows and the command that settles it, and returns
// those commands.
func conflicts(t *testing.T, p *program, book string, marks map[string]string) (settling [][]string) {
	t.Helper()
	var v verified
	o, err := p.asked(book, &v, "verify")
	if err != nil {
		t.Fatal(err)
	}
	if o.status != 1 || len(v.Problems) != len(marks) {
		t.Errorf("status %d and %d problems, want 1 and %d: %v", o.status, len(v.Problems), len(marks), v.Problems)
	}
	table := p.run("--book", book, "verify")
	if table.failed(1) != nil {
		t.Error(table.failed(1))
	}
	for _, pr := range v.Problems {
		mark, ok := marks[pr.File]
		if !ok {
			t.Errorf("a problem that nobody made: %v", pr)
			continue
		}
		delete(marks, pr.File)
		numbers, command := onLines.FindStringSubmatch(pr.What), advice.FindStringSubmatch(pr.What)
		if numbers == nil || command == nil {
			t.Errorf("want both lines and how to settle it: %v", pr)
			continue
		}
		if !strings.Contains(table.stdout, fmt.Sprintf("%s:%d: %s\n", pr.File, pr.Line, pr.What)) || strconv.Itoa(pr.Line) != numbers[1] {
			t.Errorf("want %s:%s and its text on one line of the table: %s", pr.File, numbers[1], table.stdout)
		}
		all := lines(t, book, pr.File)
		for _, number := range numbers[1:] {
			if n, _ := strconv.Atoi(number); n > len(all) || !strings.Contains(all[n-1], mark) {
				t.Errorf("line %s of %s is not one of the two: %v", number, pr.File, pr)
			}
		}
		settling = append(settling, strings.Fields(command[1]))
	}
	if len(marks) > 0 {
		t.Errorf("verify says nothing of %v in %v", marks, v.Problems)
	}
	return settling
}

// settle does what verify advises, after which nothing is left.
func settle(t *testing.T, p *program, book string, settling [][]string) {
	t.Helper()
	for _, command := range settling {
		if err := p.run(slices.Concat([]string{"--book", book}, command, []string{"--why", "settled"})...).failed(0); err != nil {
			t.Errorf("as verify advises: %v", err)
		}
	}
	p.sound(t, book)
	for _, look := range lookCommands {
		look = slices.DeleteFunc(slices.Clone(look), func(word string) bool { return word == "W-001" })
		if look[0] == "card" {
			look = append(look, "PLA-001")
		}
		if o := p.run(slices.Concat([]string{"--book", book}, look)...); o.failed(0) != nil || o.stderr != "" {
			t.Errorf("all is settled: %s", o)
		}
	}
}

// TestConflict merges what does not agree: git does it alone, verify tells what to do, and doing so settles it.
func TestConflict(t *testing.T) {
	p := theProgram(t)
	settled := 0
	t.Run("one spool bought twice", func(t *testing.T) {
		book := mergeApart(t, p, func(book, bench string) {
			colour := map[string]string{"a": "brick", "b": "moss"}[bench]
			p.must(t, "--book", book, "buy", "TWICE-1", "--material", "PLA", "--colour", colour, "--net", "1kg", "--core", "card 1 kg")
			p.must(t, "--book", book, "weigh", "TWICE-1", "1178", "--note", "at "+bench)
		})
		commands := conflicts(t, p, book, map[string]string{purchases: "TWICE-1"})
		o := p.run("--book", book, "stock", "--format", "json")
		if o.failed(1) != nil || !strings.Contains(o.stdout, "brick") || strings.Contains(o.stdout, "moss") || !strings.Contains(o.stdout, `"conflict"`) {
			t.Errorf("want the earlier to count, flagged: %s", o)
		}
		if !onLines.MatchString(o.stderr) || !advice.MatchString(o.stderr) {
			t.Errorf("want the conflict on stderr: %s", o)
		}
		settle(t, p, book, commands)
		settled += len(commands)
	})
	t.Run("entries edited apart", func(t *testing.T) {
		book := mergeApart(t, p, func(book, bench string) {
			for file, mark := range edited {
				editNote(t, book, file, mark, bench)
			}
		})
		marks := map[string]string{}
		for file, mark := range edited {
			marks[file] = mark
		}
		commands := conflicts(t, p, book, marks)
		if o := p.run("--book", book, "stock"); o.failed(1) != nil || !onLines.MatchString(o.stderr) || !advice.MatchString(o.stderr) {
			t.Errorf("want status 1 and the conflict on stderr: %s", o)
		}
		p.must(t, "--book", book, "weigh", "PLA-004", "1177") // recording goes on
		settle(t, p, book, commands)
		settled += len(commands)
		for _, again := range [][]string{{"weigh", "PLA-001", "1169"}, {"consume", "lantern", "PLA-002:30", "--client", "pellam"}, {"queue", "add", "town-gate", "0=PLA-003:30"}, {"move", "PLA-003", "TWIN/0"}} {
			if err := p.run(slices.Concat([]string{"--book", book}, again)...).failed(0); err != nil {
				t.Errorf("record the right one again: %v", err)
			}
		}
		p.sound(t, book)
	})
	t.Run("purchase of a spool in use edited apart", func(t *testing.T) {
		book := mergeApart(t, p, func(book, bench string) {
			p.must(t, "--book", book, "move", "LONE-1", "rack 5", "--note", "at "+bench)
			editNote(t, book, purchases, edited[purchases], bench)
		})
		// The moves of a spool without a purchase that counts are problems too.
		var v verified
		if _, err := p.asked(book, &v, "verify"); err != nil {
			t.Fatal(err)
		}
		var command []string
		for _, pr := range v.Problems {
			if found := advice.FindStringSubmatch(pr.What); found != nil && pr.File == purchases {
				command = strings.Fields(found[1])
			}
		}
		if command == nil {
			t.Fatalf("no advice in %v", v.Problems)
		}
		if err := p.run(slices.Concat([]string{"--book", book}, command, []string{"--why", "settled"})...).failed(0); err != nil {
			t.Errorf("as verify advises: %v", err)
		}
		if err := p.run("--book", book, "buy", "LONE-1", "--material", "PLA", "--colour", "ash", "--net", "1kg").failed(0); err != nil {
			t.Errorf("record the right one again: %v", err)
		}
		p.sound(t, book)
		if !t.Failed() {
			settled++
		}
	})
	t.Logf("%d conflicts settled as verify advises", settled)
}
