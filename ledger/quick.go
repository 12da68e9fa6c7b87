package ledger

import (
	"encoding/binary"
	"hash/maphash"
	"math/bits"
	"strings"
	"unicode/utf8"
)

// Nearly all rows of consumption are plain: no quote, no fault, the width of the header, an entry in upper case or none. They are decoded
// here, several times as fast as by reader, which decodes all others. A fuzz test compares the two.

const mostFields = 64 // of a header for quick decoding

// rowDecoder decodes blocks of consumption. Each worker has its own.
type rowDecoder struct {
	layout  *layout
	row     *Consumption
	each    func()
	scanner *scanner
	reader  *reader
	spools  *spoolIndex

	wanted func(id string) bool // of entries: other plain rows are passed over; nil: all

	place   [16]int         // of each column in a record; -1 if the header lacks it
	ends    [mostFields]int // where the fields of the present line end
	quick   bool
	written string // the date that was decoded last
	day     int64  // its first second, UTC
}

// newRowDecoder returns a decoder that calls each after every sound row, which is in row, and bad for every fault.
func newRowDecoder(l *layout, spools *spoolIndex, row *Consumption, each func(), bad func(*RowError)) *rowDecoder {
	d := &rowDecoder{layout: l, row: row, each: each, scanner: scanText(""), spools: spools}
	d.reader = newReader(l, row, func(int, string) {
		row.SpoolNumber = spools.number(row.Spool)
		each()
	}, func(e *RowError, _ []string) { bad(e) })
	d.quick = len(l.header) <= mostFields && len(l.place) == len(d.place)
	if d.quick {
		copy(d.place[:], l.place)
	}
	return d
}

// decode decodes a block. before is the number of lines in the file before text.
func (d *rowDecoder) decode(text string, before int) error {
	quick := d.quick && utf8.ValidString(text)
	s := d.scanner
	s.block, s.line = text, before
	for s.block != "" {
		if quick && d.wanted != nil && d.place[0] == 0 {
			if end := d.unwanted(s.block); end > 0 {
				s.block = s.block[end:]
				s.line++
				continue
			}
		}
		if quick {
			if end, ok := d.plain(s.block); ok {
				d.row.Line, d.row.raw, d.row.layout = s.line+1, s.block[:end], d.layout
				s.block = s.block[end:]
				s.line++
				d.each()
				continue
			}
		}
		if _, err := d.reader.next(s); err != nil {
			return err
		}
	}
	return nil
}

// unwanted returns where the second line of text begins if the first is a plain one that begins with an entry that is not wanted; else 0.
func (d *rowDecoder) unwanted(text string) (next int) {
	if len(text) <= idLength || text[idLength] != ',' {
		return 0
	}
	end := strings.IndexByte(text, '\n') + 1
	if end == 0 {
		end = len(text)
	}
	id, ok := entryID(text[:idLength])
	if !ok || strings.IndexByte(text[:end], '"') >= 0 || d.wanted(id) {
		return 0
	}
	return end
}

// plain decodes the first line of text into the row, if it is plain, and returns where the next line begins. Else the row is undefined.
func (d *rowDecoder) plain(text string) (next int, ok bool) {
	end := strings.IndexByte(text, '\n')
	next = end + 1
	if end < 0 {
		end, next = len(text), len(text)
	}
	line := text[:end]
	if strings.IndexByte(line, '"') >= 0 {
		return 0, false
	}
	line = strings.TrimSuffix(line, "\r")
	return next, d.split(line) && d.fields(line)
}

const everyByte = 0x0101010101010101

// split finds the commas of a line, eight bytes at a time.
func (d *rowDecoder) split(line string) bool {
	n, i := 0, 0
	for ; i+8 <= len(line); i += 8 {
		x := binary.LittleEndian.Uint64([]byte(line[i:i+8])) ^ ','*everyByte
		// Of each byte of x the highest bit is set in found where that byte is 0.
		found := ^((x&(0x7f*everyByte) + 0x7f*everyByte) | x | 0x7f*everyByte)
		for ; found != 0; found &= found - 1 {
			if n == mostFields-1 {
				return false
			}
			d.ends[n] = i + bits.TrailingZeros64(found)/8
			n++
		}
	}
	for ; i < len(line); i++ {
		if line[i] == ',' {
			if n == mostFields-1 {
				return false
			}
			d.ends[n] = i
			n++
		}
	}
	d.ends[n] = len(line)
	return n+1 == len(d.layout.header)
}

