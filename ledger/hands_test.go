package ledger

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// hands is the disk of this machine with others at work on it: they act right before a call that is chosen.
type hands struct {
	OSDisk
	before func(call, name string)
}

func (h hands) OpenFile(dir, name string, flag int) (DiskFile, error) {
	h.before("open", name)
	f, err := h.OSDisk.OpenFile(dir, name, flag)
	if err != nil {
		return nil, err
	}
	return handsFile{f, name, h}, nil
}

func (h hands) Lstat(dir, name string) (fs.FileInfo, error) {
	h.before("lstat", name)
	info, err := h.OSDisk.Lstat(dir, name)
	h.before("after lstat", name)
	return info, err
}

type handsFile struct {
	DiskFile
	name string
	in   hands
}

func (f handsFile) Append(p []byte) (int, error) {
	f.in.before("append", f.name)
	n, err := f.DiskFile.Append(p)
	f.in.before("after append", f.name)
	return n, err
}

func (f handsFile) Sync() error {
	f.in.before("sync", f.name)
	return f.DiskFile.Sync()
}

// The first command to record in a book makes .tarebook while somebody looks: the look sees all of its rows or none.
func TestFirstRecorderBesideALook(t *testing.T) {
	t.Parallel()
	b := newBook(t, map[string]string{Moves: movesHeader})
	row := id(50) + ",2026-11-20T18:30:00+01:00,PLA-1,P1/2,\n"
	halves := map[string]string{"lstat": row[:40], "after lstat": row[40:]}
	b.Disk = hands{before: func(call, name string) {
		half, ok := halves[call]
		if name != Moves || !ok {
			return
		}
		delete(halves, call)
		if err := os.Mkdir(filepath.Join(b.Dir, privateFolder), 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
			t.Error(err)
		}
		others(t, b, Moves, half)
	}}
	rows, err := view(t, b).Moves()
	if err != nil || names(rows) != id(50) {
		t.Errorf("the look sees %q, %v, want %s", names(rows), err, id(50))
	}
}

// others append to a file, as a shell does.
func others(t *testing.T, b *Book, file, text string) {
	t.Helper()
	f, err := os.OpenFile(filepath.Join(b.Dir, file), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Error(err)
		return
	}
	if _, err := f.WriteString(text); err != nil {
		t.Error(err)
	}
	if err := f.Close(); err != nil {
		t.Error(err)
	}
}

