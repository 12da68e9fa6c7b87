package ledger

import (
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"
	"unsafe"
)

// Consumption grows without bound, so it is read in blocks of whole records. One goroutine reads blocks ahead, already while the caller
// reads the small files that rows refer to, and sends them on a channel. Workers receive blocks, decode them and fold their rows. Of a small
// file each block is read when it is asked for: a goroutine would start a thread, which costs more.

const (
	streamBlock = 64 << 10 // bytes of a block, which is longer if one record is
	smallBlock  = 16 << 10 // of a file that is not read ahead
	headerBlock = 1 << 10  // bytes that are read first, for the header; what lies behind it is copied into the first block
	blocksAhead = 4        // the most blocks that are read and not taken yet, which bounds the memory
)

// textBlock is a block of whole records.
type textBlock struct {
	number int    // of blocks before it
	line   int    // of lines before it
	bytes  []byte // of the records
}

// text returns the block as a string that shares its memory: it changes when the block is recycled.
func (b *textBlock) text() string { return unsafe.String(unsafe.SliceData(b.bytes), len(b.bytes)) }

// blockStream reads consumption.csv once. The same file gives the same blocks.
type blockStream struct {
	cutter *blockCutter
	file   io.Closer
	err    error // set before the last call of next returns

	ahead chan *textBlock // closed at the end of the file and after an error; nil if no blocks are read ahead
	quit  chan struct{}
	ended bool // and the file is closed
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

// newBlockStream starts to read a file in blocks of the given size, or of one record if that is longer. The stream closes the file.
func newBlockStream(f io.ReadCloser, size int) *blockStream {
	quit := make(chan struct{})
	s := &blockStream{cutter: newBlockCutter(stoppable{f, quit}, size), file: f, ahead: make(chan *textBlock, blocksAhead), quit: quit}
	go s.readAhead()
	return s
}

// readAhead sends the blocks of the file, and closes both.
func (s *blockStream) readAhead() {
	defer close(s.ahead)
	for b := s.cut(); b != nil; b = s.cut() {
		select {
		case s.ahead <- b:
		case <-s.quit:
			s.end(errStopped)
			return
		}
	}
}

// cut returns the next block; nil at the end of the file and after an error, when it has closed the file.
func (s *blockStream) cut() *textBlock {
	b, err := s.cutter.next()
	if b == nil {
		s.end(err)
	}
	return b
}

func (s *blockStream) end(err error) {
	s.err = errors.Join(err, s.file.Close())
	s.ended = true
}

// next returns the next block; nil at the end of the file and after an error. Several workers may call it if blocks are read ahead.
func (s *blockStream) next() *textBlock {
	switch {
	case s.ahead != nil:
		return <-s.ahead
	case s.ended:
		return nil
	}
	return s.cut()
}

// stop ends the stream. When it returns, the file is closed and the goroutine has ended.
func (s *blockStream) stop() {
	if s.ahead == nil {
		if !s.ended {
			s.end(errStopped)
		}
		return
	}
	close(s.quit)
	for range s.ahead {
	}
}

// newBlockStream starts to read consumption as it was when the view was made, in blocks of the given size if it is read ahead.
func (v *View) newBlockStream(size int, ahead bool) (*blockStream, error) {
	f, err := v.open(ConsumptionFile)
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = io.NopCloser(strings.NewReader(Header(ConsumptionFile))) // an absent file has no rows
	}
	if ahead {
		return newBlockStream(f, size), nil
	}
	return &blockStream{cutter: newBlockCutter(f, smallBlock), file: f}, nil
}

// Large reports whether consumption is so long that blocks of it are read ahead.
func (v *View) Large() bool { return v.size[ConsumptionFile] > blocksAhead*streamBlock }

// blockCutter cuts a file into blocks of whole records.
type blockCutter struct {
	r      io.Reader
	size   int         // bytes of a block
	spare  chan []byte // the memory of blocks that were recycled
	layout *layout     // nil before the first block

	rest         []byte // read and not yet part of a block
	eof          bool   // all is read
	number, line int    // of the next block
}

func newBlockCutter(r io.Reader, size int) *blockCutter {
	return &blockCutter{r: r, size: size, spare: make(chan []byte, blocksAhead+mostWorkers+1)}
}

// next returns the next block, nil at the end of the file. The first call also reads the header.
func (c *blockCutter) next() (*textBlock, error) {
	if c.layout == nil {
		head := newScanner(c.r, min(c.size, headerBlock))
		l, err := readHeader(head, &Consumption{})
		if err != nil {
			return nil, err
		}
		c.layout, c.rest, c.line, c.eof = l, []byte(head.block+head.rest), head.line, head.eof
	}
	if c.eof && len(c.rest) == 0 {
		return nil, nil
	}
	text := append(c.memory(), c.rest...)
	cut := 0
	for want := c.size; cut == 0; want = 2 * len(text) {
		var err error
		if text, c.eof, err = readUpTo(c.r, text, want, c.eof); err != nil {
			return nil, err
		}
		if cut = len(text); !c.eof {
			cut = recordEnd(unsafe.String(unsafe.SliceData(text), len(text)), false)
		} else if cut == 0 {
			return nil, nil
		}
	}
	c.rest = append(c.rest[:0], text[cut:]...) // whoever takes the block may recycle its memory
	b := &textBlock{c.number, c.line, text[:cut]}
	c.number++
	c.line += bytes.Count(b.bytes, []byte{'\n'})
	return b, nil
}

// readUpTo appends to text what r has, up to the given length of text.
func readUpTo(r io.Reader, text []byte, length int, ended bool) (_ []byte, eof bool, err error) {
	if ended || len(text) >= length {
		return text, ended, nil
	}
	have := len(text)
	text = slices.Grow(text, length-have)[:length]
	n, err := io.ReadFull(r, text[have:])
	switch err {
	case io.EOF, io.ErrUnexpectedEOF:
		eof, err = true, nil
	}
	return text[:have+n], eof, err
}

// memory returns room for a block.
func (c *blockCutter) memory() []byte {
	select {
	case b := <-c.spare:
		return b[:0]
	default:
		return make([]byte, 0, c.size)
	}
}

// recycle lets the memory of a block be used for another. No string of the block's text may be kept.
func (s *blockStream) recycle(b *textBlock) {
	if cap(b.bytes) > 4*streamBlock {
		return // of a long record
	}
	select {
	case s.cutter.spare <- b.bytes:
	default:
	}
}

// ReadAhead starts to read consumption in the background. Call stop when the command has read all that it wants.
func (v *View) ReadAhead() (stop func()) {
	if v.stream == nil {
		v.stream, _ = v.newBlockStream(streamBlock, v.Large()) // an error comes up again when consumption is read
	}
	return func() {
		if v.stream != nil {
			v.stream.stop()
			v.stream = nil
		}
	}
}
