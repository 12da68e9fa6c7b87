package ledger

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// Nearly all rows of consumption are plain: no fault, the width of the header, and no quote but round a whole field. They are decoded here,
// several times as fast as by reader, which decodes all others. A fuzz test compares the two.

// rowDecoder decodes blocks of consumption. Each worker has its own.
type rowDecoder struct {
	layout  *layout
	row     *Consumption
	each    func()
	scanner scanner
	reader  *reader
	spools  *spoolIndex

	wanted func(id string) bool // of entries: other plain rows are passed over; nil: all

	order []int          // of each field of a record, the column that it holds; -1 if it is passed over
	entry [idLength]byte // the last entry in upper case; zeros if there was none

	usualOrder bool // of the first columns, up to basis: they stand as in Consumption
	// The rows of one job stand together and begin alike behind their entries, so what they share is decoded once.
	shared string // the text of these fields in the last row, each with its comma; "" if it is not known

	_ ownLines
}

// ownLines keeps what one worker writes with every row out of the cache lines that another reads, which would fetch them anew each time.
type ownLines [128]byte

// newRowDecoder returns a decoder that calls each after every sound row, which is in row, and bad for every fault.
func newRowDecoder(l *layout, spools *spoolIndex, row *Consumption, each func(), bad func(*RowError)) *rowDecoder {
	d := &rowDecoder{layout: l, row: row, each: each, scanner: *scanText(""), spools: spools}
	d.reader = newReader(l, row, func(int, string) {
		row.SpoolNumber = spools.number(row.Spool)
		each()
	}, func(e *RowError, _ []string) { bad(e) })
	for j := range l.header {
		d.order = append(d.order, slices.Index(l.place, j))
	}
	d.usualOrder = len(d.order) > basisColumn
	for j := range min(len(d.order), basisColumn+1) {
		d.usualOrder = d.usualOrder && d.order[j] == j
	}
	// What the header lacks is blank in every row.
	row.Outcome, row.Basis = Finished, Sliced
	return d
}

