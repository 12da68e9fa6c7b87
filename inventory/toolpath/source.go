package toolpath

import (
	"archive/zip"
	"bufio"
	"bytes"
	"compress/flate"
	"compress/gzip"
	"compress/zlib"
	"errors"
	"fmt"
	"io"
)

// The kind of a file, by its first bytes, and the text in it.

// text is the G-code of a file.
type text struct {
	io.Reader
	ahead  *ahead  // decompresses in the background; nil for plain text
	blocks *blocks // nil unless the file is binary G-code
}

// Close ends the goroutine that decompresses, if there is one.
func (t *text) Close() {
	if t.ahead != nil {
		t.ahead.close()
	}
}

// said returns lines of metadata about filament, which are read like comments. Call it after the end of the text.
func (t *text) said() [][]byte {
	if t.blocks == nil {
		return nil
	}
	return t.blocks.said
}

// headSize is how many bytes are read to find the kind of a file.
const headSize = 512

// open returns the text of a file and skips its byte order mark.
func (m *machine) open(r io.Reader) (*text, error) {
	t := &text{}
	under := r
	b := bufio.NewReaderSize(r, 64<<10)
	coded := false
	for depth := 0; ; depth++ {
		head, err := b.Peek(headSize)
		if err != nil && err != io.EOF {
			return nil, err
		}
		err = nil
		var inner io.Reader
		switch {
		case depth < 3 && bytes.HasPrefix(head, []byte("\x1f\x8b")): // RFC 1952, 2.3.1
			inner, err = gzip.NewReader(b)
			under = nil
		case isZip(head):
			inner, err = m.openZip(under)
			under = nil
		case bytes.HasPrefix(head, []byte(blocksMagic)):
			t.blocks = &blocks{r: b}
			inner, err = t.blocks, t.blocks.open()
		case m.opts.Member != "" && depth == 0:
			err = errors.New("--member names a part of a zip container, and this is none")
		default:
			if what := notText(head); what != "" {
				return nil, &Error{Name: m.name, What: what + ", not a sliced file", Mend: "export the G-code as text"}
			}
		}
		switch {
		case err != nil:
			return nil, err
		case inner == nil:
			if err := skipMark(b, head); err != nil {
				return nil, err
			}
			if t.Reader = b; coded {
				t.startAhead(b)
			}
			return t, nil
		}
		if coded, b = true, bufio.NewReaderSize(inner, 64<<10); t.blocks != nil {
			t.startAhead(b)
			return t, nil
		}
	}
}

// startAhead lets a goroutine read the stream. Nothing else may read it afterwards.
func (t *text) startAhead(r io.Reader) {
	t.ahead = newAhead(r)
	t.Reader = t.ahead
}

func skipMark(b *bufio.Reader, head []byte) error {
	if !bytes.HasPrefix(head, []byte("\ufeff")) {
		return nil
	}
	_, err := b.Discard(3)
	return err
}

// notText returns what a file is that is not text, "" for text.
func notText(head []byte) string {
	for _, known := range []struct{ magic, what string }{
		{"\x89PNG", "a PNG picture"}, {"\xff\xd8\xff", "a JPEG picture"}, {"GIF8", "a GIF picture"}, {"%PDF-", "a PDF document"},
		{"\x7fELF", "a program"}, {"MZ\x90", "a program"}, {"7z\xbc\xaf\x27\x1c", "a 7z archive"}, {"Rar!\x1a\x07", "a RAR archive"}, {"BZh", "a bzip2 file"},
		{"\xfd7zXZ\x00", "an xz file"}, {"\x28\xb5\x2f\xfd", "a zstd file"}, {"\xff\xfe", "text in UTF-16"}, {"\xfe\xff", "text in UTF-16"},
		{"SQLite format 3\x00", "a database"}, {"ply\n", "a model (PLY)"}, {"glTF", "a model (glTF)"},
	} {
		if bytes.HasPrefix(head, []byte(known.magic)) {
			return known.what
		}
	}
	if bytes.HasPrefix(head, []byte("solid")) && bytes.Contains(head, []byte("facet normal")) {
		return "a model (STL)"
	}
	if bytes.IndexByte(bytes.TrimRight(head, "\x00"), 0) >= 0 {
		return "a binary file"
	}
	return ""
}

// broken returns the error for a stream that can't be read.
func (m *machine) broken(err error) error {
	if e := (*Error)(nil); errors.As(err, &e) {
		return err
	}
	e := &Error{Name: m.name, Line: m.file.Lines + 1, What: err.Error(), Err: err}
	if m.file.Lines == 0 {
		e.Line = 0
	}
	var corrupt flate.CorruptInputError
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF):
		e.What, e.Mend = "the compressed file is cut", "copy it again"
	case errors.Is(err, gzip.ErrHeader), errors.Is(err, gzip.ErrChecksum), errors.Is(err, zip.ErrChecksum), errors.Is(err, zip.ErrFormat),
		errors.Is(err, zlib.ErrHeader), errors.Is(err, zlib.ErrChecksum), errors.As(err, &corrupt):
		e.What, e.Mend = "the compressed file is damaged", "copy it again"
	}
	var block *blockError
	if errors.As(err, &block) {
		e.What, e.Mend = fmt.Sprintf("block %d of the binary G-code %s", block.number, block.what), "copy the file again, or export it as text"
	}
	return e
}
