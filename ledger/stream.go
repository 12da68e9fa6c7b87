package ledger

import (
	"errors"
	"io"
	"strings"
	"sync"
)

// Consumption grows without bound, so it is streamed in blocks of whole records. A goroutine decodes blocks ahead, already while the
// caller reads the small files that rows refer to. The caller decodes a block itself when it would have to wait. Blocks are
// folded in the order of the file, so the result does not depend on who decoded them.

const (
	streamBlock = 8 << 10 // bytes of a block
	shortestRow = 32      // the least bytes of a sound row, which bounds the rows of a block
	blocksAhead = 32      // the most blocks that are decoded and not folded yet, which bounds the memory
)

// rowBlock is what was decoded from a block: its sound rows in the order of lines, and its faults.
type rowBlock struct {
	rows   []Consumption
	faults []*RowError
}

// rowStream reads consumption.csv once, by each.
type rowStream struct {
	quit chan struct{}

	mu      sync.Mutex
	changed *sync.Cond // signals any change of the fields below
	working bool       // the goroutine has not ended

	file   io.Closer
	source *scanner
	layout *layout // nil until the header was read
	ended  bool    // no block is left to take
	err    error

	taken, folded int               // numbers of blocks
	decoded       map[int]*rowBlock // not folded yet, by their index in the file
	free          []*rowBlock       // to be reused
}

var errStopped = errors.New("the stream is stopped")

// stoppable is a reader that fails with errStopped once quit is closed.
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

// newRowStream starts to read a file in blocks of the given size, or of one record if that is longer. The stream closes the file.
func newRowStream(f io.ReadCloser, block int) *rowStream {
	r := &rowStream{file: f, quit: make(chan struct{}), working: true, decoded: map[int]*rowBlock{}}
	r.changed = sync.NewCond(&r.mu)
	r.source = newScanner(stoppable{f, r.quit}, block)
	go r.readAhead()
	return r
}

// newRowStream starts to read consumption as it was when the view was made.
func (v *View) newRowStream() (*rowStream, error) {
	f, err := v.open(ConsumptionFile)
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = io.NopCloser(strings.NewReader(Header(ConsumptionFile))) // an absent file has no rows
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

// decodeNext takes the next block and decodes it; false if there is none. The caller holds mu, which is released while decoding.
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

// take returns the text of the next block, and the number of lines before it.
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

// each calls row for every sound row and bad for every fault, block by block, until the end of the file. Rows are reused.
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

// stop ends the stream. When it returns, the file is closed and the goroutine has ended.
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

// blockReader decodes blocks. Each goroutine has its own.
type blockReader struct {
	block   *rowBlock
	scanner *scanner
	reader  *reader
}

// decode fills b from text. before is the number of lines in the file before text.
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

// ReadAhead starts to decode consumption in the background. Call stop when the command has read all that it wants.
func (v *View) ReadAhead() (stop func()) {
	if v.stream == nil {
		v.stream, _ = v.newRowStream() // an error comes up again when consumption is read
	}
	return func() {
		if v.stream != nil {
			v.stream.stop()
			v.stream = nil
		}
	}
}
