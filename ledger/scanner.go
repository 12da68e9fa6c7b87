package ledger

import (
	"encoding/csv"
	"errors"
	"io"
	"strings"
)

// A file is read in blocks that are cut where a record ends, a line without a quote is split at its commas, and a record with one
// is handed alone to a csv.Reader. It is held against encoding/csv by a fuzz test.

const (
	blockSize = 256 << 10
	chunkSize = 8 << 10 // of a block is read at a time

	bom = "\ufeff" // the byte order mark that a spreadsheet puts before UTF-8
)

// scanner reads CSV records from a stream in memory bounded by one block, or by the longest record.
type scanner struct {
	r          io.Reader
	size       int // bytes to read at a time
	chunk      []byte
	rest       string // read and not yet part of a block
	block      string
	line       int // lines before block's rest
	begun, eof bool

	record []string

	quoted *csv.Reader // over feed, kept for the records with a quote
	feed   strings.Reader
}

func newScanner(r io.Reader, size int) *scanner { return &scanner{r: r, size: size} }

// scanText scans the content of a file.
func scanText(content string) *scanner {
	return &scanner{block: strings.TrimPrefix(content, bom), begun: true, eof: true}
}

// fill makes the next block: all up to the last line end outside quotes. RFC 4180 pairs its quotes, so a line
// end with an even number of them before it ends a record; a file that breaks this fails in the strict reader.
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
			cut = recordEnd(s.rest)
		}
		if cut > 0 {
			s.block, s.rest = s.rest[:cut], s.rest[cut:]
			return nil
		}
	}
	return io.EOF
}

// read adds a block to what is left, or as much again as that is: a long record is looked through but a few times.
func (s *scanner) read() error {
	if s.chunk == nil {
		s.chunk = make([]byte, min(s.size, chunkSize))
	}
	var b strings.Builder
	want := max(s.size, len(s.rest))
	b.Grow(len(s.rest) + want)
	b.WriteString(s.rest)
	for want > 0 && !s.eof {
		n, err := io.ReadFull(s.r, s.chunk[:min(want, len(s.chunk))])
		b.Write(s.chunk[:n])
		want -= n
		switch err {
		case nil:
		case io.EOF, io.ErrUnexpectedEOF:
			s.eof = true
		default:
			return err
		}
	}
	s.rest = b.String()
	return nil
}

// recordEnd returns the length of text up to its last line end outside quotes, 0 when it has none.
func recordEnd(text string) int {
	quotes := -1
	for end := len(text); ; {
		i := strings.LastIndexByte(text[:end], '\n')
		if i < 0 {
			return 0
		}
		if quotes < 0 {
			quotes = strings.Count(text[:i], `"`)
		} else {
			quotes -= strings.Count(text[i:end], `"`)
		}
		if quotes%2 == 0 {
			return i + 1
		}
		end = i
	}
}

// next returns the next record that is not blank, its text and the line it begins on. The record is good
// until the next call; its strings keep one block alive, so what is kept longer is to be cloned.
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
		block := s.block
		raw, lines := s.cut()
		line = s.line + 1
		record, err := s.readQuoted(raw)
		var stray *csv.ParseError
		if errors.As(err, &stray) && stray.Err == csv.ErrBareQuote { // a field without quotes holds one, so a line end is one
			raw, lines = upToLine(raw, stray.Line), stray.Line
			s.block = block[len(raw):]
		}
		s.line += lines
		return record, raw, line, err
	}
}

// upToLine returns the first n lines of text.
func upToLine(text string, n int) string {
	end := 0
	for range n {
		i := strings.IndexByte(text[end:], '\n')
		if i < 0 {
			return text
		}
		end += i + 1
	}
	return text[:end]
}

// plain takes the next line off the block and splits it at its commas, if it has no quote.
func (s *scanner) plain() (raw string, ok bool) {
	record, rest := s.record[:0], s.block
	from, end := 0, len(rest)
scan:
	for i := range len(rest) {
		if rest[i] > ',' { // nearly all are letters and digits
			continue
		}
		switch rest[i] {
		case ',':
			record = append(record, rest[from:i])
			from = i + 1
		case '"':
			return "", false
		case '\n':
			end = i
			break scan
		}
	}
	s.record = append(record, strings.TrimSuffix(rest[from:end], "\r"))
	end = min(end+1, len(rest))
	raw, s.block = rest[:end], rest[end:]
	return raw, true
}

// readQuoted splits a record that has a quote. An error tells of lines within raw.
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
	s.quoted = nil // it counts lines from its own beginning, and may hold a rest of this record
	r := csv.NewReader(strings.NewReader(raw))
	r.FieldsPerRecord = -1
	return r.Read()
}

// cut takes the next record's text, with its line end, off the block.
func (s *scanner) cut() (raw string, lines int) {
	end, odd := 0, false
	for {
		i := strings.IndexByte(s.block[end:], '\n')
		if i < 0 {
			raw, s.block = s.block, ""
			return raw, lines + 1
		}
		if strings.Count(s.block[end:end+i], `"`)%2 == 1 {
			odd = !odd
		}
		end += i + 1
		lines++
		if !odd {
			raw, s.block = s.block[:end], s.block[end:]
			return raw, lines
		}
	}
}
