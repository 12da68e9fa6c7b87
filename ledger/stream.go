package ledger

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"io"
	"strings"
	"unicode/utf8"
)

// Consumption grows without bound, so it is streamed: blocks of the file are cut where a record ends, a line
// without a quote is split at its commas, and a record with one is handed alone to a csv.Reader. It is held
// against encoding/csv by a fuzz test.

const blockSize = 256 << 10

var quote = []byte{'"'}

// scanner reads CSV records from a stream in memory bounded by one block, or by the longest record.
type scanner struct {
	r            io.Reader
	size         int    // bytes to read at a time
	buf          []byte // read and not yet part of a block
	block        string
	line         int // lines before block's rest
	started, eof bool

	record []string

	quoted *csv.Reader // over feed, kept for the records with a quote
	feed   strings.Reader
}

func newScanner(r io.Reader, size int) *scanner { return &scanner{r: r, size: size} }

// fill makes the next block: all up to the last line end outside quotes. RFC 4180 pairs its quotes, so a line
// end with an even number of them before it ends a record; a file that breaks this fails in the strict reader.
func (s *scanner) fill() error {
	if !s.started {
		s.started = true
		s.r = bufio.NewReaderSize(s.r, 16)
		if head, _ := s.r.(*bufio.Reader).Peek(3); string(head) == "\ufeff" {
			s.r.(*bufio.Reader).Discard(3)
		}
	}
	for !s.eof {
		n := len(s.buf)
		s.buf = append(s.buf, make([]byte, max(s.size, n))...) // doubled: a long record is looked through but a few times
		m, err := io.ReadFull(s.r, s.buf[n:])
		s.buf = s.buf[:n+m]
		switch err {
		case nil:
		case io.EOF, io.ErrUnexpectedEOF:
			s.eof = true
		default:
			return err
		}
		cut := len(s.buf)
		if !s.eof {
			cut = recordEnd(s.buf)
		}
		if cut > 0 {
			s.block = string(s.buf[:cut])
			s.buf = append(s.buf[:0], s.buf[cut:]...)
			return nil
		}
	}
	return io.EOF
}

// recordEnd returns the length of buf up to its last line end outside quotes, 0 when it has none.
func recordEnd(buf []byte) int {
	text := buf
	quotes := -1
	for {
		i := bytes.LastIndexByte(text, '\n')
		if i < 0 {
			return 0
		}
		if quotes < 0 {
			quotes = bytes.Count(buf[:i], quote)
		} else {
			quotes -= bytes.Count(buf[i:len(text)], quote)
		}
		if quotes%2 == 0 {
			return i + 1
		}
		text = buf[:i]
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
		raw, lines := s.cut()
		line = s.line + 1
		s.line += lines
		if strings.IndexByte(raw, '"') < 0 {
			text := strings.TrimSuffix(strings.TrimSuffix(raw, "\n"), "\r")
			if text == "" || text[0] <= ' ' && strings.Trim(text, " \t\r") == "" {
				continue
			}
			s.record = s.record[:0]
			for {
				i := strings.IndexByte(text, ',')
				if i < 0 {
					break
				}
				s.record = append(s.record, text[:i])
				text = text[i+1:]
			}
			s.record = append(s.record, text)
			return s.record, raw, line, nil
		}
		record, err := s.readQuoted(raw)
		return record, raw, line, err
	}
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

// setters put the columns of consumption.csv into a row. A test holds them against the csv tags.
var setters = []struct {
	column string
	set    func(*Consumption, string) error
}{
	{"entry", func(c *Consumption, s string) error { c.Entry = s; return nil }},
	{"at", func(c *Consumption, s string) error { return c.At.UnmarshalCSV(s) }},
	{"job", func(c *Consumption, s string) error { c.Job = s; return nil }},
	{"client", func(c *Consumption, s string) error { c.Client = s; return nil }},
	{"printer", func(c *Consumption, s string) error { c.Printer = s; return nil }},
	{"spool", func(c *Consumption, s string) error { c.Spool = s; return nil }},
	{"part_g", func(c *Consumption, s string) error { return c.PartG.UnmarshalCSV(s) }},
	{"support_g", func(c *Consumption, s string) error { return c.SupportG.UnmarshalCSV(s) }},
	{"prime_g", func(c *Consumption, s string) error { return c.PrimeG.UnmarshalCSV(s) }},
	{"purge_g", func(c *Consumption, s string) error { return c.PurgeG.UnmarshalCSV(s) }},
	{"changes", func(c *Consumption, s string) error { return c.Changes.UnmarshalCSV(s) }},
	{"outcome", func(c *Consumption, s string) error { c.Outcome = s; return nil }},
	{"basis", func(c *Consumption, s string) error { c.Basis = s; return nil }},
	{"note", func(c *Consumption, s string) error { c.Note = s; return nil }},
}

// scanConsumption calls each with every row that keeps the file's rules, in the order of lines, and bad with every
// one that does not. The row is reused; what each keeps, it clones.
func scanConsumption(s *scanner, each func(*Consumption), bad func(*RowError)) error {
	const file = ConsumptionFile
	record, raw, line, err := s.next()
	if err == io.EOF {
		return nil
	}
	if _, ok := err.(*csv.ParseError); ok {
		return Faults{syntaxError(file, line-1, raw, err)}
	}
	if err != nil {
		return err
	}
	header := append([]string(nil), record...)
	columns := columnsOf[Consumption]()
	l, err := newLayout(file, columns, header)
	if err != nil {
		return err
	}
	var row Consumption
	sound := true
	check := &checker{bad: func(column, what, mend string) {
		bad(&RowError{file, line, column + " " + what, mend})
		sound = false
	}}
	for {
		record, raw, line, err = s.next()
		switch {
		case err == io.EOF:
			return nil
		case err != nil:
			if _, ok := err.(*csv.ParseError); !ok {
				return err
			}
			bad(syntaxError(file, line-1, raw, err))
			continue
		case !utf8.ValidString(raw):
			bad(&RowError{file, line, "the row is not UTF-8", "save the file as UTF-8"})
			continue
		case len(record) != len(l.header):
			if what := l.width(len(record)); what != "" {
				bad(&RowError{file, line, "the row " + what, "a text with a comma wants quotes round it"})
				continue
			}
		}
		row = Consumption{Head: Head{Line: line, raw: raw, layout: l}}
		sound = true
		for i := range setters {
			text := l.field(record, i)
			if err := setters[i].set(&row, text); err != nil {
				f := err.(*fault)
				bad(&RowError{file, line, setters[i].column + " " + quoted(text) + " " + f.what, f.mend})
				sound = false
			}
		}
		if sound {
			row.check(check)
		}
		if sound {
			each(&row)
		}
	}
}
