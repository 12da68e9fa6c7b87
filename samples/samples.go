// Package samples holds the demo book with a sliced file, and a generator of big books for benchmarks.
//
// The demo is four months of an invented two-person workshop: three printers, four clients, 22 spools.
// Its rows are written out as CSV in demo/, to be read beside this package; nothing computes them.
// Seen at DemoAsOf its queue has one job that runs short, one that is marginal and three that can finish.
// In sheets/ are spreadsheets of that workshop as CSV, for the examples of import; they are not embedded.
// Start with CopyDemo, or with Big.WriteTo.
package samples

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
)

//go:embed demo/*.csv demo/*.gcode
var demo embed.FS

// DemoAsOf is the instant, RFC 3339, at which the demo book is looked at: the morning after its last row.
const DemoAsOf = "2026-11-09T09:00:00+01:00"

// CopyDemo writes the demo book into dir, which it creates. It never overwrites: if any of the files is
// there already, none is written and errors.Is finds fs.ErrExist in the error.
func CopyDemo(dir string) (err error) {
	files, err := fs.Glob(demo, "demo/*")
	if err != nil {
		return err
	}
	var taken []error
	for _, file := range files {
		name := filepath.Join(dir, path.Base(file))
		if _, err := os.Lstat(name); err == nil {
			taken = append(taken, &fs.PathError{Op: "copy demo", Path: name, Err: fs.ErrExist})
		} else if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	if len(taken) > 0 {
		return errors.Join(taken...)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}

	// What was written is taken back on trouble: half a book would pass for a book.
	var written []string
	defer func() {
		if err != nil {
			for _, name := range written {
				err = errors.Join(err, os.Remove(name))
			}
		}
	}()
	for _, file := range files {
		rows, err := demo.ReadFile(file)
		if err != nil {
			return err
		}
		name := filepath.Join(dir, path.Base(file))
		f, err := create(name)
		if err != nil {
			return err
		}
		written = append(written, name)
		_, err = f.Write(rows)
		if err := errors.Join(err, f.Close()); err != nil {
			return fmt.Errorf("write %s: %w", name, err)
		}
	}
	return nil
}

// create makes a new file and refuses one that is there.
func create(name string) (*os.File, error) {
	return os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
}
