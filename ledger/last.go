package ledger

import (
	"bufio"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
)

// The file .tarebook/last names what this copy of the book recorded last in each of its files, so that void --last cancels
// that whatever a merge has brought, and that rows which another program saved away are missed.

const (
	lastFile    = privateFolder + "/last"
	newLastFile = privateFolder + "/last-new"
	maxLast     = 16 << 10 // bytes of .tarebook/last, which has a line for each file of the book
)

// batchAt is a batch where it was recorded.
type batchAt struct {
	file    string
	at, n   int64
	sum     string // SHA-256 of its bytes
	entries span
}

func (l *batchAt) String() string {
	return fmt.Sprintf("%s %d %d %s %s", l.file, l.at, l.n, l.sum, l.entries)
}

// lastText is what stands in .tarebook/last: the ID of that file, a line a batch with the last one below, and a check.
func lastText(id string, batches []batchAt) string {
	var text strings.Builder
	fmt.Fprintln(&text, id)
	for i := range batches {
		fmt.Fprintln(&text, &batches[i])
	}
	return text.String() + check(text.String()) + "\n"
}

// parseLast reads the text of .tarebook/last; ok is false when it is not whole, or comes from another folder.
func parseLast(id, text string) (batches []batchAt, ok bool) {
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if len(lines) < 2 || lines[0] != id {
		return nil, false
	}
	for _, line := range lines[1 : len(lines)-1] {
		words := strings.Split(line, " ")
		if len(words) != 7 {
			return nil, false
		}
		l := batchAt{file: words[0], sum: words[3]}
		n, err := fmt.Sscan(words[1]+" "+words[2], &l.at, &l.n)
		if l.entries, ok = parseSpan(words[4], words[5], words[6]); !ok || n != 2 || err != nil || !slices.Contains(appended, l.file) {
			return nil, false
		}
		batches = append(batches, l)
	}
	return batches, lastText(id, batches) == text
}

// readLast reads .tarebook/last. known is false when it is there and was not written in this folder.
func (b *Book) readLast() (batches []batchAt, known bool, err error) {
	f, err := b.disk().OpenFile(b.Dir, lastFile, os.O_RDONLY)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, true, nil
	}
	if err != nil {
		return nil, false, err
	}
	defer f.Close()
	id, err := f.ID()
	if err != nil {
		return nil, false, err
	}
	text := make([]byte, maxLast+1)
	n, err := f.ReadAt(text, 0)
	if err != nil && err != io.EOF {
		return nil, false, err
	}
	batches, known = parseLast(id, string(text[:n]))
	return batches, known, nil
}

// remember notes, durably, that a batch was recorded last, after others. The batch is durable and still pending. noted reports
// whether .tarebook/last may name it, also when there is an error.
func (b *Book) remember(p *pending, others []batchAt) (noted bool, err error) {
	if p.entries.rows == 0 { // a file of a new book
		return false, nil
	}
	r, err := b.judge(p)
	if err != nil {
		return false, err
	}
	batches := slices.DeleteFunc(slices.Clone(others), func(l batchAt) bool { return l.file == p.file })
	return b.setLast(append(batches, batchAt{p.file, r.at, int64(len(r.bytes)), sum(r.bytes), p.entries}))
}

// setLast makes .tarebook/last name the batches, durably. named reports whether it may do so, also when there is an error.
func (b *Book) setLast(batches []batchAt) (named bool, err error) {
	if len(batches) == 0 {
		if err := b.disk().Remove(b.Dir, lastFile); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return false, err
		}
		return true, b.disk().SyncDir(b.Dir, privateFolder)
	}
	// A new file takes the place of the old one, so that what is known of other files survives a crash here.
	f, err := b.disk().OpenFile(b.Dir, newLastFile, os.O_RDWR|os.O_CREATE)
	if err != nil {
		return false, err
	}
	id, err := f.ID()
	if err == nil {
		err = f.Truncate(0)
	}
	if err == nil {
		_, err = f.WriteAt([]byte(lastText(id, batches)), 0)
	}
	if err == nil {
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return false, err
	}
	if err := b.disk().Rename(b.Dir, newLastFile, lastFile); err != nil {
		return false, err
	}
	return true, b.disk().SyncDir(b.Dir, privateFolder)
}

