package ledger

import (
	"encoding/csv"
	"io"
	"strings"
	"unsafe"
)

// A file is read in blocks that end where a record ends. A line without a quote is split at its commas; a record with a quote is parsed
// by a csv.Reader. This is several times as fast as encoding/csv alone. A fuzz test compares the two.

const (
	blockSize = 256 << 10

	bom = "\ufeff" // the byte order mark, which spreadsheets write before UTF-8
)

// scanner reads CSV records from a stream. It keeps one block in memory, or the longest record if that is longer.
type scanner struct {
	r          io.Reader
	size       int    // bytes of a block
	rest       string // read and not yet part of a block
	block      string
	line       int // lines before block's rest
	begun, eof bool

	record []string

	quoted *csv.Reader // over feed, kept for the records with a quote
	feed   strings.Reader
}

func newScanner(r io.Reader, size int) *scanner { return &scanner{r: r, size: size} }

// scanText returns a scanner of a file's content.
func scanText(content string) *scanner {
	return &scanner{block: strings.TrimPrefix(content, bom), begun: true, eof: true}
}

// fill makes the next block: all complete records that were read.
func (s *scanner) fill() error {
	for !s.eof {
		if err := s.read(); err != nil {
			return err
		}
		if !s.begun {
			if len(s.rest) < len(bom) && !s.eof {
				continue
			}
			s.rest, s.begun = strings.TrimPrefix(s.rest, bom), true
		}
		cut := len(s.rest)
		if !s.eof {
			cut = recordEnd(s.rest, false)
		}
		if cut > 0 {
			s.block, s.rest = s.rest[:cut], s.rest[cut:]
			return nil
		}
	}
	return io.EOF
}

// read appends a block to s.rest, or as many bytes as s.rest has if that is more: then a long record is searched for its end a few
// times only.
func (s *scanner) read() error {
	text := make([]byte, len(s.rest)+max(s.size, len(s.rest)))
	have := copy(text, s.rest)
	n, err := io.ReadFull(s.r, text[have:])
	switch err {
	case nil:
	case io.EOF, io.ErrUnexpectedEOF:
		s.eof = true
	default:
		return err
	}
	s.rest = unsafe.String(unsafe.SliceData(text), have+n) // nobody writes to text any more
	return nil
}

// recordEnd returns the index after the last complete record in text, or after the first one; 0 if there is none. A quote opens only at
// the beginning of a field. One within a field is an error of that record, but does not hide its line end.
func recordEnd(text string, first bool) int {
	end, i := 0, 0
	for {
		plain := text[i:]
		quote := strings.IndexByte(plain, '"')
		if quote >= 0 {
			plain = plain[:quote]
		}
		if first {
			if n := strings.IndexByte(plain, '\n'); n >= 0 {
				return i + n + 1
			}
		} else if n := strings.LastIndexByte(plain, '\n'); n >= 0 {
			end = i + n + 1
		}
		if quote < 0 {
			return end
		}
		opens := i+quote == 0 || text[i+quote-1] == ',' || text[i+quote-1] == '\n'
		for i += quote + 1; opens; i++ { // skip to behind the closing quote
			n := strings.IndexByte(text[i:], '"')
			if n < 0 {
				return end
			}
			if i += n + 1; i == len(text) || text[i] != '"' {
				break
			}
		}
	}
}

// next returns the next record that is not blank, its text and the line that it begins on. The slice is reused by the next call. Its
// strings share the memory of a block: clone what is kept for long.
func (s *scanner) next() (record []string, raw string, line int, err error) {
	for {
		if s.block == "" {
			if err := s.fill(); err != nil {
				return nil, "", 0, err
			}
		}
		if raw, ok := s.plain(); ok {
			s.line++
			if len(s.record) == 1 && strings.Trim(s.record[0], " \t\r") == "" {
				continue
			}
			return s.record, raw, s.line, nil
		}
		raw := s.cut()
		line = s.line + 1
		s.line += strings.Count(strings.TrimSuffix(raw, "\n"), "\n") + 1
		record, err := s.readQuoted(raw)
		return record, raw, line, err
	}
}

// plain removes the next line from the block and splits it at its commas. ok is false if the line has a quote; then nothing is removed.
func (s *scanner) plain() (raw string, ok bool) {
	record, rest := s.record[:0], s.block
	at := 0
	for ; ; at++ {
		end := fieldEnd(rest, at)
		if end < 0 {
			return "", false
		}
		record = append(record, rest[at:end])
		if at = end; at == len(rest) || rest[at] != ',' {
			break
		}
	}
	end, _ := lineEnd(rest, at)
	s.record = record
	raw, s.block = rest[:end], rest[end:]
	return raw, true
}

// readQuoted splits a record that has a quote. Lines in an error count from the first line of raw.
func (s *scanner) readQuoted(raw string) ([]string, error) {
	if s.quoted == nil {
		s.quoted = csv.NewReader(&s.feed)
		s.quoted.FieldsPerRecord, s.quoted.ReuseRecord = -1, true
	}
	before := s.quoted.InputOffset()
	s.feed.Reset(raw)
	record, err := s.quoted.Read()
	if err == nil && s.quoted.InputOffset()-before == int64(len(raw)) {
		return record, nil
	}
	s.quoted = nil // its line numbers are not those of raw, and it may have buffered a part of this record
	r := csv.NewReader(strings.NewReader(raw))
	r.FieldsPerRecord = -1
	return r.Read()
}

// cut removes the text of the next record, with its line end, from the block.
func (s *scanner) cut() (raw string) {
	end := recordEnd(s.block, true)
	if end == 0 {
		end = len(s.block)
	}
	raw, s.block = s.block[:end], s.block[end:]
	return raw
}
