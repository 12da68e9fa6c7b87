package hands

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
)

// TestReadOnly looks at books that may only be read, and at one that is gone.
func TestReadOnly(t *testing.T) {
	t.Run("disk", func(t *testing.T) {
		dir, err := smallDisk(t, 1<<20)
		if err != nil {
			t.Logf("no disk can be had that may only be read (%v); permission bits stand in for it", err)
			byPermission(t)
			return
		}
		t.Log("on a disk that may only be read")
		readOnly(t, dir, func(yes bool) { writable(t, dir, yes) })
	})
	t.Run("permission", byPermission)
	t.Run("gone", func(t *testing.T) {
		p := theProgram(t)
		book := filepath.Join(t.TempDir(), "book")
		newBook(t, p, book, 2)
		if err := os.RemoveAll(book); err != nil {
			t.Fatal(err)
		}
		runs := 0
		for _, command := range slices.Concat(lookCommands, recordCommands) {
			if err := p.run(slices.Concat([]string{"--book", book}, command)...).refused(); err != nil {
				t.Error(err)
			}
			q := *p
			q.env = append(slices.Clone(p.env), "TAREBOOK="+book)
			if err := q.run(command...).refused(); err != nil {
				t.Errorf("named by $TAREBOOK: %v", err)
			}
			runs += 2
		}
		if _, err := os.Stat(book); err == nil {
			t.Error("the folder is there again")
		}
		t.Logf("%d commands refused on a book that is gone", runs)
	})
}

var (
	lookCommands = [][]string{{"stock"}, {"check"}, {"verify"}, {"reconcile"}, {"waste"}, {"queue", "list"}, {"card", "W-001"}}

	recordCommands = [][]string{
		{"weigh", "W-001", "812.5", "W-002", "640"}, {"consume", "lantern", "C-001:12.5", "C-002:3", "--client", "pellam"},
		{"queue", "add", "town-gate", "0=C-001:30"}, {"queue", "drop", "market-square"}, {"move", "W-001", "rack 7"},
		{"buy", "NEW-1", "--material", "PLA", "--net", "750"}, {"void", "--last"},
	}
)

// byPermission takes the right to write away from folder and files.
func byPermission(t *testing.T) {
	bound(t)
	dir := t.TempDir()
	set := func(yes bool) {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			mode := fs.FileMode(0o444)
			if d.IsDir() {
				mode = 0o555
			}
			if yes {
				mode |= 0o200
			}
			return os.Chmod(path, mode)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() { set(true) }) // else the folder cannot be removed
	readOnly(t, dir, set)
}

// readOnly holds what a book answers when it may only be read against what it answered before.
func readOnly(t *testing.T, dir string, writable func(yes bool)) {
	t.Helper()
	p := theProgram(t)
	used := filepath.Join(dir, "used")
	newBook(t, p, used, 3)
	p.must(t, "--book", used, "weigh", "W-001", "812.5", "W-002", "640")
	p.must(t, "--book", used, "consume", "mill-wheel", "C-001:part=80,purge=20", "C-002:3")
	p.must(t, "--book", used, "queue", "add", "market-square", "0=C-001:950", "1=C-002:20", "--client", "pellam") // more than is there
	copied := filepath.Join(dir, "copied")                                                                        // nobody has recorded in this one yet
	copyBook(t, used, copied)

	type answer struct {
		status         int
		stdout, stderr string
	}
	books := []string{used, copied}
	ask := func() (answers []answer) {
		for _, book := range books {
			for _, look := range lookCommands {
				o := p.run(slices.Concat([]string{"--book", book, "--format", "json"}, look)...)
				if want := map[string]int{"check": 1}[look[0]]; o.failed(want) != nil {
					t.Error(o.failed(want))
				}
				answers = append(answers, answer{o.status, o.stdout, o.stderr})
			}
		}
		return answers
	}
	usual := ask()
	before := contents(t, used)
	writable(false)
	if err := exec.Command("sh", "-c", `: >>"$0"`, filepath.Join(used, weighins)).Run(); err == nil {
		t.Fatal("the book can be written to")
	}
	for i, now := range ask() {
		if now != usual[i] {
			t.Errorf("%v: %+v, want as ever %+v", lookCommands[i%len(lookCommands)], now, usual[i])
		}
	}
	refused := 0
	for _, book := range books {
		for _, command := range recordCommands {
			if err := p.run(slices.Concat([]string{"--book", book}, command)...).refused(); err != nil {
				t.Error(err)
			}
			refused++
		}
		if c := changed(before, contents(t, book)); c != nil {
			t.Errorf("changed: %v", c)
		}
	}
	if err := p.run("init", filepath.Join(dir, "fresh")).refused(); err != nil {
		t.Error(err)
	}
	writable(true)
	for _, book := range books {
		p.must(t, slices.Concat([]string{"--book", book}, recordCommands[0])...)
		p.sound(t, book)
	}
	t.Logf("%d answers as ever and %d recordings refused on books that may only be read", len(usual), refused)
}
