package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/gofrs/flock"
)

// A lock that is held too long: who holds it is named, and nothing is recorded.
func TestWait(t *testing.T) {
	t.Parallel()
	dir := demo(t)
	if status, _, stderr := inside(t, dir, start, "move", "PLA-02", "drawer"); status != 0 {
		t.Fatal(stderr)
	}
	before, err := os.ReadFile(filepath.Join(dir, "moves.csv"))
	if err != nil {
		t.Fatal(err)
	}
	lock := flock.New(filepath.Join(dir, ".tarebook", "lock"))
	if ok, err := lock.TryLock(); !ok || err != nil {
		t.Fatal(ok, err)
	}
	defer lock.Unlock()
	if err := os.WriteFile(filepath.Join(dir, ".tarebook", "lock"), []byte("\n4711                \n"), 0o666); err != nil {
		t.Fatal(err)
	}
	locked := "tarebook: the book is locked: others have recorded in " + dir + " for all of the 20ms that this command waited, now process 4711; "
	if status, stdout, stderr := inside(t, dir, start, "move", "PLA-02", "shelf", "--wait", "20ms"); status != 2 || stdout != "" || !strings.HasPrefix(stderr, locked) {
		t.Errorf("move: status %d, %q, %q", status, stdout, stderr)
	}
	for _, args := range [][]string{{"--wait=20ms", "stock"}, {"--wait", "20ms", "stock"}} { // who looks need not wait for ever
		if status, stdout, stderr := inside(t, dir, start, args...); status != 0 || !strings.Contains(stdout, "PLA-02") || !strings.HasPrefix(stderr, locked) || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%v: status %d, %q, %q", args, status, stdout, stderr)
		}
	}
	if after, err := os.ReadFile(filepath.Join(dir, "moves.csv")); err != nil || string(after) != string(before) {
		t.Errorf("moves.csv is now %q, %v", after, err)
	}
	for text, want := range map[string]time.Duration{"5": 5 * time.Second, "0.5": time.Second / 2, "2m": 2 * time.Minute, "20ms": 20 * time.Millisecond} {
		var got wait
		if err := got.UnmarshalText([]byte(text)); err != nil || time.Duration(got) != want {
			t.Errorf("--wait %s: got %v, %v", text, time.Duration(got), err)
		}
	}
	for _, wait := range []string{"0s", "0", "-1s", "-5", "soon", ""} {
		if status, _, stderr := inside(t, dir, start, "stock", "--wait="+wait); status != 2 || strings.Count(stderr, "\n") != 1 {
			t.Errorf("--wait %s: status %d, %q", wait, status, stderr)
		}
	}
}
