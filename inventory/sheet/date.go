package sheet

import (
	"fmt"
	"strings"
	"time"
)

// Order is the order in which day, month and year stand.
type Order string

// The orders in use.
const (
	DMY Order = "dmy"
	MDY Order = "mdy"
	YMD Order = "ymd"
)

// Orders are all of them.
var Orders = []Order{DMY, MDY, YMD}

// Date is a day, and perhaps a time of it, as a cell has it.
type Date struct {
	Year, Month, Day           int
	Timed                      bool // a time stands there too
	Hour, Minute, Second, Nano int
	Zoned                      bool // and an offset from UTC
	Offset                     int  // in seconds east
}

// shaped is a cell cut into its numbers, before it is known which is which.
type shaped struct {
	part  [3]int
	width [3]int
	mark  byte // between them
	rest  Date // the time of day
}

// Date reads a cell by the sheet's order of dates.
func (f *Forms) Date(cell string) (Date, error) {
	const mend = "write it as 2026-11-20, or 2026-11-20 18:30"
	s, ok := shape(cell)
	if !ok {
		if marks := strings.Map(noDigit, cell); marks == "" || marks == "." || marks == "," {
			return Date{}, wrong(0, "show the column as dates and save again", "%s is a number where a date should be", quoted(cell))
		}
		return Date{}, wrong(0, mend, "%s is not a date", quoted(cell))
	}
	order := f.Dates
	if s.selfEvident() {
		order = YMD
	}
	if d, ok := s.as(order); ok {
		return d, nil
	}
	for _, other := range Orders {
		if _, ok := s.as(other); ok && order != "" {
			return Date{}, wrong(0, mend, "%s is no date that exists, read as %s", quoted(cell), order.words(s.mark))
		}
	}
	return Date{}, wrong(0, mend, "%s is no date that exists", quoted(cell))
}

func noDigit(r rune) rune {
	if r >= '0' && r <= '9' {
		return -1
	}
	return r
}

func (o Order) words(mark byte) string {
	words := map[byte]string{'d': "day", 'm': "month", 'y': "year"}
	return fmt.Sprintf("%s%c%s%c%s", words[o[0]], mark, words[o[1]], mark, words[o[2]])
}

// shape cuts a cell into its numbers: three of a date with one mark between them, then perhaps a time of day.
func shape(cell string) (s shaped, ok bool) {
	rest := cell
	for i := range s.part {
		n := 0
		for n < len(rest) && n < 5 && rest[n] >= '0' && rest[n] <= '9' {
			s.part[i] = s.part[i]*10 + int(rest[n]-'0')
			n++
		}
		if s.width[i] = n; n == 0 || n == 3 || n > 4 {
			return s, false
		}
		if rest = rest[n:]; i == 2 {
			break
		}
		if rest == "" || i == 1 && rest[0] != s.mark || strings.IndexByte("-/.", rest[0]) < 0 {
			return s, false
		}
		s.mark, rest = rest[0], rest[1:]
	}
	// The year has four digits or two, the others two or one.
	long := 0
	for i, w := range s.width {
		if w > 2 {
			if long++; i == 1 {
				return s, false
			}
		}
	}
	if long > 1 {
		return s, false
	}
	return s, s.clock(rest)
}

// clock reads what stands after a day: nothing, or 18:30, 18:30:05.25, 6:30 PM, perhaps with an offset.
func (s *shaped) clock(rest string) bool {
	if rest == "" {
		return true
	}
	for i, r := range rest {
		if ofGroups(r) == ' ' || r == 'T' || r == ',' && i == 0 {
			continue
		}
		if i == 0 {
			return false
		}
		rest = rest[i:]
		break
	}
	rest = strings.Map(func(r rune) rune { return ofGroups(r) }, rest)
	d := &s.rest
	if clock, upper := rest, strings.ToUpper(rest); strings.HasSuffix(upper, "Z") {
		d.Zoned, rest = true, rest[:len(rest)-1]
	} else if i := strings.LastIndexAny(clock, "+-"); i > 0 {
		offset, err := time.Parse("-07:00", clock[i:])
		if err != nil {
			return false
		}
		if _, d.Offset = offset.Zone(); d.Offset <= -24*3600 || d.Offset >= 24*3600 {
			return false
		}
		d.Zoned, rest = true, clock[:i]
	}
	rest = strings.ToUpper(strings.TrimRight(rest, " "))
	for _, layout := range []string{"15:04", "15:04:05", "3:04 PM", "3:04PM", "3:04:05 PM", "3:04:05PM"} {
		if t, err := time.Parse(layout, rest); err == nil && !strings.Contains(rest, ",") {
			d.Timed, d.Hour, d.Minute, d.Second, d.Nano = true, t.Hour(), t.Minute(), t.Second(), t.Nanosecond()
			return true
		}
	}
	return false
}

// selfEvident tells whether the year stands first with all its digits, which no other order has.
func (s *shaped) selfEvident() bool { return s.width[0] == 4 }

// as returns the day in an order, if there is such a day. A year of two digits is one of this century.
func (s *shaped) as(o Order) (Date, bool) {
	d := s.rest
	if o == "" {
		return d, false
	}
	for i, c := range []byte(o) {
		switch c {
		case 'y':
			d.Year = s.part[i]
			if s.width[i] == 1 {
				return d, false
			}
			if s.width[i] == 2 {
				d.Year += 2000
			}
		case 'm':
			d.Month = s.part[i]
		case 'd':
			d.Day = s.part[i]
		}
		if c != 'y' && s.width[i] > 2 {
			return d, false
		}
	}
	t := time.Date(d.Year, time.Month(d.Month), d.Day, 0, 0, 0, 0, time.UTC)
	return d, d.Year > 0 && int(t.Month()) == d.Month && t.Day() == d.Day
}
