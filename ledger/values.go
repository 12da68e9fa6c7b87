package ledger

import (
	"cmp"
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// Trim removes the blanks (space and tab) that a person may leave round a value.
func Trim(s string) string {
	if s == "" || (s[0] > ' ' && s[len(s)-1] > ' ') {
		return s
	}
	return strings.Trim(s, " \t")
}

// Grams is a mass in thousandths of a gram.
type Grams int64

// MaxGrams is the largest mass a field may hold, 1000 t: sums of millions of rows stay within an int64.
const MaxGrams Grams = 1e12

const gramsMend = "write grams with a dot, as 180.2"

// ParseGrams reads digits, optionally a dot and at most three digits. Blank is 0.
func ParseGrams(s string) (Grams, error) {
	s = Trim(s)
	if s == "" {
		return 0, nil
	}
	var n Grams
	decimals := -1
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			if decimals >= 0 {
				decimals++
			}
			if decimals > 3 {
				return 0, wrong("write at most three decimals of a gram", "has more than three decimals")
			}
			n = n*10 + Grams(c-'0')
			if n > MaxGrams {
				return 0, wrong("", "is more than any spool")
			}
		case c == '.' && decimals < 0 && i > 0 && i < len(s)-1:
			decimals = 0
		default:
			return 0, wrong(gramsMend, "is not a number")
		}
	}
	for d := max(decimals, 0); d < 3; d++ {
		n *= 10
	}
	if n > MaxGrams {
		return 0, wrong("", "is more than any spool")
	}
	return n, nil
}

// String writes grams with no more decimals than needed.
func (g Grams) String() string {
	sign := ""
	if g < 0 {
		sign, g = "-", -g
	}
	if g%1000 == 0 {
		return sign + strconv.FormatInt(int64(g/1000), 10)
	}
	thousandths := strconv.FormatInt(int64(1000+g%1000), 10)[1:]
	return sign + strconv.FormatInt(int64(g/1000), 10) + "." + strings.TrimRight(thousandths, "0")
}

// Float returns g in grams.
func (g Grams) Float() float64 { return float64(g) / 1000 }

// Decimal returns g in grams, exactly.
func (g Grams) Decimal() decimal.Decimal { return decimal.New(int64(g), -3) }

// MarshalJSON writes g as a number of grams.
func (g Grams) MarshalJSON() ([]byte, error) { return []byte(g.String()), nil }

// MarshalCSV writes g as a field.
func (g Grams) MarshalCSV() (string, error) { return g.String(), nil }

// UnmarshalCSV reads a field; blank is 0.
func (g *Grams) UnmarshalCSV(s string) (err error) {
	*g, err = ParseGrams(s)
	return err
}

// Mass is a mass that may not be known.
type Mass struct {
	Grams
	Given bool
}

// Known returns g as a known mass.
func Known(g Grams) Mass { return Mass{g, true} }

// MarshalCSV writes m as a field, blank when it is not known.
func (m Mass) MarshalCSV() (string, error) {
	if !m.Given {
		return "", nil
	}
	return m.Grams.String(), nil
}

// UnmarshalCSV reads a field; blank is not known.
func (m *Mass) UnmarshalCSV(s string) (err error) {
	if Trim(s) == "" {
		*m = Mass{}
		return nil
	}
	m.Grams, err = ParseGrams(s)
	m.Given = err == nil
	return err
}

// MarshalJSON writes m as a number of grams, or null.
func (m Mass) MarshalJSON() ([]byte, error) {
	if !m.Given {
		return []byte("null"), nil
	}
	return m.Grams.MarshalJSON()
}

// Number is an exact number of no sign that may be blank; it keeps the text it was written with.
type Number struct {
	decimal.Decimal
	Given bool
	text  string
}

// ParseNumber reads digits, optionally a dot and digits. Blank is a Number not given.
func ParseNumber(s string) (Number, error) {
	s = Trim(s)
	if s == "" {
		return Number{}, nil
	}
	dots := 0
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
		case c == '.' && dots == 0 && i > 0 && i < len(s)-1:
			dots++
		default:
			return Number{}, wrong("write digits with a dot, as 24.90", "is not a number")
		}
	}
	if len(s) > 40 {
		return Number{}, wrong("", "has too many digits")
	}
	d, err := decimal.NewFromString(s)
	if err != nil {
		return Number{}, wrong("write digits with a dot, as 24.90", "is not a number")
	}
	return Number{d, true, s}, nil
}

