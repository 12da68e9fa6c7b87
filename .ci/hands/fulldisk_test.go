package hands

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// The program cannot write all that it wants to: no room is left on the disk, or a file may not grow beyond a limit.

// TestFullDisk fills a small disk, and limits the length of files, so that recordings fail after some of their bytes.
func TestFullDisk(t *testing.T) {
	t.Run("disk", func(t *testing.T) {
		dir, err := smallDisk(t, 512<<10)
		if err != nil {
			t.Logf("no small disk can be had (%v); a limit on the length of files stands in for it", err)
			limited(t)
			return
		}
		t.Log("on a small disk of its own")
		filled(t, dir)
	})
	t.Run("limit", limited)
}

// shortage is a way to leave the program too little room.
type shortage struct {
	program *program
	leave   func(file string, units int) // lets the disk, or this file, take so much more
	release func()
}

// filled records on a small disk of which a ballast leaves so many pages free.
func filled(t *testing.T, dir string) {
	page := os.Getpagesize()
	ballast := filepath.Join(dir, "ballast")
	s := &shortage{program: theProgram(t)}
	s.leave = func(_ string, pages int) {
		f, err := os.Create(ballast)
		if err != nil {
			t.Fatal(err)
		}
		size, block := 0, make([]byte, page)
		for err == nil {
			if _, err = f.Write(block); err == nil {
				size += page
			}
		}
		if !errors.Is(err, syscall.ENOSPC) {
			t.Fatal(err)
		}
		if err := errors.Join(f.Truncate(int64(size-pages*page)), f.Close()); err != nil {
			t.Fatal(err)
		}
	}
	s.release = func() {
		if err := os.Remove(ballast); err != nil {
			t.Fatal(err)
		}
	}
	s.hold(t, dir)
}

// limited records under a limit on the length of any file, some blocks above that of the ledger.
func limited(t *testing.T) {
	p := theProgram(t)
	s := &shortage{program: p}
	s.leave = func(file string, blocks int) {
		if info, err := os.Stat(file); err == nil {
			blocks += int(info.Size()+511) / 512
		}
		// sh counts in blocks of 512 bytes (POSIX).
		p.wrap = []string{"sh", "-c", `ulimit -f "$0" && exec "$@"`, strconv.Itoa(blocks)}
	}
	s.release = func() { p.wrap = nil }
	s.hold(t, t.TempDir())
}

// recording is a command and the ledger that it appends to.
type recording struct {
	file string
	args []string
}

// hold records ever larger batches, and every kind of row, with more and more room left.
func (s *shortage) hold(t *testing.T, dir string) {
	t.Helper()
	p := s.program
	origin := filepath.Join(t.TempDir(), "origin")
	newBook(t, p, origin, 40)
	for i := range 8 {
		p.must(t, "--book", origin, "consume", fmt.Sprintf("earlier-%d", i), "C-001:0.5", "C-002:0.5", "--client", "pellam")
	}
	p.must(t, "--book", origin, "weigh", "W-040", "640", "--note", "to be cancelled")
	earlier, bad := readRows(filepath.Join(origin, weighins))
	if len(bad) > 0 || len(earlier) != 1 {
		t.Fatal(earlier, bad)
	}

	failed, recorded := 0, 0
	for _, begun := range []bool{true, false} { // false: nobody has recorded in this copy of the book yet
		for _, room := range []int{0, 1, 2, 3, 4, 6, 10} {
			book := filepath.Join(dir, fmt.Sprintf("book-%v-%d", begun, room))
			copyBook(t, origin, book)
			if begun {
				p.must(t, "--book", book, "move", "W-001", "rack 1", "--note", "begun")
			}
			var refused []string // the last command that was
			for _, r := range longBatches(earlier[0]["entry"]) {
				s.leave(filepath.Join(book, r.file), room)
				ok := s.record(t, book, r)
				s.release()
				if ok {
					recorded++
				} else {
					failed++
					refused = r.args
				}
			}
			if refused == nil && room == 0 {
				t.Errorf("with no room left every command was recorded")
			}
			if refused != nil {
				if err := p.run(slices.Concat([]string{"--book", book}, refused)...).failed(0); err != nil {
					t.Errorf("there is room again: %v", err)
				}
			}
			p.sound(t, book)
			if err := os.RemoveAll(book); err != nil {
				t.Fatal(err)
			}
		}
	}
	if failed < 30 || recorded < 30 {
		t.Errorf("%d recordings failed and %d did not, so this shows little", failed, recorded)
	}
	s.begin(t, dir)
	t.Logf("%d recordings failed for want of room, %d were recorded", failed, recorded)
}

