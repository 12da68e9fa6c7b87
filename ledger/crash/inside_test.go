package crash_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tarebook/ledger"
	"tarebook/ledger/crash"
)

// What others do to a ledger while a command records in it: before each call that the command makes to the disk, an append
// as by a shell, a save by rename as by an editor, a save in place, or the removal of the file.

const foreign = "01ARZ3NDEKTSV4RRFFQ6977777,2026-11-20T18:30:00+01:00,PLA-1,by hand,\n"

var mine = row(50, "a") + row(51, "b")

type act struct {
	name string
	do   func(o *crash.OtherHands) error
	lose bool // what others save is older than the rows of the command, which may go with it
	cut  bool // a loss of power may harm what others write
}

func read(o *crash.OtherHands) (string, error) {
	text, err := os.ReadFile(o.Path)
	return string(text), err
}

var acts = []act{
	{"append", func(o *crash.OtherHands) error { return o.Append(foreign) }, false, false},
	{"save", func(o *crash.OtherHands) error {
		text, err := read(o)
		if err != nil {
			return err
		}
		return o.Save(text + foreign)
	}, false, false},
	{"save what was read before", func(o *crash.OtherHands) error { return o.Save(header + row(10, "") + foreign) }, true, false},
	{"save in place", func(o *crash.OtherHands) error {
		return os.WriteFile(o.Path, []byte(header+row(10, "")+foreign), 0o666)
	}, true, true},
	{"remove", func(o *crash.OtherHands) error { return os.Remove(o.Path) }, true, true},
}

// wrong returns what is wrong with the lines of moves.csv: one that nobody wrote so, or half of the command's rows.
func wrong(text string, ours bool) string {
	known := map[string]bool{header: true, row(10, ""): true, foreign: true, row(50, "a"): true, row(51, "b"): true, row(90, "next"): true, "\n": true}
	for line := range strings.Lines(text) {
		theirs := strings.TrimRight(line, "\x00\n") // cut short by a loss of power
		if !known[line] && !strings.HasPrefix(foreign, theirs) {
			return "a line that nobody wrote: " + line
		}
	}
	switch n := strings.Count(text, row(50, "a")) + strings.Count(text, row(51, "b")); {
	case n != 0 && !strings.Contains(text, mine):
		return "half a batch"
	case n > 2:
		return "a batch twice"
	case ours && n == 0:
		return "the batch was acknowledged and is not there"
	}
	return ""
}

func TestOtherHands(t *testing.T) {
	t.Parallel()
	root, err := crash.Folder()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(root) })
	tried, states, refused, missed := 0, 0, 0, 0
	for _, a := range acts {
		for call := 1; ; call++ {
			r, err := inside(t, root, a, call)
			if r.Calls() < call {
				break // the command was over
			}
			tried++
			dir := filepath.Join(root, "book")
			text, _ := os.ReadFile(filepath.Join(dir, ledger.Moves))
			doubt := errors.Is(err, ledger.ErrInDoubt)
			where := fmt.Sprintf("%s before call %d", a.name, call)
			if err != nil {
				refused++
			}
			if !a.cut && !strings.Contains(string(text), foreign) {
				t.Errorf("%s: what others wrote is lost", where)
			}
			there := strings.Contains(string(text), mine)
			if what := wrong(string(text), false); what != "" && !doubt {
				t.Errorf("%s: %s (%v)", where, what, err)
			}
			switch {
			case err == nil && !there && a.lose: // they saved it away after it was acknowledged, or nearly so
				if next := said(t, root); !strings.Contains(next, "no longer in it") {
					t.Errorf("%s: the batch is gone, and the next command says %q", where, next)
				}
				missed++
			case err == nil && !there:
				t.Errorf("%s: acknowledged, and not there", where)
			case err != nil && !doubt && there:
				t.Errorf("%s: it is there, though %v", where, err)
			}
			if a.cut {
				continue
			}
			states += powerLost(t, root, where, r.Ops(), err == nil && !a.lose)
		}
	}
	if refused == 0 || missed == 0 || states < 1000 {
		t.Errorf("%d refused, %d missed, %d states: this shows little", refused, missed, states)
	}
	t.Logf("crash: others at work inside a command, %d times; %d states", tried, states)
}

// inside records two rows in a fresh book; before one of the calls to the disk others act on moves.csv.
func inside(t *testing.T, root string, a act, call int) (*crash.Recorder, error) {
	t.Helper()
	dir := filepath.Join(root, "book")
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	lay(t, root, crashTree(used(moves)))
	r := crash.NewRecorder(root)
	r.Before(func(n int) error {
		if n != call {
			return nil
		}
		if err := a.do(r.OtherHands(dir, ledger.Moves)); err != nil {
			t.Errorf("%s: %v", a.name, err)
		}
		return nil
	})
	return r, two.Run(dir, r)
}

// said returns what the next command that records tells.
func said(t *testing.T, root string) string {
	t.Helper()
	var told []string
	b := &ledger.Book{Dir: filepath.Join(root, "book"), Disk: crash.NewRecorder(root), Tell: func(text string) { told = append(told, text) }}
	if err := b.Update(nil, func(*ledger.View) (ledger.Batch, error) { return nil, nil }); err != nil {
		told = append(told, err.Error())
	}
	return strings.Join(told, "\n")
}

// powerLost loses power after each operation and looks at the book in every state that this may leave.
func powerLost(t *testing.T, root, where string, ops []crash.Op, acknowledged bool) (states int) {
	t.Helper()
	m := crash.NewMachine(crashTree(used(moves)))
	seen := map[string]bool{}
	for done := 0; done <= len(ops); done++ {
		if done > 0 {
			m.Do(ops[done-1])
		}
		for s := range m.States(crash.Coarse) {
			tree := s.Tree()
			key := tree["book/moves.csv"] + "\x00" + tree["book/.tarebook/pending"]
			if seen[key] && done < len(ops) {
				continue
			}
			seen[key] = true
			states++
			other, err := crash.Folder()
			if err != nil {
				t.Fatal(err)
			}
			lay(t, other, tree)
			dir := filepath.Join(other, "book")
			told := ""
			b := &ledger.Book{Dir: dir, Disk: crash.NewRecorder(other), Tell: func(text string) { told += text }}
			_, err = b.View(ledger.Time{})
			text, _ := os.ReadFile(filepath.Join(dir, ledger.Moves))
			if err != nil {
				t.Errorf("%s, power lost after %d operations: %v", where, done, err)
			} else if what := wrong(string(text), acknowledged && done == len(ops)); what != "" && !strings.Contains(told, "other hands") {
				t.Errorf("%s, power lost after %d operations %v: %s; told %q; was %q", where, done, ops[:done], what, told, tree["book/moves.csv"])
			}
			if err := os.RemoveAll(other); err != nil {
				t.Fatal(err)
			}
		}
	}
	return states
}

// crashTree returns the files of a book as they stand under the root.
func crashTree(t crash.Tree) crash.Tree {
	all := crash.Tree{"book/": ""}
	for name, text := range t {
		all["book/"+name] = text
	}
	return all
}

// lay makes the files of a tree.
func lay(t *testing.T, root string, tree crash.Tree) {
	t.Helper()
	for name, text := range tree {
		path := filepath.Join(root, filepath.FromSlash(name))
		if strings.HasSuffix(name, "/") {
			if err := os.MkdirAll(path, 0o777); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o777), os.WriteFile(path, []byte(text), 0o666)); err != nil {
			t.Fatal(err)
		}
	}
}
