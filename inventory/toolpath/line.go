package toolpath

import "bytes"

// A line is read byte by byte; a command's words are gathered and carried out when the next command or the end of the
// line comes.

// command is what the next words of a line belong to.
type command uint8

const (
	bare  command = iota // to no command yet
	moves                // G0 to G3
	sets                 // G92
)

// kind is the kind of a byte: an axis, or one of the following.
type kind uint8

const (
	other  kind = axes + iota // a byte that can't be in a word
	letter                    // of a word that is no axis
	letterG
	letterM
	letterT
	blank
	semicolon
	parenthesis
	star
	lineEnd
)

var kinds = func() (table [256]kind) {
	for i := range table {
		table[i] = other
	}
	for c := 'A'; c <= 'Z'; c++ {
		k := letter
		switch c {
		case 'G':
			k = letterG
		case 'M':
			k = letterM
		case 'T':
			k = letterT
		default:
			if a := bytes.IndexRune([]byte(axisLetters), c); a >= 0 {
				k = kind(a)
			}
		}
		table[c], table[c|0x20] = k, k
	}
	for _, c := range " \t\v\f\x00" { // zeros fill up what some machines store
		table[c] = blank
	}
	table[';'], table['('], table['*'] = semicolon, parenthesis, star
	table['\n'], table['\r'] = lineEnd, lineEnd
	return table
}()

// axisLetters are the letters of the axes, in their order.
const axisLetters = "XYZEIJRK"

func isDigit(c byte) bool { return c-'0' <= 9 }

// line reads the line that begins at b[i] and returns the index of the next one. b ends in a line end.
func (m *machine) line(b []byte, i int) (int, error) {
	m.state, m.have, m.begun = bare, 0, false
	if b[i] == 'G' && b[i+1]-'0' <= 3 && b[i+2] == ' ' { // a fast path for most lines; the loop below does the same
		m.startMove(b[i+1] - '0')
		i += 3
	}
	for {
		c := b[i]
		k := kinds[c]
		if k < axes {
			v, next, s := number(b, i+1)
			after := kinds[b[next]]
			if s != sound || after == other || after == axisE || m.have&(1<<k) != 0 || m.state == bare {
				var err error
				if i, err = m.axisWord(b, i); err != nil {
					return i, err
				}
				continue
			}
			m.have |= 1 << k
			m.word[k] = v
			if i = next; b[i] == ' ' {
				i++
			}
			continue
		}
		var err error
		switch k {
		case blank:
			i++
		case lineEnd:
			if m.state != bare {
				err = m.carryOut()
			}
			if m.pending && err == nil {
				err = m.turn()
			}
			if i++; c == '\r' && i < len(b) && b[i] == '\n' {
				i++
			}
			return i, err
		case letterG:
			i, err = m.commandG(b, i)
		case letterM:
			i, err = m.commandM(b, i)
		case letterT:
			i, err = m.commandT(b, i)
		case semicolon:
			end := lineLength(b[i:]) + i
			err = m.comment(b[i+1 : end])
			i = end
		case parenthesis:
			i, err = m.enclosed(b, i)
		case star: // a checksum; nothing but a comment can follow
			i, err = m.skipText(b, i)
		case letter:
			i, err = m.otherWord(b, i)
		default:
			i, err = m.stray(b, i)
		}
		if err != nil {
			return i, err
		}
	}
}

// carryOut carries out the command whose words were gathered. The words after it belong to none.
func (m *machine) carryOut() (err error) {
	switch {
	case m.state == sets:
		err = m.set()
	case m.have != 0:
		err = m.move()
	}
	m.state, m.have, m.other, m.rest = bare, 0, false, 0
	m.moved = true
	return err
}

// foreign skips a line that does not begin with a word.
func (m *machine) foreign(b []byte, i int) (int, error) {
	m.begun = true
	const pause = "PAUSE"
	if len(b)-i > len(pause) && bytes.EqualFold(b[i:i+len(pause)], []byte(pause)) && kinds[b[i+len(pause)]] >= blank {
		m.pause(pause)
	}
	return m.skipText(b, i)
}

// stray deals with a byte that can't be in a word.
func (m *machine) stray(b []byte, i int) (int, error) {
	comment := b[i] == '#' || b[i] == '/' && b[i+1] == '/' // as some write them
	switch {
	case m.state != bare && comment:
		m.other = true
		return m.skipText(b, i)
	case m.state != bare:
		m.other = true
		return m.odd(b, i), nil
	case b[i] == '/' && !comment && !m.begun: // block delete, NISTIR 6556, 3.3.1
		return i + 1, nil
	}
	return m.foreign(b, i)
}

// enclosed reads a comment in parentheses, which can't be nested, and returns the index after it.
func (m *machine) enclosed(b []byte, i int) (int, error) {
	end := i + 1
	for b[end] != ')' {
		if kinds[b[end]] == lineEnd {
			m.note(NoteComment, "a comment is not closed; it is taken to the end of the line")
			return end, m.comment(b[i+1 : end])
		}
		end++
	}
	return end + 1, m.comment(b[i+1 : end])
}

// lineLength returns the length of the line that b begins with, without its end.
func lineLength(b []byte) int {
	end := bytes.IndexByte(b, '\n')
	if end < 0 {
		end = len(b)
	}
	if cr := bytes.IndexByte(b[:end], '\r'); cr >= 0 {
		end = cr
	}
	return end
}

// skipText skips what is no command, up to the end of a line or the comment at its end. Comments within it are read.
func (m *machine) skipText(b []byte, i int) (int, error) {
	for b[i] != ';' && kinds[b[i]] != lineEnd {
		if b[i] == '(' {
			if length := bytes.IndexByte(b[i:i+lineLength(b[i:])], ')'); length > 0 { // an unclosed parenthesis is text too
				if err := m.comment(b[i+1 : i+length]); err != nil {
					return i, err
				}
				i += length
			}
		}
		i++
	}
	return i, nil
}