// Others at work at the moment of the write itself, and the disk failing beside them.
func TestOthersAtTheMomentOfTheWrite(t *testing.T) {
	t.Parallel()
	const theirs = "01ARZ3NDEKTSV4RRFFQ6999999,2026-11-20T18:30:00+01:00,PLA-1,by hand,\n"
	mine := id(50) + ",2026-11-20T18:30:00+01:00,PLA-1,P1/2,mine\n"
	again := id(51) + ",2026-11-20T18:30:00+01:00,PLA-1,P1/2,mine\n"
	old := movesHeader + oldMove
	swapped := "at,entry,spool,place,note\n2026-11-20T18:30:00+01:00,01ARZ3NDEKTSV4RRFFQ69G5FAV,PLA-1,shelf,\n" // as long as old
	broken := errors.New("the disk is broken")
	replace := func(t *testing.T, b *Book, text string) {
		aside := filepath.Join(b.Dir, "aside")
		if err := errors.Join(os.WriteFile(aside, []byte(text), 0o666), os.Rename(aside, filepath.Join(b.Dir, Moves))); err != nil {
			t.Error(err)
		}
	}
	for _, c := range []struct {
		name   string
		before string // right before, or after, the write, or while the batch is made pending
		act    func(t *testing.T, b *Book)
		fails  bool   // the sync after the write
		want   string // of moves.csv
		err    string // blank: recorded
	}{
		{"a row before it", "append", func(t *testing.T, b *Book) { others(t, b, Moves, theirs) }, false, old + theirs + mine, ""},
		{"a row after it", "after append", func(t *testing.T, b *Book) { others(t, b, Moves, theirs) }, false, old + mine + theirs, ""},
		{"half a row before it", "append", func(t *testing.T, b *Book) { others(t, b, Moves, theirs[:30]) }, false, old + theirs[:30] + mine, "another program wrote to moves.csv at this moment"},
		{"a row before it, and the sync fails", "append", func(t *testing.T, b *Book) { others(t, b, Moves, theirs) }, true, old + theirs, "cannot record: the disk is broken"},
		{"a row after it, and the sync fails", "after append", func(t *testing.T, b *Book) { others(t, b, Moves, theirs) }, true, old + strings.Repeat("\n", len(mine)) + theirs, "cannot record: the disk is broken"},
		{"a save by rename before it", "append", func(t *testing.T, b *Book) { replace(t, b, old+theirs) }, false, old + theirs + again, ""},
		{"a save by rename after it", "after append", func(t *testing.T, b *Book) { replace(t, b, old+theirs) }, false, old + theirs + again, ""},
		{"a save that took it along", "after append", func(t *testing.T, b *Book) { replace(t, b, old+mine+theirs) }, false, old + mine + theirs, ""},
		{"another order of columns while it is made pending", "pending", func(t *testing.T, b *Book) { replaceInPlace(t, b, swapped) }, false,
			swapped + "2026-11-20T18:30:00+01:00," + id(51) + ",PLA-1,P1/2,mine\n", ""},
		{"a save in place before it", "append", func(t *testing.T, b *Book) { replaceInPlace(t, b, movesHeader) }, false, movesHeader + mine, "another program wrote to moves.csv at this moment"},
	} {
		b := newBook(t, map[string]string{Moves: old})
		done, synced := false, false
		disk := hands{before: func(call, name string) {
			on, file := c.before, Moves
			if on == "pending" {
				on, file = "sync", pendingFile
			}
			if name == file && call == on && !done {
				done = true
				c.act(t, b)
			}
		}}
		b.Disk = failsSync{disk, c.fails, broken, &synced}
		told := ""
		b.Tell = func(text string) { told += text }
		err := record(b, ids(50), moved("mine"))
		if got := read(t, b, Moves); got != c.want {
			t.Errorf("%s: moves.csv is %q, want %q", c.name, got, c.want)
		}
		if c.err == "" && err != nil {
			t.Errorf("%s: %v", c.name, err)
		} else if c.err != "" {
			wantError(t, err, c.err)
		}
		if saved := strings.HasSuffix(c.want, again); saved != strings.Contains(told, "another program saved moves.csv at the moment of recording") {
			t.Errorf("%s: told %q", c.name, told)
		}
		b.Disk = nil
		if _, err := b.View(Time{}); err != nil {
			t.Errorf("%s: then a look says %v", c.name, err)
		}
	}
}

// A command that takes appended rows for later ones still sees that the order of columns has changed.
func TestOthersChangeTheHeaderEachTime(t *testing.T) {
	t.Parallel()
	b := newBook(t, map[string]string{Moves: movesHeader})
	headers := []string{"at,entry,spool,place,note\n", "entry,at,spool,place,note\n"}
	n := 0
	b.Disk = hands{before: func(call, name string) {
		if call == "sync" && name == pendingFile && n < 2*attempts {
			n++
			replaceInPlace(t, b, headers[n%2]+strings.Repeat("\n", n))
		}
	}}
	wantError(t, record(b, ids(50), moved("mine")), "moves.csv changed while the command ran; try again")
	if got := read(t, b, Moves); strings.Contains(got, "mine") {
		t.Errorf("moves.csv is %q", got)
	}
}

func replaceInPlace(t *testing.T, b *Book, text string) {
	name, later := filepath.Join(b.Dir, Moves), time.Now().Add(time.Second) // the clock of files is coarse
	if err := errors.Join(os.WriteFile(name, []byte(text), 0o666), os.Chtimes(name, later, later)); err != nil {
		t.Error(err)
	}
}

// failsSync fails the first sync of moves.csv.
type failsSync struct {
	hands
	fails bool
	err   error
	once  *bool
}

func (d failsSync) OpenFile(dir, name string, flag int) (DiskFile, error) {
	f, err := d.hands.OpenFile(dir, name, flag)
	if err != nil || !d.fails || name != Moves {
		return f, err
	}
	return failsSyncFile{f, d}, nil
}

type failsSyncFile struct {
	DiskFile
	in failsSync
}

func (f failsSyncFile) Sync() error {
	if !*f.in.once {
		*f.in.once = true
		return f.in.err
	}
	return f.DiskFile.Sync()
}
