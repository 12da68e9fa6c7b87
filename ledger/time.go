package ledger

import (
	"cmp"
	"time"
)

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