// field returns the trimmed text of a column, "" if the header lacks it.
func (d *rowDecoder) field(line string, column int) string {
	j := d.place[column]
	if j < 0 {
		return ""
	}
	from := 0
	if j > 0 {
		from = d.ends[j-1] + 1
	}
	s := line[from:d.ends[j]]
	if s == "" || s[0] > ' ' && s[len(s)-1] > ' ' { // as Trim, which is not inlined
		return s
	}
	return Trim(s)
}

// fields decodes the fields of a line, and reports whether the row is plain and sound.
func (d *rowDecoder) fields(line string) bool {
	row := d.row
	row.Entry = d.field(line, 0)
	if row.Entry != "" {
		id, ok := entryID(row.Entry)
		if !ok {
			return false
		}
		row.ID = id
	} else {
		row.ID = ""
	}
	if !d.time(d.field(line, 1)) {
		return false
	}
	row.Job, row.Client, row.Printer = d.field(line, 2), d.field(line, 3), d.field(line, 4)
	if strings.IndexByte(row.Job, ':') >= 0 || strings.IndexByte(row.Client, ':') >= 0 || strings.IndexByte(row.Printer, ':') >= 0 {
		return false
	}
	if row.SpoolNumber = d.spools.number(d.field(line, 5)); row.SpoolNumber == 0 {
		return false
	}
	row.Spool = d.spools.ids[row.SpoolNumber-1]
	if row.PartG.UnmarshalCSV(d.field(line, 6)) != nil || row.SupportG.UnmarshalCSV(d.field(line, 7)) != nil ||
		row.PrimeG.UnmarshalCSV(d.field(line, 8)) != nil || row.PurgeG.UnmarshalCSV(d.field(line, 9)) != nil ||
		row.Changes.UnmarshalCSV(d.field(line, 10)) != nil {
		return false
	}
	switch d.field(line, 11) {
	case "", Finished:
		row.Outcome = Finished
	case Failed:
		row.Outcome = Failed
	default:
		return false
	}
	switch d.field(line, 12) {
	case "", Sliced:
		row.Basis = Sliced
	case Path:
		row.Basis = Path
	case Weighed:
		row.Basis = Weighed
	default:
		return false
	}
	row.Slot, row.File, row.Note = d.field(line, 13), d.field(line, 14), d.field(line, 15)
	return !strings.ContainsAny(row.Slot, "/:=")
}

// time decodes at, which must not be blank. Rows of one day come together, so it decodes a date once.
func (d *rowDecoder) time(s string) bool {
	const date, clock = len("0000-00-00"), len("0000-00-00T00:00:00")
	if len(s) <= clock {
		return false
	}
	if d.written == "" || s[:date] != d.written {
		at, err := ParseTime(s)
		if err != nil || at.IsZero() {
			return false
		}
		d.row.At = at
		midnight, err := ParseTime(s[:date] + "T00:00:00Z")
		if err != nil {
			return true // the year 1 begins with the zero Time
		}
		d.written, d.day = strings.Clone(s[:date]), midnight.seconds
		return true
	}
	seconds, nanos, offset, err := parseClock(s[date:])
	at := Time{d.day + int64(seconds-offset), int32(nanos), int32(offset)}
	if err != nil || at.IsZero() {
		return false
	}
	d.row.At = at
	return true
}

// spoolIndex numbers spools from 1 on, by their ids. It is faster than a map, because it need not work for any string.
type spoolIndex struct {
	ids   []string
	seed  maphash.Seed
	slots []int32 // numbers, by the hash of the id, and behind it where that place is taken
}

func newSpoolIndex(ids []string) *spoolIndex {
	x := &spoolIndex{ids, maphash.MakeSeed(), make([]int32, 1<<bits.Len(uint(2*len(ids)+1)))}
	for i, id := range ids {
		at := x.hash(id)
		for x.slots[at] != 0 {
			at = (at + 1) & (len(x.slots) - 1)
		}
		x.slots[at] = int32(i + 1)
	}
	return x
}

func (x *spoolIndex) hash(id string) int {
	return int(uint32(maphash.String(x.seed, id))) & (len(x.slots) - 1)
}

// number returns the number of an id, 0 if it has none.
func (x *spoolIndex) number(id string) int {
	for at := x.hash(id); ; at = (at + 1) & (len(x.slots) - 1) {
		n := int(x.slots[at])
		if n == 0 || x.ids[n-1] == id {
			return n
		}
	}
}
