package toolpath

import (
	"bufio"
	"bytes"
	"compress/flate"
	"compress/gzip"
	"errors"
	"io"
)

// Options say how a file is read; the zero value reads all of it by the rules alone.
type Options struct {
	// More words of section comments for a class (the settings purge_words, prime_words and support_words). One of several
	// words matches them one after another.
	PurgeWords, PrimeWords, SupportWords []string
	// Sequence asks for File.Sequence.
	Sequence bool
	// Layer, if not nil, is called with every layer that uses filament, in their order, each when it is complete. Its error
	// ends the reading and is returned as it is.
	Layer func(Layer) error
	// Until ends the reading early.
	Until Stop
}

// blockSize is read at a time; a line's commands can't be longer.
const blockSize = 128 << 10

// errReached ends the reading where Options.Until says.
var errReached = errors.New("the stop is reached")

// Read reads a sliced file, plain or compressed by gzip, to its end or to Options.Until. name is for messages. What is
// wrong with the file is an *Error, and then there is no File.
func Read(r io.Reader, name string, o Options) (*File, error) {
	return newMachine(name, o).run(r)
}

func (m *machine) run(r io.Reader) (*File, error) {
	r, err := plain(r)
	if err != nil {
		return nil, m.broken(err)
	}
	switch err := m.read(r); err {
	case nil:
	case errReached:
		m.file.Stopped = &Point{Line: m.file.Lines, Layer: max(m.layer.Layer, 1), Z: m.layer.Z, Tool: m.tool}
	default:
		return nil, err
	}
	if err := m.endLayer(); err != nil {
		return nil, err
	}
	for _, t := range m.tools {
		if t != nil && t.used > 0 {
			m.file.Tools = append(m.file.Tools, t.Tool)
		}
	}
	if m.total == 0 && m.file.Stopped == nil {
		m.warn("nothing is extruded")
	}
	return &m.file, nil
}

// plain undoes compression by gzip, which its first two bytes tell (RFC 1952, 2.3.1), and skips a byte order mark.
func plain(r io.Reader) (io.Reader, error) {
	b := bufio.NewReaderSize(r, 4<<10)
	head, err := b.Peek(2)
	if err != nil && err != io.EOF {
		return nil, err
	}
	if string(head) == "\x1f\x8b" {
		z, err := gzip.NewReader(b)
		if err != nil {
			return nil, err
		}
		b = bufio.NewReaderSize(z, 4<<10)
	}
	head, err = b.Peek(3)
	if err != nil && err != io.EOF {
		return nil, err
	}
	if string(head) == "\ufeff" {
		b.Discard(3)
	}
	return b, nil
}

// broken tells of a stream that can't be read.
func (m *machine) broken(err error) error {
	e := &Error{Name: m.name, Line: m.file.Lines + 1, What: err.Error(), Err: err}
	var corrupt flate.CorruptInputError
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF):
		e.What, e.Mend = "the compressed file is cut", "copy it again"
	case errors.Is(err, gzip.ErrHeader), errors.Is(err, gzip.ErrChecksum), errors.As(err, &corrupt):
		e.What, e.Mend = "the compressed file is damaged", "copy it again"
	}
	return e
}

// read carries out a file, a block of whole lines at a time.
func (m *machine) read(r io.Reader) error {
	buf := make([]byte, m.block+1) // room for a line end that the file lacks
	kept := 0                      // bytes of a line whose end is to come
	for {
		n, err := fill(r, buf[kept:m.block])
		full := buf[:kept+n]
		nul := bytes.IndexByte(full, 0)
		if nul >= 0 {
			full = full[:nul]
		}
		end := lastLineEnd(full)
		if fault := m.lines(full[:end]); fault != nil {
			return fault
		}
		switch {
		case nul >= 0:
			m.file.Lines++
			return m.fault("read the G-code as text, or export it again", "a zero byte: a binary file, or a damaged one")
		case err == io.EOF:
			return m.lastLine(append(full[end:], '\n'))
		case err != nil:
			return m.broken(err)
		case end > 0:
			kept = copy(buf, full[end:])
			continue
		}
		if bytes.IndexByte(full, ';') < 0 {
			m.file.Lines++
			return m.fault("", "the line is longer than %d bytes", m.block)
		}
		// The rest of so long a comment is dropped, and the line end after it taken for the line's.
		if err := m.lines(append(full, '\n')); err != nil {
			return err
		}
		m.file.Lines--
		if kept, err = drop(r, buf[:m.block]); err != nil && err != io.EOF {
			return m.broken(err)
		}
	}
}

// fill reads until b is full or the stream ends. io.ReadFull would hide a cut below it.
func fill(r io.Reader, b []byte) (n int, err error) {
	for n < len(b) && err == nil {
		var more int
		more, err = r.Read(b[n:])
		n += more
	}
	return n, err
}

// drop reads up to a line end, and leaves it and what was read after it in b.
func drop(r io.Reader, b []byte) (kept int, err error) {
	for err == nil {
		var n int
		n, err = r.Read(b)
		if end := bytes.IndexAny(b[:n], "\r\n"); end >= 0 {
			return copy(b, b[end:n]), err
		}
	}
	return 0, err
}

// lastLineEnd returns the length of b up to its last line end. A CR at the very end may want its LF.
func lastLineEnd(b []byte) int {
	if end := bytes.LastIndexByte(b, '\n'); end >= 0 {
		return end + 1
	}
	return bytes.LastIndexByte(b[:max(len(b)-1, 0)], '\r') + 1
}

// lines carries out whole lines.
func (m *machine) lines(b []byte) (err error) {
	for i := 0; i < len(b); {
		m.file.Lines++
		if i, err = m.line(b, i); err != nil {
			return err
		}
	}
	return nil
}

// lastLine carries out what stands after the last line end, b less its own.
func (m *machine) lastLine(b []byte) error {
	if len(b) == 1 {
		return nil
	}
	m.moved = false
	err := m.lines(b)
	var e *Error
	switch {
	case errors.As(err, &e):
		e.Mend = "the file ends here and may be cut"
	case m.moved && b[len(b)-2] != '\r':
		m.warn("the file ends in a move without a line end; it may be cut")
	}
	return err
}