// missed returns the batches that are where they were recorded, or elsewhere in their file. Of each that is gone it tells:
// another program has saved an older state of that file, or a person has taken the rows out.
func (b *Book) missed() (there []batchAt, err error) {
	all, known, err := b.readLast()
	if err != nil {
		return nil, err
	}
	if !known {
		b.tell(privateFolder + " came here in a copy of the folder, by git or in an archive for example; it is no part of the book, and what it says of the last command is not believed")
	}
	for _, l := range all {
		found, err := b.still(&l)
		if err != nil {
			return nil, err
		}
		if found {
			there = append(there, l)
			continue
		}
		rows := l.entries.first
		if l.entries.rows > 1 {
			rows += " to " + l.entries.last
		}
		b.tell(fmt.Sprintf("the rows recorded last in %s (%s) are no longer in it, and others may be gone too: another program has saved an older state of it, or somebody took them out; look, and record again what is missing", l.file, rows))
	}
	return there, nil
}

// still tells whether a batch is still in its file, and notes where. Rows without entries can't be told from others once
// they have moved, so these count as there.
func (b *Book) still(l *batchAt) (bool, error) {
	if l.entries.first == "" {
		return true, nil
	}
	f, err := b.disk().OpenFile(b.Dir, l.file, os.O_RDONLY)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	defer f.Close()
	if l.n > 0 && l.n <= MaxBatch {
		batch := make([]byte, l.n)
		if n, err := f.ReadAt(batch, l.at); err != nil && err != io.EOF {
			return false, err
		} else if sum(string(batch[:n])) == l.sum {
			return true, nil
		}
	}
	// It has moved if rows before it were edited; then its last entry is elsewhere.
	info, err := f.Stat()
	if err != nil {
		return false, err
	}
	in := bufio.NewScanner(io.NewSectionReader(f, 0, info.Size()))
	in.Buffer(nil, 1<<20)
	at := int64(0)
	for in.Scan() {
		if strings.Contains(in.Text(), l.entries.last) {
			l.at = at
			return true, nil
		}
		at += int64(len(in.Bytes())) + 1
	}
	return false, in.Err()
}

// LastCommand returns the live rows of the command that this copy of the book recorded last.
func (v *View) LastCommand() ([]Located, error) {
	batches, _, err := v.book.readLast()
	if err != nil {
		return nil, err
	}
	if len(batches) == 0 {
		return nil, errors.New("no command is known to have recorded anything in this copy of the book; name the one to cancel, as tarebook recent shows it")
	}
	l := batches[len(batches)-1]
	if l.entries.first == "" || l.file == Seals {
		return nil, fmt.Errorf("the last command recorded in %s, which no void reaches", l.file)
	}
	cancelled := false
	rows, err := v.Lookup(func(h *Head) bool { return l.entries.first <= h.ID && h.ID <= l.entries.last })
	rows = slices.DeleteFunc(rows, func(row Located) bool {
		hidden := v.Hidden(row.Row.head().ID)
		cancelled = cancelled || hidden
		return hidden || row.File != l.file
	})
	switch {
	case err != nil:
		return nil, err
	case len(rows) == 0 && cancelled:
		return nil, fmt.Errorf("the last command, which recorded in %s, is cancelled already; name another, as tarebook recent shows it", l.file)
	case len(rows) == 0:
		return nil, fmt.Errorf("the rows that the last command recorded in %s are no longer in it", l.file)
	}
	return rows, nil
}

func sum(text string) string { return fmt.Sprintf("%x", sha256.Sum256([]byte(text))) }
