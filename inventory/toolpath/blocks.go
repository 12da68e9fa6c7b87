package toolpath

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
)

// Blocks of binary G-code, an open specification. Little-endian: a header of magic, version (uint32) and kind of checksum
// (uint16); then blocks of type, compression (uint16), size, stored size if compressed (uint32), parameters (6 bytes of a
// thumbnail, else 2), data, CRC32 if the header says so. A line may go on in the next block of G-code.

const blocksMagic = "GCDE"

// maxBlock is the largest size that a block may claim; usual blocks hold 64 KB. The claim allocates nothing.
const maxBlock = 1 << 30

const ( // types of blocks
	blockMetadata = 0
	blockCode     = 1
	blockSlicer   = 2
	blockPrinter  = 3
	blockPrint    = 4
	blockPicture  = 5
)

// blockError is an error in a block. Blocks count from 1.
type blockError struct {
	number int
	what   string
}

func (e *blockError) Error() string { return fmt.Sprintf("block %d %s", e.number, e.what) }

// blocks reads the text of the blocks of G-code, a piece at a time.
type blocks struct {
	r       *bufio.Reader
	checked bool
	number  int // of the present block
	stored  stored
	text    io.Reader // of the present block; nil between blocks
	size    int64     // bytes that it must still hold

	inflate  io.ReadCloser
	deflated shrunk
	packed   packed
	said     [][]byte // lines of metadata about filament
}

// open reads the header of the file.
func (k *blocks) open() error {
	var h [10]byte
	if _, err := io.ReadFull(k.r, h[:]); err != nil {
		return io.ErrUnexpectedEOF
	}
	version, sum := binary.LittleEndian.Uint32(h[4:]), binary.LittleEndian.Uint16(h[8:])
	if version != 1 || sum > 1 {
		return fmt.Errorf("binary G-code of version %d with checksum %d is unknown; export the G-code as text", version, sum)
	}
	k.checked = sum == 1
	return nil
}

func (k *blocks) fault(format string, args ...any) error {
	return &blockError{k.number, fmt.Sprintf(format, args...)}
}

func (k *blocks) Read(p []byte) (int, error) {
	for {
		if k.text == nil {
			if err := k.next(); err != nil {
				return 0, err
			}
			continue
		}
		n, err := k.text.Read(p)
		switch {
		case err == io.EOF:
			k.text = nil
			err = k.end()
		case err != nil:
			err = k.damaged(err)
		}
		if n > 0 || err != nil {
			return n, err
		}
	}
}

// next reads the header of a block. Unless the block is G-code, it reads the whole block.
func (k *blocks) next() error {
	k.number++
	var h [18]byte
	n, err := io.ReadFull(k.r, h[:8])
	switch {
	case n == 0 && err == io.EOF:
		return io.EOF
	case err != nil:
		return k.fault("is cut")
	}
	kind, compression := binary.LittleEndian.Uint16(h[0:]), binary.LittleEndian.Uint16(h[2:])
	size := int64(binary.LittleEndian.Uint32(h[4:]))
	held, head := size, 8
	if compression != 0 {
		if _, err := io.ReadFull(k.r, h[8:12]); err != nil {
			return k.fault("is cut")
		}
		held, head = int64(binary.LittleEndian.Uint32(h[8:])), 12
	}
	if size > maxBlock || held > maxBlock {
		return k.fault("claims to hold %d bytes, more than %d", max(size, held), maxBlock)
	}
	parameters := 2
	if kind == blockPicture {
		parameters = 6
	}
	if _, err := io.ReadFull(k.r, h[head:head+parameters]); err != nil {
		return k.fault("is cut")
	}
	encoding := binary.LittleEndian.Uint16(h[head:])
	k.stored.begin(k.r, held, crc32.ChecksumIEEE(h[:head+parameters]))
	if kind > blockPrint { // a picture, or unknown
		return k.end()
	}
	data, err := k.decode(compression, size)
	if err != nil {
		return err
	}
	if kind != blockCode {
		if err := k.metadata(data); err != nil {
			return err
		}
		return k.end()
	}
	switch encoding {
	case 0:
		k.text = data
	case 1, 2:
		k.packed.begin(data)
		k.text = &k.packed
	default:
		return k.fault("has the unknown encoding %d", encoding)
	}
	return nil
}

