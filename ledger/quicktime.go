package ledger

import "encoding/binary"

// Times that are written in the usual way, eight bytes at a time.

// usualTime decodes a time without decimals of a second and without blanks round it.
func usualTime(s string) (t Time, ok bool) {
	const date, clock = len("0000-00-00"), len("0000-00-00T00:00:00")
	if len(s) <= clock || s[date] != 'T' {
		return Time{}, false
	}
	offset, zone := int64(0), s[clock:] == "Z"
	if len(s) == clock+len("+00:00") && (s[clock] == '+' || s[clock] == '-') {
		if offset, zone = secondsOfDay(s[clock+1:] + ":00"); s[clock] == '-' {
			offset = -offset
		}
	}
	midnight, day := secondsOfDate(s[:date])
	seconds, moment := secondsOfDay(s[date+1 : clock])
	t = Time{seconds: midnight + seconds - offset, offset: int32(offset)}
	return t, zone && day && moment && !t.IsZero()
}

// secondsOfDate decodes a date of the shape 2026-11-20 that exists, from the year 1 on, into its first second since that year began.
func secondsOfDate(s string) (seconds int64, ok bool) {
	const zeros = 0x2d30302d30303030 // 0000-00-
	x := binary.LittleEndian.Uint64([]byte(s[:8])) ^ zeros
	tens, ones := s[8]-'0', s[9]-'0'
	if (x|(x+0x7f06067f06060606))&0x80f0f080f0f0f0f0 != 0 || tens > 9 || ones > 9 { // as in secondsOfDay
		return 0, false
	}
	year, month, day := int64(1000*(x&0xf)+100*(x>>8&0xf)+10*(x>>16&0xf)+x>>24&0xf), 10*(x>>40&0xf)+x>>48&0xf, int64(10*tens+ones)
	if year < 1 || month < 1 || month > 12 || day < 1 {
		return 0, false
	}
	leap := int64(0)
	if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
		leap = 1
	}
	before, after := daysBefore[month-1], daysBefore[month]
	if month > 2 {
		before += leap
	}
	if month >= 2 {
		after += leap
	}
	year--
	days := 365*year + year/4 - year/100 + year/400 + before + day - 1
	return 24 * 3600 * days, before+day <= after
}

// daysBefore is how many days of a common year come before each month, and before the next year.
var daysBefore = [...]int64{0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365}

// secondsOfDay decodes a clock of the shape 18:30:00 that exists.
func secondsOfDay(s string) (seconds int64, ok bool) {
	const zeros = 0x30303a30303a3030 // 00:00:00
	x := binary.LittleEndian.Uint64([]byte(s)) ^ zeros
	if (x|(x+0x06067f06067f0606))&0xf0f080f0f080f0f0 != 0 { // a byte that is no digit where a digit stands, or no colon
		return 0, false
	}
	two := func(from int) int64 { return int64(10*(x>>from&0xf) + x>>(from+8)&0xf) }
	hour, minute, second := two(0), two(24), two(48)
	return hour*3600 + minute*60 + second, hour < 24 && minute < 60 && second < 60
}
