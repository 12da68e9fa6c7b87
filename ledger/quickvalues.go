package ledger

import (
	"encoding/binary"
	"math/bits"
)

// Values of plain rows of consumption. What is not written in the usual way is left to the parsers of values.go and time.go.

// gramsOf decodes the mass in the field that begins at an index, and returns where the field ends; -1 if it is no mass.
func gramsOf(text string, at int) (g Grams, end int) {
	if at+8 <= len(text) {
		if g, length, ok := plainGrams(eightBytes(text, at)); ok {
			return g, at + length
		}
	}
	s, end := fieldAt(text, at)
	if end < 0 {
		return 0, end
	}
	g, err := ParseGrams(s)
	if err != nil {
		return 0, -1
	}
	return g, end
}

// plainGrams decodes a mass of at most five digits, perhaps with a dot and one to three digits behind it, and the comma that ends it, in
// eight bytes; or the comma alone. It returns the length before the comma.
func plainGrams(x uint64) (g Grams, length int, ok bool) {
	comma, dot := firstByte(x, ','), firstByte(x, '.') // in bits
	if comma == 0 || comma == 64 {
		return 0, 0, comma == 0
	}
	whole := min(dot, comma)
	decimals := max(0, comma-whole-8)
	if whole == 0 || whole > 5*8 || decimals > 3*8 || whole+8 == comma {
		return 0, 0, false
	}
	x ^= '0' * everyByte
	// The digits of thousandths of a gram, the first one in the lowest byte: whole grams end with the fifth byte.
	digits := x<<(64-whole&63)>>24 | x>>(whole+8&63)&(1<<(decimals&63)-1)<<40
	if (digits|(digits+0x76*everyByte))&(0x80*everyByte) != 0 { // a byte above 9
		return 0, 0, false
	}
	digits = (10*digits + digits>>8) & 0x00ff00ff00ff00ff // two digits in 16 bits
	digits = (100*digits + digits>>16) & 0x0000ffff0000ffff
	return Grams((10000*digits + digits>>32) & 0xffffffff), comma / 8, true
}

// firstByte returns at which of 64 bits the first byte begins that is b; 64 if none is.
func firstByte(x uint64, b byte) int {
	x ^= uint64(b) * everyByte
	return bits.TrailingZeros64((x-everyByte)&^x&(0x80*everyByte)) &^ 7
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
