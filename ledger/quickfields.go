package ledger

import (
	"encoding/binary"
	"math/bits"
	"strings"
)

// Where the fields of a line end that has no quote within one, found eight bytes at a time.

const everyByte = 0x0101010101010101

// fieldAt returns the trimmed text of the field that begins at an index, and where it ends; -1 if it has a quote within, or one that is never
// closed. What stands behind a closing quote is left to the caller.
func fieldAt(text string, at int) (s string, end int) {
	if at < len(text) {
		switch text[at] {
		case ',':
			return "", at
		case '"':
			return quotedField(text, at)
		}
	}
	if end = fieldEnd(text, at); end < 0 {
		return "", end
	}
	return Trim(text[at:end]), end
}

// fieldOf is fieldAt for one that nearly always has the given length.
func fieldOf(text string, at, length int) (s string, end int) {
	if end = at + length; end < len(text) && text[end] == ',' && text[at] > ',' {
		return text[at:end], end
	}
	return fieldAt(text, at)
}

// fieldEnd returns where the field that begins at an index ends: before a comma, the end of its line or of the text; -1 if it has a quote.
func fieldEnd(text string, at int) int {
	for at < len(text) {
		if at+8 <= len(text) {
			x := eightBytes(text, at)
			low := (x - (','+1)*everyByte) &^ x & (0x80 * everyByte) // the lowest bit stands for the first byte up to the comma's
			if low == 0 {
				at += 8
				continue
			}
			at += bits.TrailingZeros64(low) / 8
		}
		switch text[at] {
		case ',', '\n':
			return at
		case '"':
			return -1
		case '\r':
			if _, last := lineEnd(text, at); last {
				return at
			}
		}
		at++
	}
	return at
}

func eightBytes(text string, at int) uint64 {
	return binary.LittleEndian.Uint64([]byte(text[at : at+8]))
}

// lineEnd returns where the next line begins if a line ends at an index, or reports that it does not.
func lineEnd(text string, at int) (next int, ok bool) {
	if at < 0 {
		return 0, false
	}
	rest := text[at:]
	if len(rest) > 0 && rest[0] == '\r' {
		rest = rest[1:]
	}
	if rest == "" {
		return len(text), true
	}
	return len(text) - len(rest) + 1, rest[0] == '\n'
}

// quotedField is fieldAt for one that begins with a quote.
func quotedField(text string, at int) (s string, end int) {
	at++
	length := strings.IndexByte(text[at:], '"')
	if length < 0 || strings.IndexByte(text[at:at+length], '\n') >= 0 {
		return "", -1
	}
	return Trim(text[at : at+length]), at + length + 1
}