// NewNumber returns d as a given Number; d is not below 0.
func NewNumber(d decimal.Decimal) Number { return Number{d, true, d.String()} }

// Float returns the number, or otherwise when it is blank.
func (n Number) Float(otherwise float64) float64 {
	if !n.Given {
		return otherwise
	}
	return n.InexactFloat64()
}

// MarshalCSV writes the text that was read.
func (n Number) MarshalCSV() (string, error) {
	if n.Given && n.text == "" { // made elsewhere
		return n.Decimal.String(), nil
	}
	return n.text, nil
}

// UnmarshalCSV reads a field.
func (n *Number) UnmarshalCSV(s string) (err error) {
	*n, err = ParseNumber(s)
	return err
}

// MarshalJSON writes n as a number, or null.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.Given {
		return []byte("null"), nil
	}
	return []byte(n.Decimal.String()), nil
}

// Count is a whole number that may be blank.
type Count struct {
	N     int
	Given bool
}

// MarshalCSV writes c as a field, blank when it is not given.
func (c Count) MarshalCSV() (string, error) {
	if !c.Given {
		return "", nil
	}
	return strconv.Itoa(c.N), nil
}

// UnmarshalCSV reads a field; a fraction of nought is let pass.
func (c *Count) UnmarshalCSV(s string) error {
	*c = Count{}
	if s = Trim(s); s == "" {
		return nil
	}
	n, dot := 0, -1
	for i := 0; i < len(s); i++ {
		switch d := int(s[i] - '0'); {
		case s[i] == '.' && dot < 0 && i > 0 && i < len(s)-1:
			dot = i
		case dot < 0 && d >= 0 && d <= 9 && i < 9:
			n = n*10 + d
		case dot >= 0 && d == 0:
		default:
			return wrong("write a count, as 12", "is not a whole number")
		}
	}
	*c = Count{n, true}
	return nil
}

// Time is an instant with the offset it was written with (RFC 3339). The zero Time is blank.
type Time struct {
	utc    time.Time
	offset int32 // seconds east of UTC
}

const timeMend = "write a time with its offset, as 2026-11-20T18:30:00+01:00"

var errNotTime = wrong(timeMend, "is not a time of RFC 3339") // made once: the pass over consumption reads a time a row

// NewTime returns t with its own offset, which RFC 3339 can tell to the minute only.
func NewTime(t time.Time) Time {
	_, offset := t.Zone()
	return Time{t.UTC(), int32(offset - offset%60)}
}

// ParseTime reads RFC 3339 (5.6) with an upper-case T and Z, at most nine decimals of a second and no leap
// second. Its shape is checked first, as time.Parse takes one-digit hours, a comma and offsets of a day.
func ParseTime(s string) (Time, error) {
	s = Trim(s)
	if s == "" {
		return Time{}, nil
	}
	const shape = "0000-00-00T00:00:00"
	if len(s) <= len(shape) || !shaped(s[:len(shape)], shape) {
		return Time{}, errNotTime
	}
	rest := s[len(shape):]
	nanos := 0
	if rest[0] == '.' {
		n := 1
		for n < len(rest) && rest[n] >= '0' && rest[n] <= '9' {
			n++
		}
		if n == 1 || n > 10 {
			return Time{}, errNotTime
		}
		for i := 1; i <= 9; i++ {
			nanos *= 10
			if i < n {
				nanos += int(rest[i] - '0')
			}
		}
		rest = rest[n:]
	}
	offset := 0
	switch {
	case rest == "Z":
	case len(rest) == 6 && (rest[0] == '+' || rest[0] == '-') && shaped(rest[1:], "00:00"):
		h, m := number2(rest[1:]), number2(rest[4:])
		if h > 23 || m > 59 {
			return Time{}, errNotTime
		}
		offset = h*3600 + m*60
		if rest[0] == '-' {
			offset = -offset
		}
	default:
		return Time{}, errNotTime
	}
	year := number2(s)*100 + number2(s[2:])
	month, day := number2(s[5:]), number2(s[8:])
	hour, minute, second := number2(s[11:]), number2(s[14:]), number2(s[17:])
	t := time.Date(year, time.Month(month), day, hour, minute, second, nanos, time.UTC)
	if hour > 23 || minute > 59 || second > 59 || month < 1 || month > 12 || day < 1 || day > 28 && t.Day() != day {
		return Time{}, wrong(timeMend, "does not exist")
	}
	if t = t.Add(-time.Duration(offset) * time.Second); t.IsZero() {
		return Time{}, wrong(timeMend, "stands for no time at all") // the zero Time is blank
	}
	return Time{t, int32(offset)}, nil
}

