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
	Disk   Disk          // nil: that of this machine
	Wait   time.Duration // for the lock; 0: ten seconds
	Reopen string        // why rows may be recorded into a sealed time; blank: they may not
	Tell   func(string)  // is told what was done to tidy up after a command that ended too early; may be nil
}

// ErrNoBook says that no book is where it was looked for.
var ErrNoBook = errors.New("no book")

func (b *Book) disk() Disk {
	if b.Disk == nil {
		return OSDisk{}
	}
	return b.Disk
}

// Init makes a new book of the given files in b.Dir. Files that are there already are left as they are, but a folder that
// is a book is refused. settings.csv is written last, so that half a book is not one.
func (b *Book) Init(files map[string]string) (err error) {
	taken := fmt.Errorf("%s holds a book already", b.Dir)
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

// Find returns the book at named if that is not empty; else the nearest folder at or above start that is one.
// source tells where named came from, for the message.
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

// View returns a snapshot of the book, across all its files, as it was at an instant (the zero Time: now).
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

// look takes a snapshot, and returns what stands in .tarebook/pending.
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
	// Without .tarebook there was no lock to take. If it is there now, the first command to record has begun meanwhile, and
	// this snapshot may hold half of what it wrote.
	if !begun {
		if now, err := b.begun(); err != nil || now {
			return b.look(asOf)
		}
	}
	return v, l, nil
}

// lookPast takes a snapshot though another command has held the lock for too long: of the book before what that one is
// recording, which nobody was told is there. What is pending must be the same before and after.
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
	if (p == nil) != (q == nil) || p != nil && *p != *q { // it goes on after all
		return b.View(asOf)
	}
	if p != nil {
		v.cut(p, p.start())
	}
	b.tell(locked.Error() + "; this is the book without that")
	return v, nil
}

// cut takes what a file holds from an offset on out of the snapshot: a pending batch.
func (v *View) cut(p *pending, at int64) {
	switch size, ok := v.size[p.file]; {
	case ok && p.before < 0 && at == 0:
		delete(v.size, p.file)
	case ok && size > at:
		v.size[p.file] = at
	}
}

// tidy finishes or takes back what a dead command has left pending.
func (b *Book) tidy() (err error) {
	unlock, err := b.lock()
	if err != nil {
		return err
	}
	defer func() { err = b.unlocked(err, unlock) }()
	return b.recover()
}

// unlocked gives the lock back. When that fails the outcome stays what it was, which is told: the lock ends with the
// process.
func (b *Book) unlocked(err error, unlock func() error) error {
	if failed := unlock(); failed != nil {
		b.tell(fmt.Sprintf("cannot give the lock back: %v", failed))
	}
	return err
}

// attempts is how often a command decides when others change the file that it is about to record in. The last time it takes
// rows that they have appended since it looked for rows that came after it: beside a program that appends all the time it
// would never record.
const attempts = 4

// Update calls decide on the book as it is and appends the rows it returns, all to one file, while nobody else can
// record. Programs that know nothing of the lock may change that file before anything is written: then decide is called
// again, on the book as it is by then, a few times. When Update returns nil the rows are on disk; when it returns an error
// none is, but for ErrInDoubt. Entries of the rows are made by newEntry, called once a row.
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

// decideAndRecord is one attempt of Update. With grown set, the file may have grown by whole lines since the command looked.
// begun reports whether it may have been written to.
func (b *Book) decideAndRecord(newEntry func() string, decide func(*View) (Batch, error), last []batchAt, grown bool) (begun bool, err error) {
	v, err := b.snapshot(Time{})
	if err != nil {
		return false, err
	}
	batch, err := decide(v)
	if err != nil || batch == nil || batch.Len() == 0 {
		return false, err
	}
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
	return w.record(last)
}

// Try does what Update does, but writes nothing: the rows are decided on and checked against the book as it is.
func (b *Book) Try(newEntry func() string, decide func(*View) (Batch, error)) error {
	v, err := b.View(Time{})
	if err != nil {
		return err
	}
	batch, err := decide(v)
	if err != nil || batch == nil || batch.Len() == 0 {
		return err
	}
	if err := batch.reopen(v, b.Reopen); err != nil {
		return err
	}
	_, err = batch.encode(v, newEntry)
	return err
}
