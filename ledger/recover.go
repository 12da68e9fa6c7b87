package ledger

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// remains is what a command that died while it recorded has left.
type remains int

const (
	nothingLeft remains = iota // the batch had not reached the file
	wholeLeft                  // all of the batch is there
	tornLeft                   // a part of it is there
	strangeLeft                // the file was changed since by other hands
)

// judge tells what a pending batch has left in its file.
func (b *Book) judge(p *pending) (left remains, torn []byte, err error) {
	f, err := os.Open(filepath.Join(b.Dir, p.file))
	if errors.Is(err, fs.ErrNotExist) {
		if p.before < 0 {
			return nothingLeft, nil, nil
		}
		return strangeLeft, nil, nil
	}
	if err != nil {
		return 0, nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return 0, nil, err
	}
	size := info.Size()
	if size < p.start() {
		return strangeLeft, nil, nil
	}
	torn = make([]byte, min(size, p.end())-p.start())
	if _, err := f.ReadAt(torn, p.start()); err != nil && err != io.EOF {
		return 0, nil, err
	}
	switch {
	case string(torn) == p.batch:
		return wholeLeft, nil, nil
	case size > p.end(), !p.wrote(torn):
		return strangeLeft, nil, nil
	case size == p.start():
		return nothingLeft, nil, nil
	default:
		return tornLeft, torn, nil
	}
}

// readPending returns the batch that a dead command has left pending, nil when there is none. left tells whether there is
// anything to tidy up.
func (b *Book) readPending() (p *pending, left bool, err error) {
	text, err := os.ReadFile(filepath.Join(b.Dir, privateFolder, pendingFile))
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(text) == 0 {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, err
	}
	if q, ok := parsePending(string(text)); ok {
		return &q, true, nil
	}
	return nil, true, nil // not whole: its batch was never begun
}

// recover makes an end of what a dead command has left pending: a batch that is whole is made durable and counts; of any
// other nothing stays in the ledger, and its bytes are kept in a file of their own. Each step can be repeated, so it may
// itself be cut short. The exclusive lock is held.
func (b *Book) recover() error {
	p, left, err := b.readPending()
	if err != nil || !left {
		return err
	}
	if p == nil {
		return b.clearPending()
	}
	found, torn, err := b.judge(p)
	if err != nil {
		return err
	}
	var told string
	switch found {
	case wholeLeft:
		told = fmt.Sprintf("a command that ended too early had recorded in %s all that it meant to (%d bytes); it counts", p.file, len(p.batch))
		err = b.makeDurable(p.file)
	case strangeLeft:
		told = fmt.Sprintf("a command that ended too early was recording in %s, which has been changed by other hands since; it is left as it is: look at its end", p.file)
	case tornLeft:
		var kept string
		if kept, err = b.keep(p, torn); err == nil {
			told = fmt.Sprintf("a command that ended too early had written %d of %d bytes to %s; none of them counts, they are kept in %s; record it again",
				len(torn), len(p.batch), p.file, kept)
			err = b.cut(p)
		}
	case nothingLeft:
		told = fmt.Sprintf("a command that ended too early had recorded nothing yet in %s; record it again", p.file)
		err = b.cut(p)
	}
	if err != nil {
		return fmt.Errorf("cannot tidy up after a command that ended too early: %w", err)
	}
	if err := b.clearPending(); err != nil {
		return err
	}
	b.tell(told)
	return nil
}

// makeDurable syncs a batch that a dead command may not have synced.
func (b *Book) makeDurable(file string) (err error) {
	f, err := b.disk().OpenFile(filepath.Join(b.Dir, file), os.O_RDWR)
	if err != nil {
		return err
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	return b.disk().SyncDir(b.Dir)
}

// keep writes torn bytes to a file of their own, durably, and returns its name. The name follows from the bytes.
func (b *Book) keep(p *pending, torn []byte) (name string, err error) {
	sum := sha256.Sum256(torn)
	name = filepath.Join(privateFolder, fmt.Sprintf("torn-%s-%d-%x", p.file, p.start(), sum[:4]))
	f, err := b.disk().OpenFile(filepath.Join(b.Dir, name), os.O_RDWR|os.O_CREATE)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if _, err := f.WriteAt(torn, 0); err != nil {
		return "", err
	}
	if err := f.Sync(); err != nil {
		return "", err
	}
	return filepath.ToSlash(name), b.disk().SyncDir(filepath.Join(b.Dir, privateFolder))
}

func (b *Book) tell(text string) {
	if b.Tell != nil {
		b.Tell(text)
	}
}

// without takes a pending batch out of a snapshot when it cannot be tidied up: of a book that may only be looked at, on a full
// disk, or because another command holds the lock.
func (b *Book) without(v *View, p *pending) error {
	size, ok := v.size[p.file]
	if !ok || size <= p.start() {
		return nil
	}
	found, _, err := b.judge(p)
	if err != nil || found != tornLeft {
		return err
	}
	v.cut(p)
	b.tell(fmt.Sprintf("a command that ended too early has left part of a batch at the end of %s; it does not count", p.file))
	return nil
}
