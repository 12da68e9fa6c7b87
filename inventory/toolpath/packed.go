package toolpath

import "io"

// packed unpacks text of which a byte holds two of the most frequent characters, the low nibble first. Nibble 15 stands for
// a character that follows as a whole byte. Two bytes 255 announce a command.
type packed struct {
	in     io.Reader
	buf    [4 << 10]byte
	at, n  int   // of buf
	err    error // after buf
	on     bool
	table  *[16]byte
	high   byte // behind a whole byte that is to come; 0 for none
	whole  int  // whole bytes to come
	marks  int  // bytes 255 seen in a row
	second byte // a character that p had no room for; 0 for none
}

const packedNibbles = "0123456789. \nGX"

var (
	packedTable  = func() (t [16]byte) { copy(t[:], packedNibbles); return t }()
	packedNarrow = func() (t [16]byte) { t = packedTable; t[11] = 'E'; return t }() // with blanks left out
)

func (u *packed) begin(in io.Reader) {
	u.in, u.at, u.n, u.err = in, 0, 0, nil
	u.high, u.whole, u.marks, u.second = 0, 0, 0, 0
	u.on, u.table = false, &packedTable
}

func (u *packed) Read(p []byte) (n int, err error) {
	for n+3 < len(p) || n == 0 && len(p) > 0 {
		if u.second != 0 {
			p[n] = u.second
			u.second = 0
			n++
			continue
		}
		if u.at == u.n {
			if u.err != nil {
				return n, u.err
			}
			u.n, u.err = u.in.Read(u.buf[:])
			u.at = 0
			continue
		}
		c := u.buf[u.at]
		u.at++
		switch {
		case u.marks == 2:
			u.command(c)
			u.marks = 0
			continue
		case c == 0xff:
			u.marks++
			continue
		case u.marks == 1: // it was no command
			u.marks = 0
			if u.on && u.whole == 0 {
				u.whole = 2
			} else {
				n += u.put(p[n:], 0xff)
			}
		}
		if n == len(p) { // of less than four bytes
			u.at--
			return n, nil
		}
		n += u.put(p[n:], c)
	}
	return n, nil
}

func (u *packed) command(c byte) {
	switch c {
	case 251:
		u.on = true
	case 250:
		u.on = false
	case 247:
		u.table = &packedNarrow
	case 246:
		u.table = &packedTable
	case 249:
		u.on, u.table = false, &packedTable
	}
}

// put unpacks a byte into p and returns how many characters it wrote; one without room is kept.
func (u *packed) put(p []byte, c byte) int {
	if !u.on && u.whole == 0 {
		p[0] = c
		return 1
	}
	if u.whole > 0 {
		u.whole--
		p[0] = c
		high := u.high
		u.high = 0
		return 1 + u.also(p[1:], high)
	}
	low, high := c&15, c>>4
	if low == 15 { // and high is not: two of them are a mark
		u.whole, u.high = 1, u.table[high]
		return 0
	}
	p[0] = u.table[low]
	if high == 15 {
		u.whole = 1
		return 1
	}
	return 1 + u.also(p[1:], u.table[high])
}

func (u *packed) also(p []byte, c byte) int {
	switch {
	case c == 0:
		return 0
	case len(p) == 0:
		u.second = c
		return 0
	}
	p[0] = c
	return 1
}
