package ledger

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// recover finishes or undoes a batch that a dead command has left pending. A complete batch is made durable and counts. Of any other
// nothing stays in the ledger, and its bytes are kept in a file of their own. Both are reported before pending is emptied, so
// that the report is repeated if this command dies too. Each step can be repeated. The caller holds the exclusive lock.
func (b *Book) recover() error {
	l, err := b.readPending()
	switch {
	case err != nil || !l.some:
		return err
	case l.foreign != "":
		return b.setAside(l.foreign)
	case l.pending == nil:
		return b.clearPending()
	}
	p := l.pending
	r, err := b.judge(p)
	if err != nil {
		return err
	}
	switch r.remains {
	case wholeLeft:
		if err = b.makeDurable(p, r); err == nil {
			b.tell(fmt.Sprintf("a command that ended too early had recorded in %s all that it meant to (%d bytes); it counts", p.file, len(p.batch)))
		}
	case strangeLeft:
		b.tell(fmt.Sprintf("a command that ended too early was recording in %s, which has been changed by other hands since; it is left as it is: look at its end", p.file))
	case tornLeft:
		var kept string
		if kept, err = b.keep(p, r); err == nil {
			b.tell(fmt.Sprintf("a command that ended too early had written %d of %d bytes to %s; none of them counts, they are kept in %s; record it again",
				len(r.bytes), len(p.batch), p.file, kept))
			err = b.takeOff(p, r)
		}
	case nothingLeft:
		b.tell(fmt.Sprintf("a command that ended too early had recorded nothing yet in %s; record it again", p.file))
		err = b.takeOff(p, r)
	}
	if err == nil {
		err = b.clearPending()
	}
	if err != nil {
		return fmt.Errorf("cannot tidy up after a command that ended too early: %w", err)
	}
	return nil
}

// makeDurable writes a complete batch once more at its place in the file, and syncs it. A sync that failed may have
// left its pages in memory as if they were on disk (Rebello and others, "Can Applications Recover from fsync Failures?",
// USENIX ATC 2020), and syncing them again would write nothing.
func (b *Book) makeDurable(p *pending, r rest) (err error) {
	f, err := b.disk().OpenFile(b.Dir, p.file, os.O_RDWR)
	if err != nil {
		return err
	}
	_, err = f.WriteAt([]byte(r.bytes), r.at)
	if err == nil {
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err := b.disk().SyncDir(b.Dir, "."); err != nil {
		return err
	}
	others, _, err := b.readLast()
	if err != nil {
		return err
	}
	_, err = b.remember(p, others)
	return err
}

// asides is how many files of one kind .tarebook may hold before a person must clear it.
const asides = 1000

// keep writes torn bytes to a file of their own, durably, and returns its name. It reuses a file that holds them already.
func (b *Book) keep(p *pending, r rest) (name string, err error) {
	sum := sha256.Sum256([]byte(r.bytes))
	for i := range asides {
		name = fmt.Sprintf("%s/torn-%s-%d-%x", privateFolder, p.file, r.at, sum[:4])
		if i > 0 {
			name += fmt.Sprintf("-%d", i+1)
		}
		if err = b.keepIn(name, r.bytes); !errors.Is(err, fs.ErrExist) {
			return name, err
		}
	}
	return "", fmt.Errorf("%s is full of torn files; move them elsewhere", privateFolder)
}

// keepIn creates a file with the text, durably. It returns fs.ErrExist if the file exists and holds something else.
func (b *Book) keepIn(name, text string) (err error) {
	f, err := b.disk().OpenFile(b.Dir, name, os.O_RDWR|os.O_CREATE|os.O_EXCL)
	if errors.Is(err, fs.ErrExist) {
		if f, err = b.disk().OpenFile(b.Dir, name, os.O_RDWR); err != nil {
			return err
		}
		info, statErr := f.Stat()
		if statErr != nil || info.Size() > int64(len(text)) {
			return errors.Join(statErr, f.Close(), fs.ErrExist)
		}
		there := make([]byte, info.Size())
		if _, readErr := f.ReadAt(there, 0); readErr != nil && len(there) > 0 || !wrote(string(there), text) {
			return errors.Join(f.Close(), fs.ErrExist)
		}
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if _, err := f.WriteAt([]byte(text), 0); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	return b.disk().SyncDir(b.Dir, privateFolder)
}

// setAside moves away a pending batch that no command in this folder has written, and reports it. The batch is not acted on, because
// a stranger may have made it to harm the book.
func (b *Book) setAside(why string) error {
	for i := range asides {
		name := fmt.Sprintf("%s/foreign-%d", privateFolder, i+1)
		if _, err := b.disk().Lstat(b.Dir, name); !errors.Is(err, fs.ErrNotExist) {
			if err != nil {
				return err
			}
			continue
		}
		b.tell(foreignText(why) + "; it is put aside as " + name)
		if err := b.disk().Rename(b.Dir, pendingFile, name); err != nil {
			return err
		}
		return b.disk().SyncDir(b.Dir, privateFolder)
	}
	return fmt.Errorf("%s is full of foreign files; remove it: it is no part of the book", privateFolder)
}

func foreignText(why string) string {
	return fmt.Sprintf("%s was not left by a command in this folder (%s); nothing that it asks for was done: look at the ends of the ledgers", pendingFile, why)
}

func (b *Book) tell(text string) {
	if b.Tell != nil {
		b.Tell(text)
	}
}

// without leaves a pending batch out of a snapshot that can't be tidied up, because the book is read-only, the disk is full, or another
// command holds the lock.
func (b *Book) without(v *View, p *pending) error {
	r, err := b.judge(p)
	if err != nil {
		return err
	}
	if r.remains == nothingLeft && r.empty {
		v.cut(p, 0)
	}
	if r.remains != tornLeft {
		return nil
	}
	v.cut(p, r.at)
	b.tell(fmt.Sprintf("a command that ended too early has left part of a batch at the end of %s; it does not count", p.file))
	return nil
}
