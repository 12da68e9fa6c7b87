package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"tarebook/reports"
)

var errTerminal = errors.New("this is nothing to read on a terminal; name a file with --out FILE")

// output is the flag of a command that makes a document.
type output struct {
	Out string `about:"The file to write; else, or with -, it goes to standard output." value:"FILE"`
}

// file reports whether a file is named; - is standard output, also a terminal.
func (o *output) file() bool { return o.Out != "" && o.Out != "-" }

// write writes a document to its file, whole or not at all, or to standard output.
func (o *output) write(a *app, render func(io.Writer) error) error {
	if o.Out == "" && a.terminal {
		return errTerminal
	}
	if !o.file() {
		return render(a.stdout)
	}
	var b bytes.Buffer
	if err := render(&b); err != nil {
		return err
	}
	path, mode, err := o.place(a)
	if err != nil {
		return err
	}
	if mode.IsRegular() {
		err = replaceFile(path, b.Bytes(), mode)
	} else { // a device or a pipe: a rename would put a file in its place
		err = pour(path, b.Bytes())
	}
	if err != nil {
		var failed *fs.PathError // it names a file that was to be renamed
		if errors.As(err, &failed) {
			err = failed.Err
		}
		return fmt.Errorf("--out %s: %w", o.Out, err)
	}
	a.durable = true
	return a.say(fmt.Sprintf("wrote %s, %d bytes", o.Out, b.Len()))
}

// place finds where to write, past links, and the mode of what stands there or will. In the book's folder a document takes
// the place of nothing but a document.
func (o *output) place(a *app) (path string, mode fs.FileMode, err error) {
	path, mode = a.path(o.Out), 0o644
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	info, err := os.Stat(path)
	exists := err == nil
	if exists {
		mode = info.Mode() &^ (fs.ModeSetuid | fs.ModeSetgid | fs.ModeSticky)
	} else if folder, err := os.Stat(filepath.Dir(path)); err != nil || !folder.IsDir() {
		return "", 0, fmt.Errorf("--out %s: there is no folder %s to write it in", o.Out, filepath.Dir(o.Out))
	}
	if mode.IsDir() || os.IsPathSeparator(o.Out[len(o.Out)-1]) {
		return "", 0, fmt.Errorf("--out %s is a folder; name a file in it", o.Out)
	}
	if mode&0o222 == 0 { // the rename would not ask
		return "", 0, fmt.Errorf("--out %s may not be written; name another file, or allow it with: chmod u+w", o.Out)
	}
	book, err := a.book()
	if err != nil {
		return "", 0, err
	}
	inside, err := within(path, book.Dir)
	switch {
	case err != nil:
		return path, mode, nil // the writing will say so
	case inside == "":
	case strings.EqualFold(filepath.Ext(path), ".csv"), strings.HasPrefix(inside, "."):
		return "", 0, fmt.Errorf("--out %s would stand among the files of the book; name one elsewhere", o.Out)
	case exists && mode.IsRegular():
		ours, err := reports.IsDocument(path)
		if err != nil {
			return "", 0, fmt.Errorf("--out %s: %w", o.Out, err)
		}
		if !ours {
			return "", 0, fmt.Errorf("--out %s would take the place of a file in the book that tarebook has not made; name another", o.Out)
		}
	}
	return path, mode, nil
}

// within returns the name of a file in a folder or below it, blank if it is elsewhere.
func within(file, folder string) (string, error) {
	parent, err := filepath.EvalSymlinks(filepath.Dir(file))
	if err != nil {
		return "", err
	}
	if folder, err = filepath.EvalSymlinks(folder); err != nil {
		return "", err
	}
	if parent, err = filepath.Abs(parent); err != nil {
		return "", err
	}
	if folder, err = filepath.Abs(folder); err != nil {
		return "", err
	}
	name, err := filepath.Rel(folder, filepath.Join(parent, filepath.Base(file)))
	if err != nil || !filepath.IsLocal(name) {
		return "", nil // on another volume, or above
	}
	return name, nil
}

// pour writes to what is there and no plain file.
func pour(path string, b []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	return errors.Join(err, f.Close())
}
