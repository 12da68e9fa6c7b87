package ledger

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/gofrs/flock"
	"github.com/google/go-cmp/cmp"
)

const oldMove = "01ARZ3NDEKTSV4RRFFQ69G5FAV,2026-11-20T18:30:00+01:00,PLA-1,shelf,\n"

// dead leaves a book as a command that died leaves it: what stood in the file, what it meant to append, what is there now.
func dead(t *testing.T, before, batch, now string) *Book {
	t.Helper()
	files := map[string]string{}
	size := int64(-1)
	if before != "" {
		size = int64(len(before))
	}
	if now != "" {
		files[Moves] = now
	}
	b := newBook(t, files)
	leave(t, b, pending{file: Moves, before: size, batch: batch})
	return b
}

// leave makes a batch pending, as the command that is about to append it.
func leave(t *testing.T, b *Book, p pending) {
	t.Helper()
	if err := os.MkdirAll(filepath.Join(b.Dir, privateFolder), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := b.setPending(&p); err != nil {
		t.Fatal(err)
	}
}

// setPrivate makes a file in .tarebook.
func setPrivate(t *testing.T, b *Book, file, text string) {
	t.Helper()
	name := filepath.Join(b.Dir, file)
	if err := errors.Join(os.MkdirAll(filepath.Dir(name), 0o777), os.WriteFile(name, []byte(text), 0o666)); err != nil {
		t.Fatal(err)
	}
}

// private returns what .tarebook holds, but for the lock and what was recorded last.
func private(t *testing.T, b *Book) map[string]string {
	t.Helper()
	dir := filepath.Join(b.Dir, privateFolder)
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{}
	for _, e := range entries {
		name := privateFolder + "/" + e.Name()
		if name == lockFile || name == lastFile {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		files[name] = string(text)
	}
	return files
}

func TestRecovery(t *testing.T) {
	t.Parallel()
	batch := id(50) + ",2026-11-21T18:30:00+01:00,PLA-1,P1/2,\n" + id(51) + ",2026-11-21T18:30:00+01:00,PLA-2,P1/3,\n"
	old := movesHeader + oldMove
	torn := old + batch[:70]
	for _, c := range []struct {
		name, before, batch, now string
		want                     string // of moves.csv; "" that it is gone
		kept                     string // of the torn bytes
		told                     string
	}{
		{"nothing reached the file", old, batch, old, old, "", "had recorded nothing yet in moves.csv"},
		{"a first row and part of the second", old, batch, torn, old, batch[:70], "had written 70 of 130 bytes to moves.csv"},
		{"zeros where data had not arrived", old, batch, old + strings.Repeat("\x00", 130), old, strings.Repeat("\x00", 130), "had written 130 of 130 bytes"},
		{"all of it", old, batch, old + batch, old + batch, "", "had recorded in moves.csv all that it meant to (130 bytes); it counts"},
		{"a new file that was not made yet", "", movesHeader + batch, "", "", "", "had recorded nothing yet"},
		{"a new file, half a header", "", movesHeader + batch, movesHeader[:9], "", movesHeader[:9], "had written 9 of 156 bytes"},
		{"a new file, whole", "", movesHeader + batch, movesHeader + batch, movesHeader + batch, "", "it counts"},
		{"a person made it shorter", old, batch, movesHeader, movesHeader, "", "changed by other hands"},
		{"a person made it longer", old, batch, old + strings.Repeat(oldMove, 9), old + strings.Repeat(oldMove, 9), "", "changed by other hands"},
		{"a person typed a row there", old, batch, old + oldMove[:60] + "\n", old + oldMove[:60] + "\n", "", "changed by other hands"},
		{"a person took it away", old, batch, "", "", "", "changed by other hands"},
		{"more was appended by other hands", old, batch, old + batch + oldMove, old + batch + oldMove, "", "it counts"},
	} {
		for _, command := range []string{"look", "record"} {
			b := dead(t, c.before, c.batch, c.now)
			var told []string
			b.Tell = func(text string) { told = append(told, text) }
			var err error
			if command == "look" {
				_, err = b.View(Time{})
			} else {
				err = b.Update(ids(60), func(*View) (Batch, error) { return nil, nil })
			}
			if err != nil {
				t.Errorf("%s, %s: %v", c.name, command, err)
				continue
			}
			if got := contents(t, b)[Moves]; got != c.want {
				t.Errorf("%s, %s: moves.csv is now %q, want %q", c.name, command, got, c.want)
			}
			if len(told) != 1 || !strings.Contains(told[0], c.told) {
				t.Errorf("%s, %s: told %q, want %q", c.name, command, told, c.told)
			}
			want := map[string]string{pendingFile: ""}
			for name, text := range private(t, b) {
				if strings.HasPrefix(name, privateFolder+"/torn-moves.csv-") && c.kept != "" {
					want[name] = c.kept
					if !strings.Contains(told[0], name) {
						t.Errorf("%s, %s: told %q, which does not name %s (%q)", c.name, command, told, name, text)
					}
				}
			}
			if c.kept != "" && len(want) != 2 {
				t.Errorf("%s, %s: the torn bytes are not kept", c.name, command)
			}
			if d := cmp.Diff(want, private(t, b)); d != "" {
				t.Errorf("%s, %s: .tarebook (-want +got):\n%s", c.name, command, d)
			}
			told = nil
			if _, err := b.View(Time{}); err != nil || told != nil {
				t.Errorf("%s, %s: the next command says %q, %v", c.name, command, told, err)
			}
		}
	}
}

// What is pending and not whole means that its batch was never begun: nothing is cut, whatever it seems to say.
func TestPendingChecksItself(t *testing.T) {
	t.Parallel()
	p := pending{file: Moves, before: 10, entries: span{id(1), id(2), 2}, batch: "some\nrows\n", id: "7"}
	text := p.text()
	if got, ok := parsePending(text); !ok || got != p {
		t.Fatalf("%q reads as %+v, %t", text, got, ok)
	}
	for n := range text {
		for _, text := range []string{text[:n], text[:n] + strings.Repeat("\x00", len(text)-n), text[:n] + "~" + text[n+1:]} {
			if _, ok := parsePending(text); ok {
				t.Errorf("%q passes for whole", text)
			}
		}
	}
	for _, q := range []pending{{file: "../moves.csv", before: 10, batch: "x"}, {file: "README", before: 10, batch: "x"}, {file: Moves, before: -2, batch: "x"}, {file: Moves}} {
		if q.ours() {
			t.Errorf("%q is taken", q.text())
		}
	}
	b := newBook(t, map[string]string{Moves: movesHeader + oldMove})
	setPrivate(t, b, pendingFile, text[:len(text)-5])
	before := contents(t, b)
	if err := record(b, ids(60), moved("")); err != nil {
		t.Fatal(err)
	}
	if got := contents(t, b)[Moves]; !strings.HasPrefix(got, before[Moves]) || !strings.Contains(got, id(60)) {
		t.Errorf("moves.csv is now %q", got)
	}
}

// A reader that can tidy nothing up leaves the torn rows out of what it sees.
func TestLookingLeavesTornRowsOut(t *testing.T) {
	t.Parallel()
	batch := id(50) + ",2026-11-21T18:30:00+01:00,PLA-1,P1/2,\n" + id(51) + ",2026-11-21T18:30:00+01:00,PLA-2,P1/3,\n"
	for _, c := range []struct{ name, before, now, want string }{
		{"rows", movesHeader + oldMove, movesHeader + oldMove + batch[:80], "01ARZ3NDEKTSV4RRFFQ69G5FAV"},
		{"a new file", "", movesHeader + batch[:80], ""},
		{"a whole batch counts", movesHeader, movesHeader + batch, id(50) + " " + id(51)},
	} {
		text := batch
		if c.before == "" {
			text = movesHeader + batch
		}
		b := dead(t, c.before, text, c.now)
		b.Disk = &failing{from: 1, err: syscall.EROFS}
		var told []string
		b.Tell = func(text string) { told = append(told, text) }
		v, err := b.View(Time{})
		if err != nil {
			t.Fatal(err)
		}
		rows, err := v.Moves()
		if err != nil || names(rows) != c.want {
			t.Errorf("%s: a reader sees %q, %v, want %q", c.name, names(rows), err, c.want)
		}
		if got := contents(t, b)[Moves]; got != c.now {
			t.Errorf("%s: moves.csv was changed to %q", c.name, got)
		}
		if torn := len(c.now) < len(c.before)+len(text); torn != (len(told) == 1) {
			t.Errorf("%s: told %q", c.name, told)
		}
		b.Disk = nil
		if _, err := b.View(Time{}); err != nil {
			t.Error(err)
		}
	}
}

// failing is the disk of this machine until call number from that changes something; from then on, for ever or for that call alone, each call
// fails, and a write only after half of its bytes.
type failing struct {
	from, calls int
	once        bool
	err         error
}

func (d *failing) fail() error {
	d.calls++
	if d.from > 0 && (d.calls == d.from || d.calls > d.from && !d.once) {
		return d.err
	}
	return nil
}

func (d *failing) OpenFile(dir, name string, flag int) (DiskFile, error) {
	if flag != os.O_RDONLY {
		if err := d.fail(); err != nil {
			return nil, err
		}
	}
	f, err := OSDisk{}.OpenFile(dir, name, flag)
	if err != nil {
		return nil, err
	}
	return failingFile{f, d}, nil
}

func (d *failing) Lstat(dir, name string) (fs.FileInfo, error) { return OSDisk{}.Lstat(dir, name) }

func (d *failing) Mkdir(dir, name string) error { return OSDisk{}.Mkdir(dir, name) }

func (d *failing) Remove(dir, name string) error {
	if err := d.fail(); err != nil {
		return err
	}
	return OSDisk{}.Remove(dir, name)
}

func (d *failing) Rename(dir, name, to string) error {
	if err := d.fail(); err != nil {
		return err
	}
	return OSDisk{}.Rename(dir, name, to)
}

func (d *failing) SyncDir(dir, name string) error {
	if err := d.fail(); err != nil {
		return err
	}
	return OSDisk{}.SyncDir(dir, name)
}

type failingFile struct {
	DiskFile
	disk *failing
}

func (f failingFile) WriteAt(p []byte, at int64) (int, error) {
	if err := f.disk.fail(); err != nil {
		n, _ := f.DiskFile.WriteAt(p[:len(p)/2], at)
		return n, err
	}
	return f.DiskFile.WriteAt(p, at)
}

func (f failingFile) Append(p []byte) (int, error) {
	if err := f.disk.fail(); err != nil {
		n, _ := f.DiskFile.Append(p[:len(p)/2])
		return n, err
	}
	return f.DiskFile.Append(p)
}

func (f failingFile) Truncate(size int64) error {
	if err := f.disk.fail(); err != nil {
		return err
	}
	return f.DiskFile.Truncate(size)
}

func (f failingFile) Sync() error {
	if err := f.disk.fail(); err != nil {
		return err
	}
	return f.DiskFile.Sync()
}

// Whatever call to the disk fails, once or from then on, a command that says that it could not record has changed nothing
// that counts, at the latest once the disk works again; one that does not know says so, and its batch is whole or gone.
func TestFailingDisk(t *testing.T) {
	t.Parallel()
	for name, before := range map[string]string{"an old file": movesHeader + oldMove, "a new file": ""} {
		files := map[string]string{}
		if before != "" {
			files[Moves] = before
		}
		counter := &failing{}
		b := newBook(t, files)
		b.Disk = counter
		if err := record(b, ids(60), moved("a"), moved("b")); err != nil {
			t.Fatal(err)
		}
		after := contents(t, b)[Moves]
		doubts := map[string]int{}
		for from := 1; from <= counter.calls; from++ {
			for _, once := range []bool{true, false} {
				b := newBook(t, files)
				b.Disk = &failing{from: from, once: once, err: syscall.ENOSPC}
				err := record(b, ids(60), moved("a"), moved("b"))
				doubt := errors.Is(err, ErrInDoubt)
				if !errors.Is(err, syscall.ENOSPC) || once && (doubt || !strings.HasPrefix(err.Error(), "cannot record: ") || strings.Contains(err.Error(), "\n")) {
					t.Errorf("%s, call %d: %v", name, from, err)
				}
				if got := contents(t, b)[Moves]; got != before && !doubt {
					t.Errorf("%s, call %d: moves.csv is now %q, though %v", name, from, got, err)
				}
				b.Disk = nil
				if _, err := b.View(Time{}); err != nil {
					t.Errorf("%s, call %d: %v", name, from, err)
				}
				got := contents(t, b)[Moves]
				switch {
				case got == before:
					if doubt {
						doubts["gone"]++
					}
					if err := record(b, ids(60), moved("a"), moved("b")); err != nil || contents(t, b)[Moves] != after {
						t.Errorf("%s, call %d: recording again gives %q, %v", name, from, contents(t, b)[Moves], err)
					}
				case got == after && doubt:
					doubts["whole"]++
				default:
					t.Errorf("%s, call %d: moves.csv is now %q, though %v", name, from, got, err)
				}
			}
		}
		if doubts["gone"] == 0 || doubts["whole"] == 0 {
			t.Errorf("%s: in doubt were %v; want some gone and some whole", name, doubts)
		}
	}
}

// A second user of a shared folder who may not write there gets one line.
func TestAFolderThatOthersMayNotWriteIn(t *testing.T) {
	t.Parallel()
	b := newBook(t, nil)
	b.Disk = &failing{from: 1, err: &fs.PathError{Op: "openat", Path: pendingFile, Err: syscall.EACCES}}
	err := record(b, ids(60), moved("a"))
	wantError(t, err, "cannot record: openat .tarebook/pending: permission denied; where several people share the folder, give their group the right to write: chmod -R g+w")
	if strings.Contains(err.Error(), "\n") {
		t.Errorf("more than one line: %q", err)
	}
}

func TestLockedBookNamesTheHolder(t *testing.T) {
	t.Parallel()
	b := newBook(t, nil)
	if err := record(b, ids(60), moved("")); err != nil {
		t.Fatal(err)
	}
	b.Wait = 30 * time.Millisecond
	f := flock.New(filepath.Join(b.Dir, lockFile))
	if ok, err := f.TryLock(); !ok || err != nil {
		t.Fatal(ok, err)
	}
	defer f.Unlock()
	setPrivate(t, b, lockFile, "\n4711                \n")
	before := contents(t, b)
	err := record(b, ids(61), moved(""))
	if !errors.Is(err, ErrLocked) {
		t.Errorf("got %v, want ErrLocked", err)
	}
	wantError(t, err, "others have recorded in "+b.Dir+" for all of the 30ms that this command waited, now process 4711; ", "--wait")

	// Who only looks sees the book without what is being recorded, also when all of it is there already.
	batch := id(70) + ",2026-11-21T18:30:00+01:00,PLA-1,P1/2,\n"
	for _, part := range []string{"", batch[:20], batch} {
		leave(t, b, pending{file: Moves, before: int64(len(before[Moves])), batch: batch})
		if err := os.WriteFile(filepath.Join(b.Dir, Moves), []byte(before[Moves]+part), 0o666); err != nil {
			t.Fatal(err)
		}
		var told []string
		b.Tell = func(text string) { told = append(told, text) }
		rows, err := view(t, b).Moves()
		if err != nil || names(rows) != id(60) || len(told) != 1 || !strings.Contains(told[0], "process 4711") {
			t.Errorf("a reader sees %q, %v, and is told %q", names(rows), err, told)
		}
		if got := contents(t, b)[Moves]; got != before[Moves]+part {
			t.Errorf("moves.csv was changed to %q", got)
		}
	}
	setPrivate(t, b, lockFile, "")
	wantError(t, record(b, ids(61), moved("")), "now another process; ")
}
