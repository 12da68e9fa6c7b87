package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"

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
	if err := maybe.WriteFile(a.path(o.Out), b.Bytes(), 0o644); err != nil {
		return err
	}
	return a.say(fmt.Sprintf("wrote %s, %d bytes", o.Out, b.Len()))
}
