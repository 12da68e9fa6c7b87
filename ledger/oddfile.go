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

// What stands in the folder of a book and is no sound file of it: one that lost its header, something that is no file, and
// copies of ledgers that a folder synchroniser left beside them.

// noHeader is the fault of a file that holds nothing, not even the header that each file of a book is made with: it was
// emptied, and to take it for a ledger without rows would be to forget them in silence.
func noHeader(file string) Faults {
	return Faults{{file, 0, "the file is empty, its header gone too", "bring it back from a copy, or if it never had a row write its header: " + strings.TrimSpace(Header(file))}}
}

// notRegular is the fault of what stands in place of a file of the book; nil for a regular file. A link is refused wherever it
// leads: a book that came from elsewhere must not name other files of this machine.
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

// beingMade reports whether a file that the snapshot found empty was being made by a command at that moment. That is seen only
// where no lock can be taken: the file holds its first batch by now, or is gone.
func (v *View) beingMade(file string) bool {
	info, err := v.book.disk().Lstat(v.book.Dir, file)
	return errors.Is(err, fs.ErrNotExist) || err == nil && info.Size() > 0
}

// headerLimit bounds what is read of a file beside the ledgers to see its header.
const headerLimit = 64 << 10

// copies returns the CSV files in the folder of the book that are copies of its files, and of which.
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

// isOwn tells whether a file is one of the book under another spelling, as on disks that fold the case of names.
func (v *View) isOwn(e fs.DirEntry) bool {
	name := strings.ToLower(e.Name())
	if !slices.Contains(allFiles, name) {
		return false
	}
	other, err1 := e.Info()
	own, err2 := os.Lstat(filepath.Join(v.book.Dir, name))
	return err1 == nil && err2 == nil && os.SameFile(other, own)
}

// foreignHeader returns the header of a file that is none of the book's; nil where none can be read, which is no concern of the
// book.
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

// copyOf returns the file of the book that a CSV file with that header is a copy of, "" when it is of none: it has exactly the
// columns of the contract, or a name that begins as that file's and all the columns that may not be absent. Less would take our
// own reports for copies, whose columns bear the same names.
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