// shaped tells whether s has a digit wherever shape has a 0 and shape's own byte elsewhere.
func shaped(s, shape string) bool {
	if len(s) != len(shape) {
		return false
	}
	for i := 0; i < len(s); i++ {
		if shape[i] == '0' {
			if s[i] < '0' || s[i] > '9' {
				return false
			}
		} else if s[i] != shape[i] {
			return false
		}
	}
	return true
}

func number2(s string) int { return int(s[0]-'0')*10 + int(s[1]-'0') }

// IsZero tells whether t is blank.
func (t Time) IsZero() bool { return t.utc.IsZero() }

// Compare orders instants.
func (t Time) Compare(u Time) int { return t.utc.Compare(u.utc) }

// Before tells whether t is an earlier instant than u.
func (t Time) Before(u Time) bool { return t.utc.Before(u.utc) }

// After tells whether t is a later instant than u.
func (t Time) After(u Time) bool { return t.utc.After(u.utc) }

// Std returns t in its own offset.
func (t Time) Std() time.Time {
	if t.offset == 0 {
		return t.utc
	}
	return t.utc.In(time.FixedZone("", int(t.offset)))
}

// local returns the clock reading in t's own offset, told as if it were UTC.
func (t Time) local() time.Time { return t.utc.Add(time.Duration(t.offset) * time.Second) }

// Date returns the calendar date by t's own offset, as 2026-10-31.
func (t Time) Date() string { return t.local().Format(time.DateOnly) }

// Day returns the calendar date by t's own offset as a count of days since 1970-01-01; DateOf is its inverse.
func (t Time) Day() int {
	seconds := t.utc.Unix() + int64(t.offset)
	day := seconds / daySeconds
	if seconds%daySeconds < 0 {
		day--
	}
	return int(day)
}

const daySeconds = 24 * 60 * 60

// DateOf returns the date of a day that Day told, as 2026-10-31.
func DateOf(day int) string { return time.Unix(int64(day)*daySeconds, 0).UTC().Format(time.DateOnly) }

// Month returns the calendar month by t's own offset, as 2026-10.
func (t Time) Month() string {
	y, m, _ := t.local().Date()
	return cmp.Or(monthText(y, int(m)), t.local().Format("2006-01"))
}

// monthText spares time.Format in the pass over consumption; it answers for years of four digits.
func monthText(y, m int) string {
	if y < 1000 || y > 9999 {
		return ""
	}
	b := [7]byte{byte('0' + y/1000), byte('0' + y/100%10), byte('0' + y/10%10), byte('0' + y%10), '-', byte('0' + m/10), byte('0' + m%10)}
	return string(b[:])
}

// String writes t as RFC 3339, blank for the zero Time.
func (t Time) String() string {
	if t.IsZero() {
		return ""
	}
	return t.Std().Format(time.RFC3339Nano)
}

// MarshalCSV writes t as a field.
func (t Time) MarshalCSV() (string, error) { return t.String(), nil }

// UnmarshalCSV reads a field.
func (t *Time) UnmarshalCSV(s string) (err error) {
	*t, err = ParseTime(s)
	return err
}

// MarshalJSON writes t as RFC 3339, or null.
func (t Time) MarshalJSON() ([]byte, error) {
	if t.IsZero() {
		return []byte("null"), nil
	}
	return []byte(`"` + t.String() + `"`), nil
}
