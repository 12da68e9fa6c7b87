package toolpath

import (
	"bytes"
	"errors"
	"io"
)

// Options say how a file is read. The zero value reads all of it by the rules of the package.
type Options struct {
	// More words of section comments for a class (the settings purge_words, prime_words and support_words). One of several
	// words matches them one after another.
	PurgeWords, PrimeWords, SupportWords []string
	// RelativeE reads every E word as relative, for files whose start macro sets that.
	RelativeE bool
	// OwnRegisters gives each tool an E register of its own, which stands still while another tool is picked.
	OwnRegisters bool
	// Volumetric, if not 0, reads E as mm3 of filament of that diameter, as if the file began with M200.
	Volumetric Length
	// Member names what to read of a zip container; blank for the first member that is G-code by its name.
	Member string
	// Sequence asks for File.Sequence.
	Sequence bool
	// Layer, if not nil, is called with every layer that uses filament, in order: when the layer is complete if the file numbers its
	// layers, else at the end. Its error ends the reading and is returned unchanged. It can't be combined with Until.
	Layer func(Layer) error
	// Until ends the reading early.
	Until Stop
}

// blockSize is how many bytes are read at a time. The commands of a line can't be longer.
const blockSize = 128 << 10

// errReached ends the reading at Options.Until.
var errReached = errors.New("the stop is reached")

// Read reads a sliced file to its end or to Options.Until: plain text, or compressed by gzip, or a member of a zip container,
// or blocks of binary G-code. name is for messages. A faulty file is an *Error, and then there is no File.
//
// A zip container needs random access: r, or what its method Unwrap() io.Reader returns, must be an io.ReaderAt with a method Size() int64
// or Stat() (fs.FileInfo, error), as os.File and bytes.Reader have.
func Read(r io.Reader, name string, o Options) (*File, error) { return newMachine(name, o).run(r) }

func (m *machine) run(r io.Reader) (*File, error) {
	text, err := m.open(r)
	if err != nil {
		return nil, m.broken(err)
	}
	err = m.read(text)
	text.Close()
	switch {
	case m.stopped != nil: // what comes after the stop doesn't matter, be it wrong
		return m.stopped, nil
	case err != nil && err != errReached:
		return nil, err
	case err == nil:
		for _, line := range text.said() {
			m.stated.read(line, 0)
		}
		m.judge()
	}
	if err := m.endLayer(); err != nil {
		return nil, err
	}
	for _, layer := range m.kept {
		if err := m.opts.Layer(layer); err != nil {
			return nil, err
		}
	}
	return m.answer(), nil
}

// read carries out a file, a block of whole lines at a time.
func (m *machine) read(r io.Reader) error {
	buf := make([]byte, m.block+1) // room for a line end that the file lacks
	kept := 0                      // bytes of a line whose end is to come
	for {
		n, err := fill(r, buf[kept:m.block])
		full := buf[:kept+n]
		m.zeros(full[kept:])
		end := lastLineEnd(full)
		if fault := m.lines(full[:end]); fault != nil {
			return fault
		}
		switch {
		case err == io.EOF:
			return m.lastLine(append(full[end:], '\n'))
		case err != nil:
			return m.broken(err)
		case end > 0:
			kept = copy(buf, full[end:])
			continue
		}
		if kept = trimmed(full); kept < m.block/2 { // a line of blanks, or of zeros that fill up a file
			continue
		}
		if kept, err = m.longLine(r, buf); err != nil {
			return err
		}
	}
}

// longLine reads a line that is longer than a block, of which buf is full, to its end. It returns how much of what
// follows, from the line end on, stands in buf.
func (m *machine) longLine(r io.Reader, buf []byte) (int, error) {
	full := buf[:m.block]
	comment := bytes.IndexByte(full, ';') >= 0
	if !comment {
		m.file.Lines++
		if start := bytes.TrimLeft(full, " \t\x00"); kinds[start[0]] < axes || bytes.IndexByte([]byte("GgNnMmTt/("), start[0]) >= 0 {
			return 0, m.fault("", "the line is longer than %d bytes", m.block)
		}
		m.note(NoteLong, "the line is longer than %d bytes and is left out", m.block)
		m.file.Lines--
	} else {
		// Carry out the line with the beginning of the comment, and drop the rest of it.
		if err := m.lines(append(full, '\n')); err != nil {
			return 0, err
		}
		m.file.Lines--
	}
	kept, err := drop(r, full)
	if err != nil && err != io.EOF {
		return 0, m.broken(err)
	}
	return kept, nil
}

// trimmed returns the length of b without the blanks and zeros at its end, but for one.
func trimmed(b []byte) int {
	return min(len(bytes.TrimRight(b, " \t\x00"))+1, len(b))
}

// zeros notes zero bytes that have other bytes after them. Zeros at the end only fill up a file.
func (m *machine) zeros(b []byte) {
	first := bytes.IndexByte(b, 0)
	if first < 0 {
		return
	}
	if rest := b[first:]; len(bytes.Trim(rest, "\x00\r\n\x1a")) > 0 && !m.has(NoteZeros) {
		m.noteAt(m.file.Lines+1, NoteZeros, "zero bytes from about here on, which are read as blanks; the file may be damaged")
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
	if len(bytes.TrimLeft(b, "\x00")) == 1 {
		return nil
	}
	m.moved = false
	err := m.lines(b)
	var e *Error
	switch {
	case errors.As(err, &e):
		e.Mend = "the file ends here and may be cut"
	case m.moved && b[len(b)-2] != '\r' && b[len(b)-2] != 0:
		m.note(NoteCut, "the file ends in a move without a line end; it may be cut")
	}
	return err
}