// decode returns a reader of the data of a block, which must be of that size.
func (k *blocks) decode(compression uint16, size int64) (io.Reader, error) {
	var r io.Reader = &k.stored
	switch compression {
	case 0:
	case 1:
		var err error
		if k.inflate == nil {
			k.inflate, err = zlib.NewReader(&k.stored)
		} else {
			err = k.inflate.(zlib.Resetter).Reset(&k.stored, nil)
		}
		if err != nil {
			return nil, k.damaged(err)
		}
		r = k.inflate
	case 2, 3:
		k.deflated.begin(&k.stored, map[uint16]uint{2: 11, 3: 12}[compression])
		r = &k.deflated
	default:
		return nil, k.fault("has the unknown compression %d", compression)
	}
	k.size = size
	return &exact{k, r}, nil
}

// exact reads the data of a block. It is an error if the block holds more or less than it says.
type exact struct {
	k *blocks
	r io.Reader
}

func (e *exact) Read(p []byte) (int, error) {
	if e.k.size == 0 {
		p = p[:min(len(p), 1)]
	} else if int64(len(p)) > e.k.size {
		p = p[:e.k.size]
	}
	n, err := e.r.Read(p)
	switch {
	case n > 0 && e.k.size == 0:
		return 0, e.k.fault("holds more than it says")
	case err == io.EOF && e.k.size > int64(n):
		return n, e.k.fault("holds less than it says")
	}
	e.k.size -= int64(n)
	return n, err
}

// metadata keeps the lines about filament.
func (k *blocks) metadata(r io.Reader) error {
	const most = 64
	lines := bufio.NewReaderSize(r, maxComment)
	for {
		line, more, err := lines.ReadLine()
		if len(k.said) < most && !more && bytes.Contains(bytes.ToLower(line), []byte("filament")) {
			k.said = append(k.said, bytes.Clone(line))
		}
		switch {
		case err == io.EOF:
			return nil
		case err != nil:
			return k.damaged(err)
		}
	}
}

// end reads a block to its end and checks it.
func (k *blocks) end() error {
	if _, err := io.Copy(io.Discard, &k.stored); err != nil {
		return k.damaged(err)
	}
	if !k.checked {
		return nil
	}
	var sum [4]byte
	if _, err := io.ReadFull(k.r, sum[:]); err != nil {
		return k.fault("is cut")
	}
	if want := binary.LittleEndian.Uint32(sum[:]); want != k.stored.sum {
		return k.fault("is damaged: its CRC32 is %08x, and should be %08x", k.stored.sum, want)
	}
	return nil
}

// damaged turns an error of decoding into one that names the block.
func (k *blocks) damaged(err error) error {
	var known *blockError
	switch {
	case errors.As(err, &known):
		return err
	case errors.Is(err, io.ErrUnexpectedEOF):
		return k.fault("is cut")
	case errors.Is(err, errShrunk), errors.Is(err, zlib.ErrHeader), errors.Is(err, zlib.ErrChecksum), errors.Is(err, zlib.ErrDictionary):
		return k.fault("is damaged")
	}
	return k.fault("can't be read: %v", err)
}

// stored reads the data of a block as it is in the file, and computes its CRC32.
type stored struct {
	r    *bufio.Reader
	left int64 // bytes not read into buf yet
	sum  uint32
	buf  []byte
	at   int // bytes of buf that were read
}

func (s *stored) begin(r *bufio.Reader, size int64, sum uint32) {
	s.r, s.left, s.sum, s.buf, s.at = r, size, sum, s.buf[:0], 0
}

// more fills buf again.
func (s *stored) more() error {
	if s.left == 0 {
		return io.EOF
	}
	if s.buf == nil {
		s.buf = make([]byte, 0, 32<<10)
	}
	n, err := s.r.Read(s.buf[:min(int64(cap(s.buf)), s.left)])
	s.buf, s.at = s.buf[:n], 0
	s.left -= int64(n)
	s.sum = crc32.Update(s.sum, crc32.IEEETable, s.buf)
	switch {
	case n > 0:
		return nil
	case err == io.EOF:
		return io.ErrUnexpectedEOF
	}
	return err
}

func (s *stored) Read(p []byte) (int, error) {
	if s.at == len(s.buf) {
		if err := s.more(); err != nil {
			return 0, err
		}
	}
	n := copy(p, s.buf[s.at:])
	s.at += n
	return n, nil
}

// ReadByte keeps compress/flate from buffering beyond the block.
func (s *stored) ReadByte() (byte, error) {
	if s.at == len(s.buf) {
		if err := s.more(); err != nil {
			return 0, err
		}
	}
	s.at++
	return s.buf[s.at-1], nil
}
