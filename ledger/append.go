package ledger

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
)

// The write path: record puts a batch on disk whole or not at all. recover.go deals with what an interrupted one leaves.

const (
	pendingFile = privateFolder + "/pending"

	// overtaken is how many bytes other programs may append between the look at a file's length and the write.
	overtaken = 1 << 20
)

// ErrInDoubt means that the disk failed while recording, and again while undoing it. The next command on this book decides whether the
// batch is complete and counts, or is torn and does not.
var ErrInDoubt = errors.New("it is in doubt whether this was recorded")

// ErrChanged means that another program changed a file while a command used it.
var ErrChanged = errors.New("changed while the command ran")

func changed(file string) error { return fmt.Errorf("%s %w; try again", file, ErrChanged) }

// same reports whether nobody has replaced a file or written to it.
func same(was, is fs.FileInfo) bool {
	return os.SameFile(was, is) && was.Size() == is.Size() && was.ModTime().Equal(is.ModTime())
}

// record appends the batch to its file. last are the batches recorded before. The file must still be as the command saw it. The caller
// holds the exclusive lock, and nothing is pending. If record returns nil, the batch is durable. If it returns an error, the
// file is as it was, except with ErrInDoubt; begun reports whether it was written to in between. It never overwrites or
// removes bytes of other programs.
func (w *writing) record(last []batchAt) (begun bool, err error) {
	if n := len(w.p.batch); n > MaxBatch {
		return false, fmt.Errorf("these are %d MB of rows, and one command records at most %d MB; record them in parts", n>>20, MaxBatch>>20)
	}
	defer w.close()
	if err := w.prepare(); err != nil {
		return false, cannotRecord(err)
	}
	if err := w.setPending(&w.p); err != nil {
		// Nothing was appended. What pending may hold is not complete, or describes an empty batch.
		return false, cannotRecord(err, w.clearPending())
	}
	noted := false
	if err = w.write(); err == nil {
		noted, err = w.remember(&w.p, last)
	}
	if err == nil {
		err = w.clearPending()
	}
	switch {
	case err == nil, errors.Is(err, ErrInDoubt):
		return true, err
	case !w.begun:
		return false, cannotRecord(err, w.clearPending())
	}
	if undo := w.undo(noted, last); undo != nil {
		return true, fmt.Errorf("%w: %w; nor could it be taken off %s again: when the disk works, look whether it is there before you record it again", ErrInDoubt, first(err), w.p.file)
	}
	return true, cannotRecord(err, w.clearPending())
}

// cannotRecord returns one line that says why a command could not record. Further errors are left out, since they have the same cause.
func cannotRecord(errs ...error) error {
	err := first(errors.Join(errs...))
	if errors.Is(err, fs.ErrPermission) {
		return fmt.Errorf("cannot record: %w; where several people share the folder, give their group the right to write: chmod -R g+w", err)
	}
	return fmt.Errorf("cannot record: %w", err)
}

// first returns the first of joined errors.
func first(err error) error {
	if all, ok := err.(interface{ Unwrap() []error }); ok && len(all.Unwrap()) > 0 && strings.Contains(err.Error(), "\n") {
		return first(all.Unwrap()[0])
	}
	return err
}

// writing is a batch while it is appended to its file.
type writing struct {
	*Book
	p      pending
	was    fs.FileInfo // the file as the command saw it; nil if it did not exist
	grown  bool        // the file may have grown by whole lines since, if its header is still this
	header string
	f      DiskFile // opened to append
	begun  bool     // the file may have been written to
}

func (w *writing) close() {
	if w.f != nil {
		_ = w.f.Close() // what was written is synced, or an error is returned already
	}
}

// prepare opens the file, and adds a line end to the batch if the file lacks its last one.
func (w *writing) prepare() (err error) {
	if w.was == nil {
		w.p.before = -1
		return nil
	}
	if w.f, err = w.disk().OpenFile(w.Dir, w.p.file, os.O_RDWR|os.O_APPEND); err != nil {
		return err
	}
	var ended bool
	if w.p.before, ended, err = w.unchanged(); err == nil && !ended {
		w.p.batch = "\n" + w.p.batch
	}
	return err
}

// unchanged returns the length of the opened file, and whether its last line has its end. It returns ErrChanged if the file is not as the
// command saw it, or has lost its name.
func (w *writing) unchanged() (size int64, ended bool, err error) {
	is, err := w.f.Stat()
	if err != nil {
		return 0, false, err
	}
	if ended, err = w.ended(is.Size()); err != nil {
		return 0, false, err
	}
	if !same(w.was, is) {
		header := make([]byte, len(w.header))
		if _, err := w.f.ReadAt(header, 0); err != nil && err != io.EOF {
			return 0, false, err
		}
		if !w.grown || w.header == "" || !ended || !os.SameFile(w.was, is) || is.Size() < w.was.Size() || string(header) != w.header {
			return 0, false, changed(w.p.file)
		}
	}
	return is.Size(), ended, w.named()
}

// ended reports whether the file is empty or its last line has its end.
func (w *writing) ended(size int64) (bool, error) {
	if size == 0 {
		return true, nil
	}
	last := make([]byte, 1)
	if _, err := w.f.ReadAt(last, size-1); err != nil && err != io.EOF { // it may be shorter by now
		return false, err
	}
	return last[0] == '\n', nil
}

// named returns an error if the name of the opened file now belongs to another file.
func (w *writing) named() error {
	is, err := w.f.Stat()
	if err != nil {
		return err
	}
	there, err := w.disk().Lstat(w.Dir, w.p.file)
	if errors.Is(err, fs.ErrNotExist) || err == nil && !os.SameFile(is, there) {
		return changed(w.p.file)
	}
	return err
}

