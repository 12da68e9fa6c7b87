package main

import (
	"bytes"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"tarebook/ledger"
	"tarebook/ledger/crash"
	"tarebook/samples"
)

// typed returns a command line as a command that a crash can meet.
func typed(now string, args ...string) crash.Command {
	return func(dir string, disk ledger.Disk) error {
		var out, errs bytes.Buffer
		status := run(append(args, "--book", dir), environment{
			stdin: strings.NewReader(""), stdout: &out, stderr: &errs,
			getenv:  func(string) string { return "" },
			now:     func() time.Time { return at(now) },
			entropy: counting(0), disk: disk, dir: dir,
		})
		if status != 0 {
			return errors.New(strings.TrimSpace(errs.String()))
		}
		return nil
	}
}

// Every recording command, and at each moment of it the loss of power and the death of the process: what was acknowledged
// is there, and what was going on is there whole or not at all. CRASH=whole makes more of the states.
func TestCrash(t *testing.T) {
	t.Parallel()
	const now, later = samples.DemoAsOf, "2026-11-09T10:00:00+01:00"
	effort := crash.Fine
	if os.Getenv("CRASH") == "whole" {
		effort = crash.Whole
	}
	fresh, err := crash.ReadTree(demo(t))
	if err != nil {
		t.Fatal(err)
	}
	used := maps.Clone(fresh) // commands have recorded in it
	used[".tarebook/"], used[".tarebook/pending"] = "", ""
	moves := typed(later, "move", "PLA-12", "shelf C")
	sheet := filepath.Join(t.TempDir(), "sheet.csv")
	if err := os.WriteFile(sheet, []byte("Spool;Day;Gross\nPLA-12;08.11.2026;1148,5\nPLA-11;08.11.2026;1065,5\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	type line struct {
		line string
		book crash.Tree
		next crash.Command // what is typed after a process that died
	}
	lines := []line{
		{"buy PLA --count 50 --material PLA --net 1000", used, moves}, // longer than a page; the longest comes first
		{"init", nil, typed(later, "queue", "add", "crates", "0=PLA/:20")},
		{"buy PLA --count 3 --material PLA --net 1000 --total 65", fresh, moves},
		{"buy PLA-99 --off PLA-12 --net 250", used, moves},
		{"weigh PLA-12 1180 PLA-11 1095", used, moves},
		{"weigh PLA-05 --empty", used, moves},
		{"consume crates PLA-12:part=20,purge=3 PLA-11:20 PLA-09:12.5 PLA-07:8", used, moves},
		{"consume lantern-panes", used, moves},
		{"queue add crates 0=PLA-12:20 1=PETG/:10", used, moves},
		{"queue drop bellows", used, moves},
		{"move PLA-12 WINDOW/3", used, moves},
		{"void 01M6GF6JG41Q8ZJA0Y2X5YPC94", used, moves},
		{"seal --through 2026-07-31", used, moves},
		{"statement pellam --month 2026-10 --issue", used, moves},
		{"define client otter name=Otter", used, moves},
		{"import " + sheet + " --as weighins --map spool=Spool,at=Day,gross_g=Gross", used, moves},
	}
	for _, c := range commands {
		_, _, cmd := c.make()
		records := c.name == "init" || reflect.ValueOf(cmd).Elem().FieldByName("DryRun").IsValid()
		if records && !slices.ContainsFunc(lines, func(l line) bool { return strings.HasPrefix(l.line+" ", c.name+" ") }) {
			t.Errorf("%s records, and no crash meets it", c.name)
		}
	}
	var total crash.Result
	var adding sync.Mutex
	t.Run("in", func(t *testing.T) {
		for _, c := range lines {
			t.Run(c.line, func(t *testing.T) {
				t.Parallel()
				dir, err := crash.Folder()
				if err != nil {
					t.Fatal(err)
				}
				t.Cleanup(func() {
					if err := os.RemoveAll(dir); err != nil {
						t.Error(err)
					}
				})
				steps := []crash.Step{{Run: typed(now, strings.Fields(c.line)...)}}
				checker, err := crash.New(crash.Scenario{Book: c.book, Steps: steps, Next: c.next}, dir)
				if err != nil {
					t.Fatal(err)
				}
				r, err := checker.Check(effort)
				if err != nil {
					t.Fatal(err)
				}
				for _, v := range r.Violations {
					t.Error(v)
				}
				t.Logf("%d states, %d distinct", r.States, r.Distinct)
				adding.Lock()
				defer adding.Unlock()
				total.Add(r)
			})
		}
	})
	t.Logf("crash: %d commands, %d states, %d distinct, %d violations", len(lines), total.States, total.Distinct, len(total.Violations))
}
