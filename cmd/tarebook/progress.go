package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"tarebook/ledger"
)

// longFile is from how many bytes on it is shown how far a file has been read.
const longFile = 64 << 20

// progress is a reader of a file that shows on a terminal how far it has come, if the file is long.
type progress struct {
	io.Reader
	app  *app
	name string

	read, size int64 // size is 0 where nothing is shown
	shown      time.Time
}

func (a *app) progress(f *os.File, name string) *progress {
	p := &progress{Reader: f, app: a, name: ledger.Clean(filepath.Base(name)), shown: a.now()}
	if info, err := f.Stat(); err == nil && a.watched && info.Size() >= longFile {
		p.size = info.Size()
	}
	return p
}

func (p *progress) Read(b []byte) (int, error) {
	n, err := p.Reader.Read(b)
	if p.read += int64(n); p.size > 0 {
		if now := p.app.now(); now.Sub(p.shown) > 200*time.Millisecond {
			fmt.Fprintf(p.app.bar, "\r%s: %d %% of %d MB read", p.name, 100*p.read/p.size, p.size>>20)
			p.shown = now
		}
	}
	return n, err
}

// clear takes the line off the terminal.
func (p *progress) clear() {
	if p.size > 0 {
		fmt.Fprint(p.app.bar, "\r\x1b[K")
	}
}

// Unwrap returns the file, of which a zip container is read at random.
func (p *progress) Unwrap() io.Reader { return p.Reader }
