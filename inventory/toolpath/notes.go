package toolpath

import (
	"bytes"
	"fmt"
	"slices"
)

// A Note tells of what leaves a doubt, and what to do about it. It never changes a figure.
type Note struct {
	Kind  NoteKind
	Line  int // the first such line; 0 when the note is about the whole file
	Times int // how many lines, at least 1
	What  string
}

// String returns the note with its line.
func (n Note) String() string {
	if n.Line == 0 {
		return n.text()
	}
	return fmt.Sprintf("line %d: %s", n.Line, n.text())
}

// In returns the note with the name of its file and its line, as messages have them.
func (n Note) In(name string) string {
	if n.Line == 0 {
		return name + ": " + n.text()
	}
	return fmt.Sprintf("%s:%d: %s", name, n.Line, n.text())
}

func (n Note) text() string {
	switch n.Times {
	case 1:
		return n.What
	case 2:
		return n.What + " (and one more line)"
	}
	return fmt.Sprintf("%s (and %d more lines)", n.What, n.Times-1)
}

// NoteKind says what a note is about. A file has at most one note of each kind.
type NoteKind uint8

const (
	NoteNothing      NoteKind = iota // nothing is extruded
	NoteTotal                        // the file's own total is more than 5 % away
	NoteRelative                     // E looks relative though it is read as absolute
	NoteOwnRegisters                 // each tool looks to have an E register of its own
	NoteVolumetric                   // E looks like mm3
	NoteOtherTools                   // tools named by other words than T
	NoteMixing                       // tools that mix filaments
	NoteNoSections                   // no section comment was recognised
	NoteState                        // a T word that is no tool
	NoteMember                       // one of several members was read
	NoteWord                         // a word that can't be read and isn't needed
	NoteToolInMove                   // a T word among the words of a move
	NoteNoMove                       // axis words before any of G0 to G3
	NoteExponent                     // a number with an exponent
	NoteComment                      // a comment in parentheses that isn't closed
	NoteUnit                         // a unit that can't be what is meant
	NoteLong                         // a line that is too long
	NoteZeros                        // zero bytes
	NoteCut                          // the file may be cut
	NotePauses                       // more pauses than are kept
)

// note notes the line at hand. Only the first of a kind is worded; what is odd throughout costs no more than a count.
func (m *machine) note(kind NoteKind, format string, args ...any) {
	m.noteAt(m.file.Lines, kind, format, args...)
}

func (m *machine) noteAt(line int, kind NoteKind, format string, args ...any) {
	for i := range m.file.Notes {
		if n := &m.file.Notes[i]; n.Kind == kind {
			n.Times++
			return
		}
	}
	m.file.Notes = append(m.file.Notes, Note{kind, line, 1, fmt.Sprintf(format, args...)})
}

// odd notes the text at b[i] for being no word that can be read, and returns the index after it.
func (m *machine) odd(b []byte, i int) int {
	next := skipToken(b, i)
	if next == i {
		next++
	}
	for j := range m.file.Notes { // before the excerpt is made: there may be one on every line
		if n := &m.file.Notes[j]; n.Kind == NoteWord {
			n.Times++
			return next
		}
	}
	m.note(NoteWord, "%s is no word with a number; it is passed over", excerpt(b, i))
	return next
}

// judge holds what was read against what the file says of itself, at its end.
func (m *machine) judge() {
	at := func(kind NoteKind, format string, args ...any) { m.noteAt(0, kind, format, args...) }
	if m.total == 0 {
		m.note(NoteNothing, "nothing is extruded")
	}
	if m.eFalls*100 > 15*m.eWords {
		at(NoteRelative, "E is read as absolute, but %d of %d E words on the move fall; if a start macro sets E relative, read the file with --relative-e", m.eFalls, m.eWords)
	}
	if m.votesOwn > m.votesShared {
		at(NoteOwnRegisters, "after %d of %d tool changes E goes on from that tool's own last value; if the machine has an E register for each tool, read the file with --own-registers",
			m.votesOwn, m.votesOwn+m.votesShared)
	}
	m.judgeTotal()
	if m.total > 0 && !m.sectioned {
		at(NoteNoSections, "no section comment was recognised, so support and prime can't be told from part; name the file's words for them with: tarebook define setting support_words WORDS")
	}
	slices.SortStableFunc(m.file.Notes, func(a, b Note) int { return int(a.Kind) - int(b.Kind) })
}

// judgeTotal compares the total with the file's own.
func (m *machine) judgeTotal() {
	s := m.stated.total(m.total.MM(), m.diameter)
	m.file.Stated = s.length()
	if s.mm == 0 {
		return
	}
	// What comes before the first layer, such as a line of priming, is in some totals and not in others.
	read, most := m.total.MM()-m.before.MM(), m.total.MM()
	off := max(read-s.mm, s.mm-most)
	if off <= 0.05*s.mm {
		return
	}
	cause := "look for moves that start macros make, or for parts that the statement leaves out"
	near := func(mm float64) bool { return mm > 0 && max(mm/s.mm, s.mm/mm) <= 1.05 }
	asRelative := most - m.absolute.MM() + m.asRelative.highest/1e9
	volume := s.volumeOf(most)
	switch {
	case near(asRelative) && !m.flowed:
		cause = fmt.Sprintf("as relative E it would be %.3f m: read it with --relative-e", asRelative/1000)
	case m.has(NoteOwnRegisters):
		cause = "each tool may have an E register of its own: read it with --own-registers"
	case volume > 0:
		cause = fmt.Sprintf("E may count mm3: read it with --volumetric %v", volume)
		m.noteAt(0, NoteVolumetric, "E looks like mm3 of filament of %v mm, without M200 in the file; if the machine is set to that, read it with --volumetric %v", volume, volume)
	case m.has(NoteRelative):
		cause = "a start macro may set E relative: try --relative-e"
	case m.flowed:
		cause = "M221 changes what E words take, which the statement may leave out"
	case m.has(NoteOtherTools), m.has(NoteMixing):
		cause = "the file names tools by words that are not read; see the other note"
	}
	where := ""
	if s.line > 0 {
		where = fmt.Sprintf(" (line %d)", s.line)
	}
	m.noteAt(0, NoteTotal, "%.3f m were read, but the file states %.3f m%s, %.0f %% apart; %s", most/1000, s.mm/1000, where, 100*off/s.mm, cause)
}

func (m *machine) has(kind NoteKind) bool {
	return slices.ContainsFunc(m.file.Notes, func(n Note) bool { return n.Kind == kind })
}

// otherTools notes an M command that says by other words than T what extrudes. b[i:end] are its words.
func (m *machine) otherTools(code int, b []byte, i, end int) {
	switch {
	case code >= 163:
		m.note(NoteMixing, "M%d mixes filaments in one tool, which is not read: the tool's whole use stands on the tool named by T", code)
	default:
		if t := wordOf(b, i, end, 'T'); t >= 0 {
			m.note(NoteOtherTools, "M%d T%s names a tool, which is not read as a change of tool: only T words are; its use stands on the tool before", code, bytes.TrimSpace(b[t:t+digits(b[t:])]))
		}
	}
}

// digits counts the digits that b begins with.
func digits(b []byte) (n int) {
	for n < len(b) && isDigit(b[n]) {
		n++
	}
	return n
}
