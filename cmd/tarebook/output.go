package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"github.com/google/renameio/v2/maybe"
)

// output is the flag of a command that makes a document.
type output struct {
	Out string `help:"The file to write; else it goes to standard output." placeholder:"FILE"`
}

// write writes a document to its file, whole or not at all, or to standard output.
func (o *output) write(a *app, render func(io.Writer) error) error {
	if o.Out == "" {
		if a.terminal {
			return errors.New("this is nothing to read on a terminal; name a file with --out FILE")
		}
		return render(a.stdout)
	}
	var b bytes.Buffer
	if err := render(&b); err != nil {
		return err
	}
	path := a.path(o.Out)
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return fmt.Errorf("--out %s is a folder; name a file in it", o.Out)
	}
	if err := maybe.WriteFile(path, b.Bytes(), 0o644); err != nil {
		var failed *fs.PathError // it names a file that was to be renamed
		if errors.As(err, &failed) {
			err = failed.Err
		}
		return fmt.Errorf("--out %s: %w", o.Out, err)
	}
	return a.say(fmt.Sprintf("wrote %s, %d bytes", o.Out, b.Len()))
}
