package ledger

import (
	"errors"
	"io"
	"strings"
	"sync"
)

// Consumption grows without bound, so it is streamed in blocks of whole records. Two decode them: a goroutine, from the moment that
// it is asked for and so while the caller still reads the small files that rows refer to; and the caller, when it would have to wait for
// the next block. Blocks are folded in the order of the file, so nobody can tell but by the clock.

const (
	streamBlock = 8 << 10 // bytes of a block
	shortestRow = 32      // bytes at least of a row that keeps the rules: a record of many lines is still one row
	blocksAhead = 32      // decoded and not folded at most; with the size of a block it bounds the memory
)

// rowBlock is the rows of a block in the order of lines, and what broke a rule among them.
type rowBlock struct {
	rows   []Consumption
	faults []*RowError
}

// rowStream reads consumption.csv once.
type rowStream struct {
	quit chan struct{}

	mu      sync.Mutex
	changed *sync.Cond // a block was decoded or folded, or the goroutine has ended, or is to
	working bool       // the goroutine

	file   io.Closer
	source *scanner
	layout *layout // once the header was read
	ended  bool    // nothing more can be taken
	err    error

	taken, folded int               // blocks
	decoded       map[int]*rowBlock // not yet folded, by their place in the file
	free          []*rowBlock
}

var errStopped = errors.New("nobody reads on")

// stoppable is a reader that ends when its stream is stopped.
type stoppable struct {
	io.Reader
	quit <-chan struct{}
}

func (s stoppable) Read(p []byte) (int, error) {
	select {
	case <-s.quit:
		return 0, errStopped
	default:
		return s.Reader.Read(p)
	}
}

// newRowStream reads a file in blocks of so many bytes or of one record, and closes it.
func newRowStream(f io.ReadCloser, block int) *rowStream {
	r := &rowStream{file: f, quit: make(chan struct{}), working: true, decoded: map[int]*rowBlock{}}
	r.changed = sync.NewCond(&r.mu)
	r.source = newScanner(stoppable{f, r.quit}, block)
	go r.readAhead()
	return r
}

// newRowStream reads consumption as the view has it.
func (v *View) newRowStream() (*rowStream, error) {
	f, err := v.open(ConsumptionFile)
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = io.NopCloser(strings.NewReader(Header(ConsumptionFile))) // as one without rows
	}
	return newRowStream(f, streamBlock), nil
}

func (r *rowStream) readAhead() {
	r.mu.Lock()
	var d blockReader
	for !r.ended {
		if r.taken-r.folded < blocksAhead {
			r.decodeNext(&d)
		} else {
			r.changed.Wait()
		}
	}
	r.working = false
	r.changed.Broadcast()
	r.mu.Unlock()
}

// decodeNext takes a block and decodes it. It is called with mu held, and without while it decodes.
func (r *rowStream) decodeNext(d *blockReader) bool {
	text, line, ok := r.take()
	if !ok {
		return false
	}
	place := r.taken - 1
	b := &rowBlock{}
	if n := len(r.free); n > 0 {
		b, r.free = r.free[n-1], r.free[:n-1]
	}
	r.mu.Unlock()
	err := d.decode(b, r.layout, text, line)
	r.mu.Lock()
	if err != nil {
		r.end(err)
	}
	r.decoded[place] = b
	r.changed.Broadcast()
	return true
}

// take returns the next block, and the number of lines before it.
func (r *rowStream) take() (text string, line int, ok bool) {
	if r.ended {
		return "", 0, false
	}
	s := r.source
	if r.layout == nil {
		var err error
		if r.layout, err = readHeader(s, &Consumption{}); err != nil {
			r.end(err)
			return "", 0, false
		}
	}
	if s.block == "" {
		if err := s.fill(); err != nil {
			if err == io.EOF {
				err = nil
			}
			r.end(err)
			return "", 0, false
		}
	}
	text, line, s.block = s.block, s.line, ""
	s.line += strings.Count(text, "\n")
	r.taken++
	return text, line, true
}

func (r *rowStream) end(err error) {
	if r.ended {
		return
	}
	r.ended, r.err = true, errors.Join(err, r.file.Close())
}

// each hands on every row and every fault, and returns when the file is at its end. Rows are reused.
func (r *rowStream) each(row func(*Consumption), bad func(*RowError)) error {
	r.mu.Lock()
	var d blockReader
	for {
		b := r.decoded[r.folded]
		switch {
		case b != nil:
			delete(r.decoded, r.folded)
			r.mu.Unlock()
			for i := range b.rows {
				row(&b.rows[i])
			}
			for _, e := range b.faults {
				bad(e)
			}
			r.mu.Lock()
			r.folded++
			r.free = append(r.free, b)
			r.changed.Broadcast()
		case r.taken-r.folded < blocksAhead && r.decodeNext(&d):
		case r.folded == r.taken:
			err := r.err
			r.mu.Unlock()
			return err
		default:
			r.changed.Wait()
		}
	}
}

// stop ends the stream, and returns when its file is closed and nobody reads it.
func (r *rowStream) stop() {
	close(r.quit)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.end(errStopped)
	r.changed.Broadcast()
	for r.working {
		r.changed.Wait()
	}
}

// blockReader decodes blocks for one goroutine.
type blockReader struct {
	block   *rowBlock
	scanner *scanner
	reader  *reader
}

// decode fills b with what stands in text, which has so many lines before it.
func (d *blockReader) decode(b *rowBlock, l *layout, text string, before int) error {
	if d.reader == nil {
		d.scanner = scanText("")
		row := &Consumption{}
		d.reader = newReader(l, row, func(int, string) {
			d.block.rows = append(d.block.rows, *row)
		}, func(e *RowError, _ []string) {
			d.block.faults = append(d.block.faults, e)
		})
	}
	if cap(b.rows) == 0 {
		b.rows = make([]Consumption, 0, min(strings.Count(text, "\n")+1, streamBlock/shortestRow))
	}
	b.rows, b.faults = b.rows[:0], nil
	d.block, d.scanner.block, d.scanner.line = b, text, before
	return d.reader.read(d.scanner)
}

// ReadAhead begins to decode consumption. What is returned ends it, and is to be called when all that was wanted has been
// read.
func (v *View) ReadAhead() (stop func()) {
	if v.stream == nil {
		v.stream, _ = v.newRowStream() // who reads it opens it again, and tells why that fails
	}
	return func() {
		if v.stream != nil {
			v.stream.stop()
			v.stream = nil
		}
	}
}
