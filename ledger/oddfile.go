package ledger

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Things in the folder of a book that are no sound files of it: a file without its header, a folder or link in place of a file, and copies
// of ledgers that a folder synchroniser left.

// noHeader returns the fault of an empty file. Every file of a book is created with a header, so it was emptied. Reading it as a ledger
// without rows would silently forget them.
func noHeader(file string) Faults {
	return Faults{{file, 0, "the file is empty, its header gone too", "bring it back from a copy, or if it never had a row write its header: " + strings.TrimSpace(Header(file))}}
}

// notRegular returns the fault of something that is not a regular file, nil for a regular file. Links are refused wherever they lead: a
// book from a stranger must not name other files of this machine.
func notRegular(file string, mode fs.FileMode) Faults {
	what := "something that is no file"
	switch {
	case mode.IsRegular():
		return nil
	case mode.IsDir():
		what = "a folder"
	case mode&fs.ModeSymlink != 0:
		what = "a symbolic link"
	}
	return Faults{{file, 0, what + " stands here", "put the file itself in its place"}}
}

// beingMade reports whether a file that was empty in the snapshot was being created by a command at that moment: by now it has its first
// batch, or is gone. That happens only where no lock can be taken.
func (v *View) beingMade(file string) bool {
	info, err := v.book.disk().Lstat(v.book.Dir, file)
	return errors.Is(err, fs.ErrNotExist) || err == nil && info.Size() > 0
}

// headerLimit is how many bytes of a file beside the ledgers are read to find its header.
const headerLimit = 64 << 10

// copies returns the CSV files in the folder that look like copies of the book's files, and for each the file that it copies.
func (v *View) copies() (of map[string]string, err error) {
	entries, err := os.ReadDir(v.book.Dir)
	if err != nil {
		return nil, err
	}
	of = map[string]string{}
	for _, e := range entries {
		name := e.Name()
		if !e.Type().IsRegular() || slices.Contains(allFiles, name) || !strings.EqualFold(filepath.Ext(name), ".csv") || v.isOwn(e) {
			continue
		}
		if header := v.foreignHeader(name); header != nil {
			if file := copyOf(name, header); file != "" {
				of[name] = file
			}
		}
	}
	return of, nil
}

// isOwn reports whether a file is one of the book's under another spelling, on a disk that ignores the case of names.
func (v *View) isOwn(e fs.DirEntry) bool {
	name := strings.ToLower(e.Name())
	if !slices.Contains(allFiles, name) {
		return false
	}
	other, err1 := e.Info()
	own, err2 := os.Lstat(filepath.Join(v.book.Dir, name))
	return err1 == nil && err2 == nil && os.SameFile(other, own)
}

// foreignHeader returns the header of a file that is not one of the book's; nil if none can be read.
func (v *View) foreignHeader(name string) []string {
	f, err := os.OpenInRoot(v.book.Dir, name)
	if err != nil {
		return nil
	}
	defer f.Close()
	record, _, _, err := newScanner(io.LimitReader(f, headerLimit), headerLimit).next()
	if err != nil {
		return nil
	}
	for i := range record {
		record[i] = Trim(record[i])
	}
	return record
}

// copyOf returns the file of the book that a CSV file looks like a copy of, "" if none. A copy has exactly the columns of that file, or
// its name begins like that file's and it has all required columns. A weaker rule would take the program's own reports for
// copies, since their columns have the same names.
func copyOf(name string, header []string) string {
	for _, file := range allFiles {
		columns := columnsByFile()[file]
		lacks := func(column string) bool { return !slices.Contains(header, column) }
		if len(header) == len(columns) && !slices.ContainsFunc(columns, lacks) {
			return file
		}
		stem := strings.TrimSuffix(file, filepath.Ext(file))
		needed := func(column string) bool { return !mayBeAbsent(file, column) && lacks(column) }
		if len(name) > len(stem) && strings.EqualFold(name[:len(stem)], stem) && !slices.ContainsFunc(columns, needed) {
			return file
		}
	}
	return ""
}

// checkCopies reports copies of the book's files.
func (c *verification) checkCopies() error {
	of, err := c.v.copies()
	for name, file := range of {
		c.add(name, 0, "", fmt.Sprintf("it looks like a copy of %s, and its rows count nowhere; add those that %s lacks to it (one that stands there twice counts once), then take the copy out of the folder", file, file))
	}
	return err
}