// begin starts a book where there is no room for it: it is none, and is a whole one once there is room.
func (s *shortage) begin(t *testing.T, dir string) {
	t.Helper()
	p, fresh, wanted := s.program, filepath.Join(dir, "fresh"), filepath.Join(t.TempDir(), "wanted")
	p.must(t, "init", wanted)
	for room := range 2 {
		s.leave("", room)
		if err := p.run("init", fresh).refused(); err != nil {
			t.Errorf("init with no room left: %v", err)
		}
		if err := p.run("--book", fresh, "stock").refused(); err != nil {
			t.Errorf("half a book answers: %v", err)
		}
		s.release()
	}
	p.must(t, "init", fresh)
	if c := changed(contents(t, wanted), contents(t, fresh)); c != nil {
		t.Errorf("begun again with room, the book is not as any new one: %v", c)
	}
	p.sound(t, fresh)
}

// longBatches are batches of more and more rows, and each kind of row, with notes that make them long.
func longBatches(earlier string) []recording {
	long := func(n int) string { return strings.Repeat("long note ", n/10) }
	var list []recording
	for _, n := range []int{1, 2, 4, 8, 16, 32, 40} {
		args := []string{"consume", fmt.Sprintf("batch-%d", n)}
		for _, spool := range ids("C", 40)[:n] {
			args = append(args, spool+":part=1.5,purge=0.25")
		}
		list = append(list, recording{consumption, append(args, "--client", "pellam", "--note", long(300))})
	}
	weigh, queued := []string{"weigh"}, []string{"queue", "add", "to-come"}
	for i, spool := range ids("W", 20) {
		weigh = append(weigh, spool, "812.5")
		queued = append(queued, fmt.Sprintf("%d=%s:20", i, spool))
	}
	return append(list,
		recording{weighins, append(weigh, "--note", long(400))},
		recording{queue, append(queued, "--client", "pellam", "--note", long(400))},
		recording{moves, []string{"move", "W-002", "rack 2", "--note", long(5000)}},
		recording{purchases, []string{"buy", "NEW", "--count", "12", "--material", "PLA", "--net", "750", "--note", long(600)}},
		recording{voids, []string{"void", earlier, "--why", long(5000)}})
}

// record runs one command with little room. Refused, it has changed nothing, and the book can be looked at.
func (s *shortage) record(t *testing.T, book string, r recording) (recorded bool) {
	t.Helper()
	p := s.program
	before := contents(t, book)
	o := p.run(slices.Concat([]string{"--book", book}, r.args)...)
	if o.failed(0) == nil {
		if c := changed(before, contents(t, book)); len(c) != 1 || !strings.HasPrefix(c[0], r.file) {
			t.Errorf("%s: changed: %v", o, c)
		}
		return true
	}
	if err := o.refused(); err != nil {
		t.Error(err)
	}
	if c := changed(before, contents(t, book)); c != nil {
		t.Errorf("%s: changed: %v", o, c)
	}
	for _, look := range []string{"stock", "verify"} {
		if o := p.run("--book", book, look); o.failed(0) != nil || o.stderr != "" {
			t.Errorf("after a recording that failed: %s", o)
		}
	}
	if c := changed(before, contents(t, book)); c != nil {
		t.Errorf("%s, and looks after it: changed: %v", o, c)
	}
	return false
}

// copyBook copies the files of a book, without .tarebook, as a person would.
func copyBook(t *testing.T, from, to string) {
	t.Helper()
	if err := os.MkdirAll(to, 0o755); err != nil {
		t.Fatal(err)
	}
	files := contents(t, from)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if err := os.WriteFile(filepath.Join(to, name), []byte(files[name]), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
