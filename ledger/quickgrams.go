package ledger

import "math/bits"

// Masses in rows of consumption, eight bytes at a time. What is not written in the usual way is left to ParseGrams.

// gramsOf decodes the mass in the field that begins at an index, and returns where the field ends; -1 if it is no mass.
func gramsOf(text string, at int) (g Grams, end int) {
	if at+8 <= len(text) {
		if g, length, ok := shortGrams(eightBytes(text, at)); ok {
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

// shortGrams decodes a mass of at most five digits, perhaps with a dot and one to three digits behind it, and the comma that ends it, in
// eight bytes; or the comma alone. It returns the length before the comma.
func shortGrams(x uint64) (g Grams, length int, ok bool) {
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
