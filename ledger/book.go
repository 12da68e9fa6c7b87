package ledger

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// Book is a folder of ledgers and tables.
type Book struct {
	Dir    string
	Disk   Disk          // nil means OSDisk
	Wait   time.Duration // how long to wait for the lock; 0 means ten seconds
	Reopen string        // the reason for recording into sealed months; blank forbids it
	Tell   func(string)  // reports what was tidied up after a command that ended too early; may be nil
	Memory *Memory       // what was read before; nil: each view reads by itself

	recorded *pending // what Update has recorded last
}

// ErrNoBook means that a folder holds no book.
var ErrNoBook = errors.New("no book")

func (b *Book) disk() Disk {
	if b.Disk == nil {
		return OSDisk{}
	}
	return b.Disk
}

// Init makes a new book of the given files in b.Dir. It keeps files that exist, but refuses a folder that is a book already. It writes
// settings.csv last, so that half a book is not taken for one.
func (b *Book) Init(files map[string]string) (err error) {
	taken := fmt.Errorf("%s holds a book already; name another folder with --book DIR", b.Dir)
	if l, err := b.readPending(); err == nil && !l.some && isBook(b.Dir) {
		return taken
	}
	if err := makeFolders(b.disk(), b.Dir); err != nil {
		return err
	}
	unlock, err := b.lock()
	if err != nil {
		return err
	}
	defer func() { err = b.unlocked(err, unlock) }()
	if err := b.recover(); err != nil {
		return err
	}
	if isBook(b.Dir) {
		return taken
	}
	names := slices.Sorted(maps.Keys(files))
	if i := slices.Index(names, SettingsFile); i >= 0 {
		names = append(slices.Delete(names, i, i+1), SettingsFile)
	}
	for _, name := range names {
		if _, err := os.Lstat(filepath.Join(b.Dir, name)); err == nil {
			continue
		}
		w := &writing{Book: b, p: pending{file: name, batch: files[name]}}
		if _, err := w.record(nil); err != nil {
			return err
		}
	}
	return nil
}

// Find returns the book in the folder named, or if that is blank the nearest one at or above start. source says where named came from,
// for the message.
func Find(named, source, start string) (*Book, error) {
	if named != "" {
		if !isBook(named) {
			return nil, fmt.Errorf("%w at %s (from %s): settings.csv and purchases.csv are not both there; start one with: tarebook init %s", ErrNoBook, named, source, named)
		}
		return &Book{Dir: named}, nil
	}
	start, err := filepath.Abs(start)
	if err != nil {
		return nil, err
	}
	for dir := start; ; dir = filepath.Dir(dir) {
		if isBook(dir) {
			return &Book{Dir: dir}, nil
		}
		if dir == filepath.Dir(dir) {
			return nil, fmt.Errorf("%w here or above; start one with: tarebook init", ErrNoBook)
		}
	}
}

func isBook(dir string) bool {
	for _, file := range []string{SettingsFile, Purchases} {
		if info, err := os.Lstat(filepath.Join(dir, file)); err != nil || info.IsDir() {
			return false
		}
	}
	return true
}

// View returns a snapshot of all files of the book, with the rows up to an instant (the zero Time: all rows).
func (b *Book) View(asOf Time) (*View, error) {
	v, l, err := b.look(asOf)
	untidy := func() bool { return err == nil && (l.pending != nil || l.foreign != "") }
	if untidy() {
		switch failed := b.tidy(); {
		case failed == nil:
			v, l, err = b.look(asOf)
		case errors.Is(failed, ErrNotPlain):
			b.tell(failed.Error())
		}
	}
	if untidy() && l.foreign != "" {
		b.tell(foreignText(l.foreign))
	} else if untidy() {
		err = b.without(v, l.pending)
	}
	if errors.Is(err, ErrLocked) {
		return b.lookPast(asOf, err)
	}
	return v, err
}

// look takes a snapshot, and also returns what .tarebook/pending holds.
func (b *Book) look(asOf Time) (v *View, l left, err error) {
	begun, err := b.begun()
	if err != nil {
		return nil, l, err
	}
	unlock := func() error { return nil }
	if begun {
		if unlock, err = b.rlock(); err != nil {
			return nil, l, err
		}
	}
	if v, err = b.snapshot(asOf); err == nil {
		l, err = b.readPending()
	}
	if err := errors.Join(err, unlock()); err != nil {
		return nil, l, err
	}
	// Without .tarebook there was no lock to take. If it exists now, the first command has started to record, and this snapshot
	// may hold half of what it wrote.
	if !begun {
		if now, err := b.begun(); err != nil || now {
			return b.look(asOf)
		}
	}
	return v, l, nil
}

