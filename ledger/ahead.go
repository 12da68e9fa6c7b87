package ledger

import (
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Ahead is the consumption of a book that is being decoded before anybody has asked for it: a command begins with it while it still
// reads its own arguments. A view takes it over if the file is what that view is a snapshot of; else it was for nothing.
type Ahead struct {
	info   fs.FileInfo
	stream *rowStream
}

// Begin begins to decode the consumption of the book in a folder. It returns nil where there is none to read; a view tells why.
func Begin(dir string) *Ahead {
	f, err := os.Open(filepath.Join(dir, ConsumptionFile))
	if err != nil {
		return nil
	}
	info, err := f.Stat()
	if err != nil || !info.Mode().IsRegular() {
		f.Close()
		return nil
	}
	return &Ahead{info, newRowStream(limited(f, info.Size()), streamBlock)}
}

// Stop ends what was not taken over, and returns when its file is closed.
func (a *Ahead) Stop() {
	if a != nil && a.stream != nil {
		a.stream.stop()
		a.stream = nil
	}
}

// of returns the stream if it is what a view would read, and nil otherwise.
func (a *Ahead) of(v *View) *rowStream {
	if a == nil || a.stream == nil || v.stat == nil || a.info.Size() != v.size[ConsumptionFile] ||
		!os.SameFile(a.info, v.stat) || !a.info.ModTime().Equal(v.stat.ModTime()) {
		return nil
	}
	s := a.stream
	a.stream = nil
	return s
}

// limited is a file up to a size.
func limited(f *os.File, size int64) io.ReadCloser {
	return struct {
		io.Reader
		io.Closer
	}{io.LimitReader(f, size), f}
}
