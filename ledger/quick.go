package ledger

import (
	"strings"
	"unicode/utf8"
)

// Nearly all rows of consumption are plain: no fault, the width of the header, an entry in upper case or none, and no quote but round a
// whole field. They are decoded here, several times as fast as by reader, which decodes all others. A fuzz test compares the two.

const (
	mostFields = 64 // of a header for quick decoding
	noField    = mostFields
)

// rowDecoder decodes blocks of consumption. Each worker has its own.
type rowDecoder struct {
	layout  *layout
	row     *Consumption
	each    func()
	scanner *scanner
	reader  *reader
	spools  *spoolIndex

	wanted func(id string) bool // of entries: other plain rows are passed over; nil: all

	place  [16]int             // of each column in a record; noField if the header lacks it
	begins [mostFields + 1]int // of the fields of the present line; noField is blank
	ends   [mostFields + 1]int
	quick  bool
	made   [16]byte // the beginning of the last entry in upper case
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
		for i, j := range l.place {
			if d.place[i] = j; j < 0 {
				d.place[i] = noField
			}
		}
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
	line := strings.TrimSuffix(text[:end], "\r")
	return next, d.split(line) && d.fields(line)
}

// fields decodes the fields of a line, and reports whether the row is plain and sound.
func (d *rowDecoder) fields(line string) bool {
	row := d.row
	row.Entry = d.field(line, 0)
	if row.Entry != "" {
		if !d.entry(row.Entry) {
			return false
		}
	} else {
		row.ID = ""
	}
	if !d.time(d.field(line, 1)) {
		return false
	}
	row.Job, row.Client, row.Printer = d.field(line, 2), d.field(line, 3), d.field(line, 4)
	if d.colon(line) {
		return false
	}
	if row.SpoolNumber = d.spools.number(d.field(line, 5)); row.SpoolNumber == 0 {
		return false
	}
	row.Spool = d.spools.ids[row.SpoolNumber-1]
	var part, support, prime, purge bool
	row.PartG, part = grams(d.field(line, 6))
	row.SupportG, support = grams(d.field(line, 7))
	row.PrimeG, prime = grams(d.field(line, 8))
	row.PurgeG, purge = grams(d.field(line, 9))
	if !part || !support || !prime || !purge || row.Changes.UnmarshalCSV(d.field(line, 10)) != nil {
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
	return row.Slot == "" || !strings.ContainsAny(row.Slot, "/:=")
}

// entry decodes an entry, which must not be blank. Entries of one time come together and begin alike, so it looks at that part once.
func (d *rowDecoder) entry(s string) bool {
	const same = len(d.made)
	if len(s) == idLength && s[:same] == string(d.made[:]) && plainDigits(s[same:]) {
		d.row.ID = s
		return true
	}
	id, ok := entryID(s)
	if d.row.ID = id; ok && id == s {
		copy(d.made[:], s)
	}
	return ok
}

// colon reports whether job, client or printer has a colon.
func (d *rowDecoder) colon(line string) bool {
	job, client, printer := d.place[2], d.place[3], d.place[4]
	if client == job+1 && printer == client+1 { // as in nearly every file: one search for all three
		return strings.IndexByte(line[d.begins[job]:d.ends[printer]], ':') >= 0
	}
	return strings.IndexByte(d.row.Job, ':') >= 0 || strings.IndexByte(d.row.Client, ':') >= 0 || strings.IndexByte(d.row.Printer, ':') >= 0
}

// time decodes at, which must not be blank.
func (d *rowDecoder) time(s string) bool {
	const date, clock = len("0000-00-00"), len("0000-00-00T00:00:00")
	if len(s) == clock+1 && s[date] == 'T' && s[clock] == 'Z' { // as nearly all are written
		midnight, day := secondsOfDate(s[:date])
		seconds, moment := secondsOfDay(s[date+1 : clock])
		if day && moment && midnight+seconds != 0 {
			d.row.At = Time{seconds: midnight + seconds}
			return true
		}
	}
	at, err := ParseTime(s)
	d.row.At = at
	return err == nil && !at.IsZero()
}
