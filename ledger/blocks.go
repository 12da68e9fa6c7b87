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
// reads the small files that rows refer to, and sends them on a channel. Workers receive blocks, decode them and fold their rows.

const (
	streamBlock = 64 << 10 // bytes of a block, which is longer if one record is
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
	blocks chan *textBlock // closed at the end of the file and after an error
	spare  chan []byte     // the memory of blocks that were recycled
	quit   chan struct{}

	layout *layout // set before the first block
	err    error   // set before blocks is closed
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
	s := &blockStream{blocks: make(chan *textBlock, blocksAhead), spare: make(chan []byte, blocksAhead+mostWorkers+1), quit: make(chan struct{})}
	go s.read(f, size)
	return s
}

// oneBlock returns a stream of a file of at most size bytes. It is read at once: a goroutine would start a thread, which costs more.
func oneBlock(f io.ReadCloser, size int) *blockStream {
	s := &blockStream{blocks: make(chan *textBlock, 1), quit: make(chan struct{})}
	s.read(f, size+1)
	return s
}

// read sends the blocks of a file, and closes both.
func (s *blockStream) read(f io.ReadCloser, size int) {
	err := s.send(stoppable{f, s.quit}, size)
	s.err = errors.Join(err, f.Close())
	close(s.blocks)
}

// newBlockStream starts to read consumption as it was when the view was made.
func (v *View) newBlockStream(size int) (*blockStream, error) {
	f, err := v.open(ConsumptionFile)
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = io.NopCloser(strings.NewReader(Header(ConsumptionFile))) // an absent file has no rows
	}
	if length := int(v.size[ConsumptionFile]); size == streamBlock && length <= blocksAhead*streamBlock {
		return oneBlock(f, length), nil
	}
	return newBlockStream(f, size), nil
}

// send reads the header and sends all blocks behind it.
func (s *blockStream) send(r io.Reader, size int) (err error) {
	head := newScanner(r, min(size, headerBlock))
	if s.layout, err = readHeader(head, &Consumption{}); err != nil {
		return err
	}
	rest, line, eof := []byte(head.block+head.rest), head.line, head.eof
	for number := 0; ; number++ {
		text := append(s.memory(size), rest...)
		cut := 0
		for want := size; cut == 0; want = 2 * len(text) {
			if text, eof, err = readUpTo(r, text, want, eof); err != nil {
				return err
			}
			if cut = len(text); !eof {
				cut = recordEnd(unsafe.String(unsafe.SliceData(text), len(text)), false)
			} else if cut == 0 {
				return nil
			}
		}
		rest = bytes.Clone(text[cut:]) // whoever takes the block may recycle its memory
		b := &textBlock{number, line, text[:cut]}
		line += bytes.Count(b.bytes, []byte{'\n'})
		select {
		case s.blocks <- b:
		case <-s.quit:
			return errStopped
		}
	}
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
func (s *blockStream) memory(size int) []byte {
	select {
	case b := <-s.spare:
		return b[:0]
	default:
		return make([]byte, 0, size)
	}
}

// recycle lets the memory of a block be used for another. No string of the block's text may be kept.
func (s *blockStream) recycle(b *textBlock) {
	if cap(b.bytes) > 4*streamBlock {
		return // of a long record
	}
	select {
	case s.spare <- b.bytes:
	default:
	}
}

// stop ends the stream. When it returns, the file is closed and the goroutine has ended.
func (s *blockStream) stop() {
	close(s.quit)
	for range s.blocks {
	}
}

// ReadAhead starts to read consumption in the background. Call stop when the command has read all that it wants.
func (v *View) ReadAhead() (stop func()) {
	if v.stream == nil {
		v.stream, _ = v.newBlockStream(streamBlock) // an error comes up again when consumption is read
	}
	return func() {
		if v.stream != nil {
			v.stream.stop()
			v.stream = nil
		}
	}
}
