package toolpath

import (
	"encoding/binary"
	"math/bits"
)

// Numbers are plain decimals: a sign, digits, a point, digits, each optional but for one digit (NISTIR 6556, 3.3.2.1).
// Exponents are the work of words.go: number stops at the E, which begins a word in X1E3.

// largest bounds every number, in billionths: a thousand kilometres. Two of them add up without overflow.
const largest = 1_000_000_000_000_000_000

type soundness uint8

const (
	sound  soundness = iota
	long             // sound, but for decimals that were dropped
	none             // not a number
	beyond           // larger than largest
)

var pow10 = [10]int64{1, 10, 100, 1000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000, 1_000_000_000}

// number reads the number that begins at b[i], as billionths, and returns the index after it. b ends in a byte that is
// no part of a number. Of more than 9 decimals the others are dropped, and it is long.
func number(b []byte, i int) (v int64, next int, s soundness) {
	minus := b[i] == '-'
	if minus || b[i] == '+' {
		i++
	}
	if i+8 <= len(b) {
		if v, n, ok := shortNumber(binary.LittleEndian.Uint64(b[i:])); ok {
			if minus {
				v = -v
			}
			return v, i + n, sound
		}
	}
	rest := b[i:]
	n := 0
	for n < len(rest) {
		d := rest[n] - '0'
		if d > 9 {
			break
		}
		v = v*10 + int64(d)
		n++
	}
	whole, decimals := n, 0
	if n < len(rest) && rest[n] == '.' {
		n++
		for n < len(rest) {
			d := rest[n] - '0'
			if d > 9 {
				break
			}
			v = v*10 + int64(d)
			n++
		}
		decimals = n - whole - 1
	}
	switch {
	case whole > 9 || decimals > 9:
		if v, _, s = longNumber(rest[:n]); s == sound && decimals > 9 {
			s = long
		}
	case whole+decimals == 0:
		return 0, i + n, none
	default:
		v *= pow10[9-decimals]
	}
	if minus {
		v = -v
	}
	return v, i + n, s
}

const (
	everyByte = 0x0101010101010101
	highBits  = 0x80 * everyByte // the highest bit of every byte
)

// shortNumber reads a number without a sign from eight bytes of text, of which the first is the lowest. The number and the byte behind it
// must be among them, as of nearly all numbers; to read those digit by digit takes longer.
func shortNumber(text uint64) (v int64, length int, ok bool) {
	text ^= '0' * everyByte // makes a digit's value of each digit
	others := (text&^highBits + (0x80-10)*everyByte | text) & highBits
	whole := bits.TrailingZeros64(others) &^ 7 // in bits, as the next lengths
	end, decimals := whole, 0
	if whole < 64 && byte(text>>whole) == '.'^'0' {
		end = bits.TrailingZeros64(others&(others-1)) &^ 7
		decimals = end - whole - 8
	}
	if end == 64 || whole+decimals == 0 {
		return 0, 0, false
	}
	before := uint64(1)<<(whole&63) - 1
	digits := text&before | text>>8&^before               // without the point
	digits <<= (64 - whole - decimals) & 63               // the last digit in the highest byte, and no others
	digits = (10*digits + digits>>8) & 0x00ff00ff00ff00ff // two digits in 16 bits
	digits = (100*digits + digits>>16) & 0x0000ffff0000ffff
	digits = (10000*digits + digits>>32) & 0xffffffff
	return int64(digits) * pow10[9-decimals/8], end / 8, true
}

// longNumber reads any number of digits, with or without a point. It returns billionths, and in rest billionths of these; smaller digits
// are dropped.
func longNumber(b []byte) (v, rest int64, s soundness) {
	i := 0
	for ; i < len(b) && b[i] != '.'; i++ {
		v = v*10 + int64(b[i]-'0')
		if v >= largest/1e9 {
			return 0, 0, beyond
		}
	}
	for digit := 1; digit <= 18; digit++ {
		d := int64(0)
		if i+digit < len(b) {
			d = int64(b[i+digit] - '0')
		}
		if digit <= 9 {
			v = v*10 + d
		} else {
			rest = rest*10 + d
		}
	}
	return v, rest, sound
}