// decode decodes a block. before is the number of lines in the file before text.
func (d *rowDecoder) decode(text string, before int) error {
	valid := utf8.ValidString(text)
	s := &d.scanner
	s.block, s.line = text, before
	d.shared = ""
	for s.block != "" {
		if valid {
			if d.wanted != nil && d.order[0] == entryColumn {
				if end := d.unwanted(s.block); end > 0 {
					s.block = s.block[end:]
					s.line++
					continue
				}
			}
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

// unwanted returns where the second line of text begins if the first has no quote and begins with an entry that is not wanted; else 0.
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

// The columns of consumption, as they stand in Consumption.
const (
	entryColumn = iota
	atColumn
	jobColumn
	clientColumn
	printerColumn
	spoolColumn
	partColumn
	supportColumn
	primeColumn
	purgeColumn
	changesColumn
	outcomeColumn
	basisColumn
	slotColumn
	fileColumn
	noteColumn
)

// plain decodes the first line of text into the row, if it is plain, and returns where the next line begins. Else the row is undefined.
func (d *rowDecoder) plain(text string) (next int, ok bool) {
	if d.usualOrder {
		if next, ok = d.usualRow(text); ok {
			return next, true
		}
	}
	d.shared = ""
	return d.anyRow(text)
}

// anyRow is plain for a header of any order.
func (d *rowDecoder) anyRow(text string) (next int, ok bool) {
	row := d.row
	row.ID, ok = "", true
	at := 0
	for j := 0; j < len(d.order); j++ {
		if j > 0 {
			if uint(at) >= uint(len(text)) || text[at] != ',' {
				return 0, false
			}
			at++
		}
		switch column := d.order[j]; column {
		case entryColumn:
			row.Entry, at = fieldOf(text, at, idLength)
			ok = at >= 0 && (row.Entry == "" || d.id(row.Entry))
		case atColumn:
			var s string
			s, at = fieldOf(text, at, len("2006-01-02T15:04:05Z"))
			ok = at >= 0 && d.time(s)
		case partColumn:
			row.PartG, at = gramsOf(text, at)
		case supportColumn:
			row.SupportG, at = gramsOf(text, at)
		case primeColumn:
			row.PrimeG, at = gramsOf(text, at)
		case purgeColumn:
			row.PurgeG, at = gramsOf(text, at)
		default:
			var s string
			s, at = fieldAt(text, at)
			ok = at >= 0 && d.text(column, s)
		}
		if !ok {
			return 0, false
		}
	}
	return lineEnd(text, at)
}

// usualRow is plain for a header in the usual order and a row with a mass of at most seven characters in each of its columns, and no quote
// round one. Nearly all rows are such; by the loop of anyRow alone a stock of a million rows takes a quarter longer.
func (d *rowDecoder) usualRow(text string) (next int, ok bool) {
	row := d.row
	var at int
	switch {
	case text[0] == ',':
		row.Entry, row.ID = "", ""
		at = 1
	case len(text) > idLength && text[idLength] == ',' && d.id(text[:idLength]):
		row.Entry = text[:idLength]
		at = idLength + 1
	default:
		return 0, false
	}
	if d.shared != "" && strings.HasPrefix(text[at:], d.shared) {
		at += len(d.shared)
	} else if at = d.head(text, at); at < 0 {
		return 0, false
	}
	spool, end := fieldAt(text, at)
	if row.SpoolNumber = d.spools.number(spool); row.SpoolNumber == 0 {
		return 0, false
	}
	row.Spool = d.spools.ids[row.SpoolNumber-1]
	at = end + 1
	var changes Grams
	grams := [...]*Grams{&row.PartG, &row.SupportG, &row.PrimeG, &row.PurgeG, &changes}
	if at+8*len(grams) > len(text) || text[end] != ',' {
		return 0, false
	}
	for _, g := range grams {
		var length int
		if *g, length, ok = shortGrams(eightBytes(text, at)); !ok {
			return 0, false
		}
		end = at + length
		at = end + 1
	}
	row.Changes = Count{int(changes / 1000), text[end-1] != ','}
	if changes%1000 != 0 {
		return 0, false
	}
	for j := outcomeColumn; ; j++ {
		s, end := fieldAt(text, at)
		if end < 0 || !d.text(d.order[j], s) {
			return 0, false
		}
		if j+1 == len(d.order) {
			return lineEnd(text, end)
		}
		if end == len(text) || text[end] != ',' {
			return 0, false
		}
		at = end + 1
	}
}

// head decodes the fields from at to printer, and returns where the next field begins; -1 if they are not plain.
func (d *rowDecoder) head(text string, from int) (next int) {
	d.shared = ""
	s, end := fieldOf(text, from, len("2006-01-02T15:04:05Z"))
	if end < 0 || !d.time(s) {
		return -1
	}
	for column := jobColumn; column <= printerColumn; column++ {
		if end == len(text) || text[end] != ',' {
			return -1
		}
		if s, end = fieldAt(text, end+1); end < 0 || !d.text(column, s) {
			return -1
		}
	}
	if end == len(text) || text[end] != ',' {
		return -1
	}
	d.shared = text[from : end+1]
	return end + 1
}

// text stores the text of one of the other columns, and reports whether it is plain and sound.
func (d *rowDecoder) text(column int, s string) (ok bool) {
	row := d.row
	switch column {
	case jobColumn:
		row.Job = s
		return strings.IndexByte(s, ':') < 0
	case clientColumn:
		row.Client = s
		return strings.IndexByte(s, ':') < 0
	case printerColumn:
		row.Printer = s
		return strings.IndexByte(s, ':') < 0
	case spoolColumn:
		if row.SpoolNumber = d.spools.number(s); row.SpoolNumber == 0 {
			return false
		}
		row.Spool = d.spools.ids[row.SpoolNumber-1]
	case changesColumn:
		return row.Changes.UnmarshalCSV(s) == nil
	case outcomeColumn:
		row.Outcome, ok = oneOf(s, Finished, Failed)
		return ok
	case basisColumn:
		row.Basis, ok = oneOf(s, Sliced, Path, Weighed)
		return ok
	case slotColumn:
		row.Slot = s
		return s == "" || !strings.ContainsAny(s, "/:=")
	case fileColumn:
		row.File = s
	case noteColumn:
		row.Note = s
	}
	return true
}

// oneOf returns the word that a text is; the first for a blank.
func oneOf(s string, words ...string) (string, bool) {
	if s == "" {
		return words[0], true
	}
	for _, w := range words {
		if s == w {
			return w, true
		}
	}
	return "", false
}

// id decodes an entry, which must not be blank. Entries of one time come together and begin alike, so it looks at that part once.
func (d *rowDecoder) id(s string) bool {
	const same = 24
	if len(s) == idLength && d.entry[0] != 0 && s[:same] == string(d.entry[:same]) && crockford[s[24]]&crockford[s[25]]&upperDigit != 0 {
		d.row.ID = s
		return true
	}
	id, ok := entryID(s)
	if d.row.ID = id; ok && id == s {
		copy(d.entry[:], s)
	}
	return ok
}

// time decodes at, which must not be blank.
func (d *rowDecoder) time(s string) bool {
	at, err := ParseTime(s)
	d.row.At = at
	return err == nil && !at.IsZero()
}
