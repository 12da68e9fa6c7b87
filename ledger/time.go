package ledger

import (
	"cmp"
	"time"
)

// Time is an instant and the offset that it was written with (RFC 3339). The zero Time is a blank field.
type Time struct {
	seconds int64 // since the beginning of the year 1, UTC, as in time.Time
	nanos   int32
	offset  int32 // seconds east of UTC
}

const unixYear1 = -62135596800 // the beginning of the year 1 in seconds of Unix time

const timeMend = "write a time with its offset, as 2026-11-20T18:30:00+01:00"

var errNotTime = wrong(timeMend, "is not a time of RFC 3339") // allocated once, as each row of consumption has a time

// NewTime returns t with its own offset, cut to whole minutes: RFC 3339 has no seconds there.
func NewTime(t time.Time) Time {
	_, offset := t.Zone()
	return Time{t.Unix() - unixYear1, int32(t.Nanosecond()), int32(offset - offset%60)}
}

// ParseTime parses RFC 3339 (5.6) with an upper-case T and Z, at most nine decimals of a second and no leap second. It does not use
// time.Parse, which accepts one-digit hours, a comma and offsets of a day.
func ParseTime(s string) (Time, error) {
	if t, ok := usualTime(s); ok {
		return t, nil
	}
	return parseAnyTime(s)
}

// parseAnyTime is ParseTime for what is not written in the usual way.
func parseAnyTime(s string) (Time, error) {
	s = Trim(s)
	if s == "" {
		return Time{}, nil
	}
	const shape = "0000-00-00"
	if len(s) <= len(shape) || !hasShape(s[:len(shape)], shape) {
		return Time{}, errNotTime
	}
	clock, nanos, offset, err := parseClock(s[len(shape):])
	if err == errNotTime {
		return Time{}, err
	}
	month, day := twoDigits(s[5:]), twoDigits(s[8:])
	midnight := time.Date(twoDigits(s)*100+twoDigits(s[2:]), time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if err != nil || month < 1 || month > 12 || day < 1 || day > 28 && midnight.Day() != day {
		return Time{}, wrong(timeMend, "does not exist")
	}
	t := Time{midnight.Unix() - unixYear1 + int64(clock-offset), int32(nanos), int32(offset)}
	if t.IsZero() {
		return Time{}, wrong(timeMend, "stands for no time at all") // the zero Time means a blank field
	}
	return t, nil
}

var errNoClock = wrong(timeMend, "does not exist")

// parseClock parses what stands behind a date, as T18:30:00+01:00, into seconds of the day, nanoseconds and the offset in seconds. The
// error is errNotTime, or errNoClock if no clock shows that.
func parseClock(s string) (seconds, nanos, offset int, err error) {
	const shape = "T00:00:00"
	if len(s) <= len(shape) || !hasShape(s[:len(shape)], shape) {
		return 0, 0, 0, errNotTime
	}
	rest := s[len(shape):]
	if rest[0] == '.' {
		n := 1
		for n < len(rest) && rest[n] >= '0' && rest[n] <= '9' {
			n++
		}
		if n == 1 || n > 10 {
			return 0, 0, 0, errNotTime
		}
		for i := 1; i <= 9; i++ {
			nanos *= 10
			if i < n {
				nanos += int(rest[i] - '0')
			}
		}
		rest = rest[n:]
	}
	switch {
	case rest == "Z":
	case len(rest) == 6 && (rest[0] == '+' || rest[0] == '-') && hasShape(rest[1:], "00:00"):
		h, m := twoDigits(rest[1:]), twoDigits(rest[4:])
		if h > 23 || m > 59 {
			return 0, 0, 0, errNotTime
		}
		offset = h*3600 + m*60
		if rest[0] == '-' {
			offset = -offset
		}
	default:
		return 0, 0, 0, errNotTime
	}
	hour, minute, second := twoDigits(s[1:]), twoDigits(s[4:]), twoDigits(s[7:])
	if hour > 23 || minute > 59 || second > 59 {
		return 0, 0, 0, errNoClock
	}
	return hour*3600 + minute*60 + second, nanos, offset, nil
}

// hasShape reports whether s has a digit wherever shape has a 0, and the same byte as shape elsewhere.
func hasShape(s, shape string) bool {
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

func twoDigits(s string) int { return int(s[0]-'0')*10 + int(s[1]-'0') }

// IsZero reports whether t is blank.
func (t Time) IsZero() bool { return t.seconds == 0 && t.nanos == 0 }

// Compare orders instants.
func (t Time) Compare(u Time) int {
	return cmp.Or(cmp.Compare(t.seconds, u.seconds), cmp.Compare(t.nanos, u.nanos))
}

// Before reports whether t is before u.
func (t Time) Before(u Time) bool { return u.After(t) }

// After reports whether t is after u.
func (t Time) After(u Time) bool {
	return t.seconds > u.seconds || t.seconds == u.seconds && t.nanos > u.nanos
}

func (t Time) utc() time.Time { return time.Unix(t.seconds+unixYear1, int64(t.nanos)).UTC() }

// Std returns t as a time.Time with its own offset.
func (t Time) Std() time.Time {
	if t.offset == 0 {
		return t.utc()
	}
	return t.utc().In(time.FixedZone("", int(t.offset)))
}

// local returns what a clock at t's own offset shows, as if that clock were in UTC.
func (t Time) local() time.Time { return t.utc().Add(time.Duration(t.offset) * time.Second) }

// Date returns the calendar date by t's own offset, as 2026-10-31.
func (t Time) Date() string { return t.local().Format(time.DateOnly) }

// Day returns the calendar date by t's own offset as a count of days since 1970-01-01; DateOf is its inverse.
func (t Time) Day() int {
	seconds := t.seconds + unixYear1 + int64(t.offset)
	day := seconds / daySeconds
	if seconds%daySeconds < 0 {
		day--
	}
	return int(day)
}

const daySeconds = 24 * 60 * 60

// DateOf returns the date of a day that Day returned, as 2026-10-31.
func DateOf(day int) string { return time.Unix(int64(day)*daySeconds, 0).UTC().Format(time.DateOnly) }

// Month returns the calendar month by t's own offset, as 2026-10.
func (t Time) Month() string {
	y, m, _ := t.local().Date()
	return cmp.Or(monthText(y, int(m)), t.local().Format("2006-01"))
}

// monthText is faster than time.Format, which matters for each row of consumption. It returns "" unless the year has four digits.
func monthText(y, m int) string {
	if y < 1000 || y > 9999 {
		return ""
	}
	b := [7]byte{byte('0' + y/1000), byte('0' + y/100%10), byte('0' + y/10%10), byte('0' + y%10), '-', byte('0' + m/10), byte('0' + m%10)}
	return string(b[:])
}

// String formats t by RFC 3339; the zero Time is blank.
func (t Time) String() string {
	if t.IsZero() {
		return ""
	}
	return t.Std().Format(time.RFC3339Nano)
}

// MarshalCSV implements gocsv's TypeMarshaller.
func (t Time) MarshalCSV() (string, error) { return t.String(), nil }

// UnmarshalCSV parses a field as ParseTime does.
func (t *Time) UnmarshalCSV(s string) (err error) {
	*t, err = ParseTime(s)
	return err
}

// MarshalJSON returns a string by RFC 3339, or null for a blank time.
func (t Time) MarshalJSON() ([]byte, error) {
	if t.IsZero() {
		return []byte("null"), nil
	}
	return []byte(`"` + t.String() + `"`), nil
}
