package toolpath

import (
	"bytes"
	"math"
	"strconv"
)

// Words of a command: a letter and its number.

// axisWord reads an axis word that is not plain, or the first one of a line, and returns the index after it.
func (m *machine) axisWord(b []byte, i int) (int, error) {
	digits := i + 1
	for kinds[b[digits]] == blank {
		digits++
	}
	v, next, s := number(b, digits)
	if s <= long && b[next]|0x20 == 'e' {
		if end := exponent(b, i, next); end > 0 {
			v, s = scientific(b[digits:end])
			next = end
			m.note(NoteExponent, "%s has an exponent, which is read as such; not every machine does", excerpt(b, i))
		}
	}
	well := s <= long && kinds[b[next]] != other
	if m.state == bare {
		if !well && !m.begun {
			return m.foreign(b, i)
		}
		m.begun = true
		if !m.modal {
			m.note(NoteNoMove, "%s comes before any of G0 to G3; the line is left out", excerpt(b, i))
			return m.skipText(b, i)
		}
		m.state, m.arc = moves, m.modalArc
	}
	c := b[i] &^ 0x20
	k := kinds[c]
	if !well && !m.needs(k) {
		m.other = true
		return m.odd(b, i), nil
	}
	switch {
	case s == none && kinds[b[next]] != other && next == digits:
		return 0, m.fault("write it as "+string(c)+"1.5", "%c has no number", c)
	case s == beyond:
		return 0, m.fault("look for a digit too many", "%c %s is beyond every spool and every machine", c, excerpt(b, digits))
	case !well:
		return 0, m.fault("write it as "+string(c)+"1.5", "%c %s is not a number", c, excerpt(b, digits))
	case m.have&(1<<k) != 0:
		return 0, m.fault("leave one out", "%c stands twice in one command", c)
	}
	if k == axisE {
		m.rest = 0
		if s == long {
			_, m.rest, _ = longNumber(bytes.TrimLeft(b[digits:next], "+-"))
			if b[digits] == '-' {
				m.rest = -m.rest
			}
		}
	}
	m.have |= 1 << k
	m.word[k] = v
	return next, nil
}

// needs reports whether the present command uses the number of an axis.
func (m *machine) needs(axis kind) bool {
	return axis < registers || axis < axisK && m.state == moves && m.arc != 0
}

// exponent returns the index after an exponent that begins at b[e], or 0 when the E there begins a word. In X1E-3 it does.
// It is an exponent with a sign and digits, behind the letter E itself (no two E words follow one another), or in lower case
// behind an upper-case letter.
func exponent(b []byte, letter, e int) int {
	if b[letter]|0x20 != 'e' && (b[e] == 'E' || b[letter]&0x20 != 0) || b[e+1] != '-' && b[e+1] != '+' || !isDigit(b[e+2]) {
		return 0
	}
	end := e + 2 + digits(b[e+2:])
	if kinds[b[end]] == other {
		return 0
	}
	return end
}

// scientific reads a number with an exponent, as billionths.
func scientific(text []byte) (int64, soundness) {
	v, err := strconv.ParseFloat(string(text), 64)
	if v = math.Round(v * float64(MM)); err != nil || math.Abs(v) >= largest {
		return 0, beyond
	}
	return int64(v), sound
}

// otherWord reads a word that is neither an axis nor a command, such as F or N; its number may be missing, and nothing
// reckons with it.
func (m *machine) otherWord(b []byte, i int) (int, error) {
	next := i + 1
	for kinds[b[next]] == blank {
		next++
	}
	first := next
	for isDigit(b[next]) || b[next] == '.' || b[next] == '-' || b[next] == '+' {
		next++
	}
	switch {
	case m.state == bare && next == first && !m.begun:
		return m.foreign(b, i)
	case m.state == bare && kinds[b[next]] == other:
		return m.stray(b, next)
	case next == first && first > i+1: // a letter alone
		next = i + 1
	case kinds[b[next]] == other, next == first && kinds[b[next]] < blank: // F5400,0 F{speed} SPEED
		next = m.odd(b, i)
	}
	m.other = true
	return next, nil
}

// skipToken returns the index of the blank, comment, checksum or line end after b[i]; what is in brackets or quotes is
// skipped whole, and a letter right after it begins a word.
func skipToken(b []byte, i int) int {
	for kinds[b[i]] < blank {
		closed := i
		if b[i] == '{' || b[i] == '[' || b[i] == '"' {
			closed = closing(b, i)
		}
		if i++; closed >= i {
			if i = closed + 1; kinds[b[i]] != other && kinds[b[i]] < blank {
				return i
			}
		}
	}
	return i
}

// closing returns the index of what closes the bracket or quote at b[i]; i when nothing does on its line.
func closing(b []byte, i int) int {
	depth := 0
	for j := i; kinds[b[j]] != lineEnd; j++ {
		switch c := b[j]; {
		case b[i] == '"' && c == '"' && j > i:
			return j
		case b[i] == '"':
		case c == '{' || c == '[':
			depth++
		case c == '}' || c == ']':
			if depth--; depth == 0 {
				return j
			}
		}
	}
	return i
}

// wordOf returns the index of the number after a letter among the words b[i:end], or -1.
func wordOf(b []byte, i, end int, letter byte) int {
	for i < end {
		switch c := b[i]; {
		case c&^0x20 == letter:
			for i++; kinds[b[i]] == blank; i++ {
			}
			return i
		case kinds[c] < other || kinds[c] == other+1: // another word
			for i++; i < end && (isDigit(b[i]) || b[i] == '.' || b[i] == '-' || b[i] == '+'); i++ {
			}
		case kinds[c] == other:
			i = max(skipToken(b, i), i+1)
		case c == '(':
			i += max(bytes.IndexByte(b[i:end], ')'), 0) + 1
		default:
			i++
		}
	}
	return -1
}

// code reads the number of a command in tenths: 921 for 92.1. It is negative if there is no such number.
func code(b []byte, i int) (tenths, next int) {
	for kinds[b[i]] == blank {
		i++
	}
	start := i
	for ; isDigit(b[i]); i++ {
		tenths = min(tenths*10+int(b[i]-'0'), 1_000_000)
	}
	if i == start {
		return -1, i
	}
	tenths *= 10
	if b[i] == '.' && isDigit(b[i+1]) {
		tenths += int(b[i+1] - '0')
		for i += 2; isDigit(b[i]); i++ {
			if b[i] != '0' {
				tenths = 10_000_000 // no command has two decimals
			}
		}
	}
	return tenths, i
}

// skipWords returns the index of what ends the words of a command that is not ours: another command, a comment at the end, a
// checksum or the end of the line. A T among them is a word, and in a quoted text or an expression all is text.
func (m *machine) skipWords(b []byte, i int) (int, error) {
	for ; ; i++ {
		switch b[i] {
		case '\n', '\r', ';', '*':
			return i, nil
		case '(':
			end, err := m.enclosed(b, i)
			if err != nil {
				return i, err
			}
			i = end - 1
		case '"', '{', '[':
			i = closing(b, i)
		case 'G', 'g', 'M', 'm':
			if isDigit(b[i+1]) && (kinds[b[i-1]] == blank || isDigit(b[i-1]) || b[i-1] == ')') {
				return i, nil
			}
		}
	}
}