// write appends the batch and makes it durable.
func (w *writing) write() (err error) {
	if w.was == nil {
		if w.f, err = w.disk().OpenFile(w.Dir, w.p.file, os.O_RDWR|os.O_APPEND|os.O_CREATE|os.O_EXCL); err != nil {
			if errors.Is(err, fs.ErrExist) {
				return changed(w.p.file)
			}
			return err
		}
		w.begun = true
	} else if _, _, err := w.unchanged(); err != nil {
		return err
	}
	w.begun = true
	if _, err := w.f.Append([]byte(w.p.batch)); err != nil {
		return err
	}
	if err := w.f.Sync(); err != nil {
		return err
	}
	if w.was == nil {
		if err := w.disk().SyncDir(w.Dir, "."); err != nil {
			return err
		}
	}
	return w.arrived()
}

// arrived makes sure that the batch is in the file with its name. An editor that saved at this very moment may have replaced or
// overwritten the file with an older state.
func (w *writing) arrived() error {
	l, err := w.judge(&w.p)
	if err != nil {
		return err
	}
	if l.remains == wholeLeft {
		return nil
	}
	if err := w.named(); errors.Is(err, ErrChanged) {
		w.begun = false // the file that was written to has been replaced
		w.tell(fmt.Sprintf("another program saved %s at the moment of recording, and so saved the rows away; they are recorded again in what it saved", w.p.file))
		return err
	}
	return fmt.Errorf("%w: another program wrote to %s at this moment; look at its end before you record it again", ErrInDoubt, w.p.file)
}

// undo removes from the file what the batch has left there, durably. If .tarebook/last names the batch already, undo first makes it
// pending again and restores what was noted before: a crash in between then leaves all of it or nothing.
func (w *writing) undo(noted bool, last []batchAt) error {
	if noted {
		if err := w.setPending(&w.p); err != nil {
			return err
		}
		if _, err := w.setLast(last); err != nil {
			return err
		}
	}
	is, err := w.f.Stat()
	if err != nil {
		return err
	}
	if there, err := w.disk().Lstat(w.Dir, w.p.file); err != nil || !os.SameFile(is, there) {
		return err // the file that was written to has been replaced
	}
	l, err := w.judge(&w.p)
	if err != nil {
		return err
	}
	if l.remains == strangeLeft {
		return changed(w.p.file)
	}
	return w.takeOff(&w.p, l)
}

// setPending writes the batch to .tarebook/pending, durably. The names of the folder and of the file in it are synced each time, since
// their creator may have crashed before that.
func (b *Book) setPending(p *pending) (err error) {
	f, err := b.disk().OpenFile(b.Dir, pendingFile, os.O_RDWR|os.O_CREATE)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if p.id, err = f.ID(); err != nil {
		return err
	}
	if _, err := f.WriteAt([]byte(p.text()), 0); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	return errors.Join(b.disk().SyncDir(b.Dir, privateFolder), b.disk().SyncDir(b.Dir, "."))
}

// clearPending empties .tarebook/pending, durably. Otherwise a batch could come back as pending after a person has removed its last row.
func (b *Book) clearPending() (err error) {
	f, err := b.disk().OpenFile(b.Dir, pendingFile, os.O_RDWR)
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

// rest describes what a batch has left in its file.
type rest struct {
	remains remains
	at      int64  // where it begins in the file
	bytes   string // what of it is there
	empty   bool   // the file is new, and holds nothing else
}

// judge looks for a batch in its file.
func (b *Book) judge(p *pending) (r rest, err error) {
	f, err := b.disk().OpenFile(b.Dir, p.file, os.O_RDONLY)
	if errors.Is(err, fs.ErrNotExist) {
		if p.before >= 0 {
			r.remains = strangeLeft
		}
		r.empty = p.before < 0
		return r, nil
	}
	if err != nil {
		return r, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return r, err
	}
	if info.Size() < p.start() {
		return rest{remains: strangeLeft}, nil
	}
	most := int64(len(p.batch) + overtaken)
	tail := make([]byte, min(info.Size()-p.start(), most))
	if n, err := f.ReadAt(tail, p.start()); err != nil && err != io.EOF {
		return r, err
	} else {
		tail = tail[:n]
	}
	left, at, n := p.find(string(tail))
	if left == tornLeft && info.Size()-p.start() > most { // what was torn is at the end
		left = strangeLeft
	}
	r = rest{remains: left, at: p.start() + int64(at), bytes: string(tail[at : at+n])}
	r.empty = p.before < 0 && at == 0 && int64(n) == info.Size()
	return r, nil
}

// takeOff removes what a batch has left in its file, durably. If another program has appended after it, those bytes stay where they are,
// and the batch is overwritten by blank lines, which count as nothing.
func (b *Book) takeOff(p *pending, r rest) (err error) {
	if p.before < 0 && r.empty {
		if err := b.disk().Remove(b.Dir, p.file); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		return b.disk().SyncDir(b.Dir, ".")
	}
	f, err := b.disk().OpenFile(b.Dir, p.file, os.O_RDWR)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	if n := int64(len(r.bytes)); info.Size() <= r.at+n {
		err = f.Truncate(r.at)
	} else {
		_, err = f.WriteAt([]byte(strings.Repeat("\n", int(n))), r.at)
	}
	if err != nil {
		return err
	}
	return f.Sync()
}