// lookPast takes a snapshot although another command has held the lock for too long. It leaves out what that command is recording,
// since it has not reported success yet. The pending batch must be the same before and after.
func (b *Book) lookPast(asOf Time, locked error) (*View, error) {
	before, err := b.readPending()
	if err != nil {
		return nil, err
	}
	v, err := b.snapshot(asOf)
	if err != nil {
		return nil, err
	}
	after, err := b.readPending()
	if err != nil {
		return nil, err
	}
	p, q := before.pending, after.pending
	if (p == nil) != (q == nil) || p != nil && *p != *q { // the other command has gone on
		return b.View(asOf)
	}
	if p != nil {
		v.cut(p, p.start())
	}
	b.tell(locked.Error() + "; this is the book without that")
	return v, nil
}

// cut ends a file of the snapshot at an offset, so that it lacks a pending batch.
func (v *View) cut(p *pending, at int64) {
	switch size, ok := v.size[p.file]; {
	case ok && p.before < 0 && at == 0:
		delete(v.size, p.file)
	case ok && size > at:
		v.size[p.file] = at
	}
	if p.file == SettingsFile {
		v.lines = nil
	}
}

// tidy takes the lock and recovers.
func (b *Book) tidy() (err error) {
	unlock, err := b.lock()
	if err != nil {
		return err
	}
	defer func() { err = b.unlocked(err, unlock) }()
	return b.recover()
}

// unlocked releases the lock. If that fails, it only says so and returns err as it is: the lock ends with the process anyway.
func (b *Book) unlocked(err error, unlock func() error) error {
	if failed := unlock(); failed != nil {
		b.tell(fmt.Sprintf("cannot give the lock back: %v", failed))
	}
	return err
}

// attempts is how often a command decides anew when other programs change the file that it is about to record in. In the last attempt it
// accepts rows that they have appended meanwhile, as if these had come after its own: beside a program that appends all the
// time it would never record.
const attempts = 4

// Update calls decide with a view of the book and appends the rows that it returns, all to one file, under the exclusive lock. If a
// program that ignores the lock changes that file before anything is written, decide is called again with a new view, a few
// times. If Update returns nil, the rows are on disk. If it returns an error, none is, except with ErrInDoubt. newEntry is
// called once for each row.
func (b *Book) Update(newEntry func() string, decide func(*View) (Batch, error)) (err error) {
	unlock, err := b.lock()
	if err != nil {
		return err
	}
	defer func() { err = b.unlocked(err, unlock) }()
	if err := b.recover(); err != nil {
		return err
	}
	last, err := b.missed()
	if err != nil {
		return err
	}
	for i := range attempts {
		var begun bool
		if begun, err = b.decideAndRecord(newEntry, decide, last, i == attempts-1); begun || !errors.Is(err, ErrChanged) {
			return err
		}
	}
	return err
}

// decideAndRecord is one attempt of Update. With grown set, the file may have grown by whole lines since the view was made. begun
// reports whether the file may have been written to.
func (b *Book) decideAndRecord(newEntry func() string, decide func(*View) (Batch, error), last []batchAt, grown bool) (begun bool, err error) {
	v, err := b.snapshot(Time{})
	if err != nil {
		return false, err
	}
	batch, err := decide(v)
	if err != nil || batch == nil || batch.Len() == 0 {
		return false, err
	}
	if both, ok := batch.(*following); ok {
		if _, err := b.recordBatch(v, newEntry, both.first, last, grown); err != nil {
			return false, err
		}
		if last, err = b.missed(); err != nil {
			return false, err
		}
		batch = both.Batch
	}
	return b.recordBatch(v, newEntry, batch, last, grown)
}

// recordBatch appends a batch that was decided on with view v.
func (b *Book) recordBatch(v *View, newEntry func() string, batch Batch, last []batchAt, grown bool) (begun bool, err error) {
	if err := batch.reopen(v, b.Reopen); err != nil {
		return false, err
	}
	var entries span
	text, err := batch.encode(v, entries.of(newEntry))
	if err != nil {
		return false, err
	}
	entries.rows = batch.Len()
	w := &writing{Book: b, was: v.found[batch.file()], grown: grown, p: pending{file: batch.file(), entries: entries, batch: string(text)}}
	if grown && w.was != nil {
		if w.header, err = v.firstLine(batch.file()); err != nil {
			return false, err
		}
	}
	begun, err = w.record(last)
	if err == nil {
		b.recorded = &w.p
		if b.Memory != nil {
			b.Memory.note(batch)
		}
	}
	return begun, err
}

// Try decides and checks the rows as Update does, but writes nothing.
func (b *Book) Try(newEntry func() string, decide func(*View) (Batch, error)) error {
	v, err := b.View(Time{})
	if err != nil {
		return err
	}
	batch, err := decide(v)
	if err != nil || batch == nil || batch.Len() == 0 {
		return err
	}
	if both, ok := batch.(*following); ok {
		if _, err := both.first.encode(v, newEntry); err != nil {
			return err
		}
		batch = both.Batch
	}
	if err := batch.reopen(v, b.Reopen); err != nil {
		return err
	}
	_, err = batch.encode(v, newEntry)
	return err
}
