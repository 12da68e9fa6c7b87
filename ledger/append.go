package ledger

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// The write path: record puts a batch on disk whole or not at all. What is left behind where it is cut short is the work of
// recover.go.

const pendingFile = "pending"

// ErrInDoubt says that the disk failed both in recording and in taking back what had been written: the next command on
// this book decides whether the batch is whole and counts, or is torn and does not.
var ErrInDoubt = errors.New("it is in doubt whether this was recorded")

// record appends text to file, which must still be size bytes long; -1: it is not there yet. The exclusive lock is held
// and nothing is pending. When record returns nil the text is durable. When it returns an error the file is as it was,
// but for ErrInDoubt.
func (b *Book) record(file string, size int64, text []byte) (err error) {
	name := filepath.Join(b.Dir, file)
	if size >= 0 {
		if text, err = b.continued(name, size, text); err != nil {
			return cannotRecord(err)
		}
	}
	p := pending{file, size, string(text)}
	if err := b.setPending(&p); err != nil {
		// Nothing was appended. What may be left there is not whole, or speaks of an append of nothing.
		return cannotRecord(errors.Join(err, b.clearPending()))
	}
	opened, err := b.write(name, &p, text)
	if err == nil {
		err = b.clearPending()
	}
	if err == nil {
		return nil
	}
	if opened {
		if undo := b.cut(&p); undo != nil {
			return fmt.Errorf("%w: %w; nor could it be taken off %s again: when the disk works, look whether it is there before you record it again", ErrInDoubt, err, file)
		}
	}
	return cannotRecord(errors.Join(err, b.clearPending()))
}

func cannotRecord(err error) error { return fmt.Errorf("cannot record: %w", err) }

// continued returns text as it must follow what the file holds: after a last line without its end comes that end first.
func (b *Book) continued(name string, size int64, text []byte) ([]byte, error) {
	f, err := b.disk().OpenFile(name, os.O_RDWR)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	end, err := f.Size()
	if err != nil {
		return nil, err
	}
	if end != size {
		return nil, fmt.Errorf("%s changed while the command ran; try again", filepath.Base(name))
	}
	if end == 0 {
		return text, nil
	}
	last := make([]byte, 1)
	if _, err := f.ReadAt(last, end-1); err != nil {
		return nil, err
	}
	if last[0] != '\n' {
		text = append([]byte("\n"), text...)
	}
	return text, nil
}

// write appends the batch; opened tells whether the file may now differ from what it was.
func (b *Book) write(name string, p *pending, text []byte) (opened bool, err error) {
	flag := os.O_RDWR
	if p.before < 0 {
		flag |= os.O_CREATE | os.O_EXCL
	}
	f, err := b.disk().OpenFile(name, flag)
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if _, err := f.WriteAt(text, p.start()); err != nil {
		return true, err
	}
	if err := f.Sync(); err != nil {
		return true, err
	}
	if p.before < 0 {
		return true, b.disk().SyncDir(b.Dir)
	}
	return true, nil
}

// setPending makes known, durably, that a batch is about to be appended. The names of the folder and of the file in it
// are synced each time: who made them may have died before it did so.
func (b *Book) setPending(p *pending) (err error) {
	private := filepath.Join(b.Dir, privateFolder)
	f, err := b.disk().OpenFile(filepath.Join(private, pendingFile), os.O_RDWR|os.O_CREATE)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if _, err := f.WriteAt([]byte(p.text()), 0); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	return errors.Join(b.disk().SyncDir(private), b.disk().SyncDir(b.Dir))
}

// clearPending says, durably, that nothing is pending. Were it not durable, a batch could come back as pending after a
// person has taken its last row out.
func (b *Book) clearPending() (err error) {
	f, err := b.disk().OpenFile(filepath.Join(b.Dir, privateFolder, pendingFile), os.O_RDWR)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if err := f.Truncate(0); err != nil {
		return err
	}
	return f.Sync()
}

// cut takes off a file all from the beginning of the pending batch on, durably.
func (b *Book) cut(p *pending) (err error) {
	name := filepath.Join(b.Dir, p.file)
	if p.before < 0 {
		if err := b.disk().Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		return b.disk().SyncDir(b.Dir)
	}
	f, err := b.disk().OpenFile(name, os.O_RDWR)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if err := f.Truncate(p.before); err != nil {
		return err
	}
	return f.Sync()
}
