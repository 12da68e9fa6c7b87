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

// kind sorts bytes: an axis, or one of what follows.
type kind uint8

const (
	other  kind = axes + iota // what has no place in a word
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
	table[' '], table['\t'] = blank, blank
	table[';'], table['('], table['*'] = semicolon, parenthesis, star
	table['\n'], table['\r'] = lineEnd, lineEnd
	return table
}()

// axisLetters are the letters of the axes, in their order.
const axisLetters = "XYZEIJK"

func isDigit(c byte) bool { return c-'0' <= 9 }

// line reads the line that begins at b[i] and returns the index of the next one. b ends in a line end.
func (m *machine) line(b []byte, i int) (int, error) {
	m.state, m.have, m.begun = bare, 0, false
	if b[i] == 'G' && b[i+1]-'0' <= 3 && b[i+2] == ' ' { // most lines; all the rest would do the same
		m.startMove(b[i+1] >= '2')
		i += 3
	}
	for {
		c := b[i]
		k := kinds[c]
		if k < axes {
			v, next, s := number(b, i+1)
			if s != sound || kinds[b[next]] == other || m.have&(1<<k) != 0 || m.state == bare || next-i > 12 {
				var err error
				if v, next, err = m.axisWord(b, i); err != nil {
					return i, err
				}
				if m.state == bare { // no word at all: the line is none of ours
					i = next
					continue
				}
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
			if m.pending {
				m.section, m.pending = m.next, false
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
			m.comment(b[i+1 : end])
			i = end
		case parenthesis:
			i = m.enclosed(b, i)
		case star: // a checksum; nothing but a comment can follow
			i = m.skipText(b, i)
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

// axisWord reads an axis word that is not plain, or the first one of a line.
func (m *machine) axisWord(b []byte, i int) (v int64, next int, err error) {
	digits := i + 1
	for kinds[b[digits]] == blank {
		digits++
	}
	v, next, s := number(b, digits)
	well := s == sound && kinds[b[next]] != other
	if m.state == bare {
		if !well && !m.begun {
			return 0, m.foreign(b, i), nil
		}
		m.begun = true
		if !m.modal {
			m.warn("%s comes before any of G0 to G3; the line is left out", excerpt(b, i))
			return 0, m.skipText(b, i), nil
		}
		m.state, m.arc = moves, m.modalArc
	}
	c := b[i] &^ 0x20
	k := kinds[c]
	switch {
	case s == none && kinds[b[next]] != other && next == digits:
		return 0, 0, m.fault("write it as "+string(c)+"1.5", "%c has no number", c)
	case s == beyond:
		return 0, 0, m.fault("look for a digit too many", "%c %s is beyond every spool and every machine", c, excerpt(b, digits))
	case !well:
		return 0, 0, m.fault("write it as "+string(c)+"1.5", "%c %s is not a number", c, excerpt(b, digits))
	case m.have&(1<<k) != 0:
		return 0, 0, m.fault("leave one out", "%c stands twice in one command", c)
	}
	if k == axisE {
		m.rest = 0
		if point := bytes.IndexByte(b[digits:next], '.'); point >= 0 && next-digits-point > 10 {
			_, m.rest, _ = longNumber(bytes.TrimLeft(b[digits:next], "+-"))
			if b[digits] == '-' {
				m.rest = -m.rest
			}
		}
	}
	return v, next, nil
}

// otherWord reads a word that is neither an axis nor a command, such as F or N; its number may be missing.
func (m *machine) otherWord(b []byte, i int) (int, error) {
	next := i + 1
	for kinds[b[next]] == blank {
		next++
	}
	digits := next
	for isDigit(b[next]) || b[next] == '.' || b[next] == '-' || b[next] == '+' {
		next++
	}
	if next == digits {
		if m.state == bare && !m.begun {
			return m.foreign(b, i), nil
		}
		next = i + 1
	} else if kinds[b[next]] == other {
		return m.stray(b, next)
	}
	m.other = true
	return next, nil
}

// foreign skips a line that begins with no word.
func (m *machine) foreign(b []byte, i int) int {
	m.begun = true
	return m.skipText(b, i)
}

// stray meets what has no place in a word. A move or a G92 that holds such a thing can't be trusted.
func (m *machine) stray(b []byte, i int) (int, error) {
	if m.state != bare {
		return i, m.fault("write letters with numbers, as G1 X10 E1.5", "%s is no word", excerpt(b, i))
	}
	if b[i] == '/' && !m.begun { // block delete, NISTIR 6556, 3.3.1
		return i + 1, nil
	}
	return m.foreign(b, i), nil
}

// code reads the number of a command in tenths: 921 for 92.1. It is negative for what is no such number.
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

// start begins a command: what came before it on the line is carried out.
func (m *machine) start() error {
	m.begun = true
	if m.have != 0 || m.state == sets {
		return m.carryOut()
	}
	return nil
}

func (m *machine) startMove(arc bool) {
	m.begun, m.state, m.arc = true, moves, arc
	m.modal, m.modalArc = true, arc
}

func (m *machine) commandG(b []byte, i int) (int, error) {
	tenths, next := code(b, i+1)
	if tenths < 0 || kinds[b[next]] == other {
		return m.stray(b, i)
	}
	if err := m.start(); err != nil {
		return i, err
	}
	switch tenths {
	case 0, 10, 20, 30:
		m.startMove(tenths >= 20)
	case 920:
		m.state, m.other = sets, false
	case 200, 210:
		m.inches = tenths == 200
	case 900, 910:
		m.relative = tenths == 910
		m.relativeE = m.relative
	case 170, 180, 190, 400, 490, 530, 540, 550, 560, 570, 580, 590, 640, 930, 940: // they take no words (NISTIR 6556, 3.5)
	case 700, 710: // the units of ISO 6983-1 (from memory)
		return i, m.fault("write G20 for inches, G21 for mm", "G%d is an unknown unit", tenths/10)
	default:
		m.state = bare
		return skipWords(b, next), nil
	}
	return next, nil
}

func (m *machine) commandM(b []byte, i int) (int, error) {
	tenths, next := code(b, i+1)
	if tenths < 0 || kinds[b[next]] == other {
		return m.stray(b, i)
	}
	if err := m.start(); err != nil {
		return i, err
	}
	switch tenths {
	case 820, 830:
		m.relativeE = tenths == 830
	case 60: // stands beside the T word that it carries out (NISTIR 6556, 3.6.3)
	case 2000:
		m.state = bare
		end := skipWords(b, next)
		return end, m.commandM200(b, next, end)
	case 6000:
		m.purging = true
		m.state = bare
		return skipWords(b, next), nil
	case 0, 10, 160, 230, 280, 300, 320, 330, 360, 1170, 1180, 4860, 5500, 9280: // text follows, not words; common practice, no source
		m.state = bare
		return m.skipText(b, next), nil
	default:
		m.state = bare
		return skipWords(b, next), nil
	}
	return next, nil
}

// commandM200 looks for D among b[i:end]. Without it nothing changes.
func (m *machine) commandM200(b []byte, i, end int) error {
	d := bytes.IndexAny(b[i:end], "Dd")
	if d < 0 {
		return nil
	}
	i += d + 1
	for kinds[b[i]] == blank {
		i++
	}
	v, next, s := number(b, i)
	if s != sound || kinds[b[next]] == other || v < 0 {
		return m.fault("write the filament's diameter in mm, as M200 D1.75", "M200 D %s is no diameter", excerpt(b, i))
	}
	if m.inches && v > 0 {
		m.warn("M200 D is read in mm, though G20 has set inches")
	}
	m.volumetric(Length(v))
	return nil
}

func (m *machine) commandT(b []byte, i int) (int, error) {
	tenths, next := code(b, i+1)
	switch {
	case m.state != bare:
		m.warn("%s stands among the words of a move; it is no tool change", excerpt(b, i))
		return next, nil
	case tenths < 0 && b[next] == '-' && isDigit(b[next+1]):
		m.warn("%s is no tool; the one before stays", excerpt(b, i))
		return m.skipText(b, i), nil
	case tenths < 0:
		return m.foreign(b, i), nil
	case tenths%10 != 0 || kinds[b[next]] == other || tenths > maxTool*10:
		return i, m.fault("tools are numbered from 0 to 255", "%s is no tool", excerpt(b, i))
	}
	m.begun = true
	m.change(tenths / 10)
	return next, nil
}

// comment reads a comment without its signs. One after a command holds from the next line.
func (m *machine) comment(text []byte) {
	class, ok := m.words.section(text)
	switch {
	case !ok:
	case m.begun:
		m.pending, m.next = true, class
	default:
		m.section = class
	}
}

// enclosed reads a comment in parentheses, which can't be nested, and returns the index after it.
func (m *machine) enclosed(b []byte, i int) int {
	end := i + 1
	for b[end] != ')' {
		if kinds[b[end]] == lineEnd {
			m.warn("a comment is not closed; it is taken to the end of the line")
			m.comment(b[i+1 : end])
			return end
		}
		end++
	}
	m.comment(b[i+1 : end])
	return end + 1
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
func (m *machine) skipText(b []byte, i int) int {
	for b[i] != ';' && kinds[b[i]] != lineEnd {
		if b[i] == '(' {
			if length := bytes.IndexByte(b[i:i+lineLength(b[i:])], ')'); length > 0 { // else it is text too
				m.comment(b[i+1 : i+length])
				i += length
			}
		}
		i++
	}
	return i
}

// skipWords returns the index of what ends the words of a command that is not ours: another command, a comment, a
// checksum or the end of the line. A T among them is a word, and in a quoted text all is text.
func skipWords(b []byte, i int) int {
	for ; ; i++ {
		switch b[i] {
		case '\n', '\r', ';', '(', '*':
			return i
		case '"':
			end := i + 1
			for b[end] != '"' && kinds[b[end]] != lineEnd {
				end++
			}
			if b[end] == '"' {
				i = end
			}
		case 'G', 'g', 'M', 'm':
			if isDigit(b[i+1]) && (kinds[b[i-1]] == blank || isDigit(b[i-1]) || b[i-1] == ')') {
				return i
			}
		}
	}
}
