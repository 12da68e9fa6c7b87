package ledger

import (
	"encoding/binary"
	"math/bits"
	"strings"
)

// Where the fields of a plain row of consumption stand in its line.

const everyByte = 0x0101010101010101

// split finds the fields of a line and reports whether there are as many as in the header.
func (d *rowDecoder) split(line string) bool {
	if len(line) < 8 { // no row is that short
		return false
	}
	n := 0
	d.begins[0] = 0
	var blanks, quotes uint64 // in their highest bits of bytes they tell whether there is a blank, or a quote
	for at := 0; at < len(line); at += 64 {
		var commas uint64 // of these 64 bytes, a bit each
		for i := at; i < min(at+64, len(line)); i += 8 {
			x := eightBytes(line, i)
			blanks |= (x - (' '+1)*everyByte) &^ x
			quote := x ^ '"'*everyByte
			quotes |= (quote - everyByte) &^ quote
			x ^= ',' * everyByte
			// Of each byte of x the highest bit is set in found where that byte is 0. The product has these eight bits side by side.
			found := ^((x&(0x7f*everyByte) + 0x7f*everyByte) | x | 0x7f*everyByte)
			commas |= (found >> 7 * 0x0102040810204080 >> 56) << (i - at)
		}
		for ; commas != 0; commas &= commas - 1 {
			if n == mostFields-1 {
				return false
			}
			comma := at + bits.TrailingZeros64(commas)
			d.ends[n] = comma
			n++
			d.begins[n] = comma + 1
		}
	}
	d.ends[n] = len(line)
	switch {
	case quotes&(0x80*everyByte) != 0:
		if n = d.splitQuoted(line) - 1; n < 0 {
			return false
		}
		fallthrough
	case blanks&(0x80*everyByte) != 0:
		d.trim(line, n+1)
	}
	return n+1 == len(d.layout.header)
}

// eightBytes returns the bytes of a line of at least eight from an index on. Bytes behind its end are 0xff.
func eightBytes(line string, from int) uint64 {
	if left := len(line) - from; left < 8 {
		return binary.LittleEndian.Uint64([]byte(line[len(line)-8:]))>>(64-8*left) | ^uint64(0)<<(8*left)
	}
	return binary.LittleEndian.Uint64([]byte(line[from : from+8]))
}

// splitQuoted finds the fields of a line of which some stand in quotes, and returns how many there are; 0 if there is another quote, or none
// that closes, or too many fields.
func (d *rowDecoder) splitQuoted(line string) int {
	at := 0
	for n := range mostFields {
		end := 0
		if at < len(line) && line[at] == '"' {
			at++
			if end = strings.IndexByte(line[at:], '"'); end < 0 {
				return 0
			}
			d.begins[n], d.ends[n] = at, at+end
			at += end + 1
			if at < len(line) && line[at] != ',' {
				return 0
			}
		} else {
			if end = strings.IndexByte(line[at:], ','); end < 0 {
				end = len(line) - at
			}
			if strings.IndexByte(line[at:at+end], '"') >= 0 {
				return 0
			}
			d.begins[n], d.ends[n] = at, at+end
			at += end
		}
		if at == len(line) {
			return n + 1
		}
		at++
	}
	return 0
}

// trim leaves the blanks round the first n fields out.
func (d *rowDecoder) trim(line string, n int) {
	for i := range n {
		for d.begins[i] < d.ends[i] && isBlank(line[d.begins[i]]) {
			d.begins[i]++
		}
		for d.begins[i] < d.ends[i] && isBlank(line[d.ends[i]-1]) {
			d.ends[i]--
		}
	}
}

// isBlank reports whether Trim removes a byte.
func isBlank(b byte) bool { return b == ' ' || b == '\t' }

// field returns the trimmed text of a column, "" if the header lacks it.
func (d *rowDecoder) field(line string, column int) string {
	j := d.place[column]
	return line[d.begins[j]:d.ends[j]]
}
