package reports

import (
	"strings"
	"sync"

	"github.com/mattn/go-runewidth"
)

// widths measures what is not ASCII, in cells of a terminal. In the locales of East Asia more letters take two.
var widths = sync.OnceValue(runewidth.NewCondition)

// cellWidth returns how many cells of a line clean text takes.
func cellWidth(s string) int {
	for i := 0; i < len(s); i++ {
		if s[i] > '~' {
			return widths().StringWidth(s)
		}
	}
	return len(s)
}

// runeWidth returns how many cells a letter takes; lines and blocks take one everywhere.
func runeWidth(r rune) int {
	if r >= 0x2500 && r <= 0x259f {
		return 1
	}
	return widths().RuneWidth(r)
}

// ellipsis is the mark of a cut, which a terminal of ASCII shows too.
func (s Style) ellipsis() string {
	if s.UTF8 {
		return "…"
	}
	return "~"
}

// shortened cuts text at its end to a number of cells and marks the cut.
func shortened(s string, most int, ellipsis string) string {
	if cellWidth(s) <= most {
		return s
	}
	return front([]rune(s), most-1) + ellipsis
}

// middleCut cuts text in its middle to a number of cells and marks the cut: names that differ often do so at their end.
func middleCut(s string, most int, ellipsis string) string {
	if cellWidth(s) <= most {
		return s
	}
	runes := []rune(s)
	head := front(runes, most/2)
	room := most - 1 - cellWidth(head)
	at := len(runes)
	for at > 0 && room >= runeWidth(runes[at-1]) {
		room -= runeWidth(runes[at-1])
		at--
	}
	for at < len(runes) && runeWidth(runes[at]) == 0 { // marks of a letter that is cut off
		at++
	}
	return head + ellipsis + string(runes[at:])
}

// front returns the runes that fit a number of cells.
func front(runes []rune, room int) string {
	n := 0
	for n < len(runes) && room >= runeWidth(runes[n]) {
		room -= runeWidth(runes[n])
		n++
	}
	return string(runes[:n])
}

// wrap breaks text into lines of at most width cells, at blanks where there are any; all but the first begin with indent blanks. 0 means no
// limit.
func wrap(s string, width, indent int) []string {
	if width == 0 || cellWidth(s) <= width {
		return []string{s}
	}
	indent = min(indent, width/2)
	var lines []string
	line, margin := "", ""
	flush := func() {
		lines = append(lines, margin+line)
		line, margin = "", strings.Repeat(" ", indent)
	}
	for word := range strings.SplitSeq(s, " ") {
		if line != "" && len(margin)+cellWidth(line)+1+cellWidth(word) > width {
			flush()
		}
		if line != "" {
			line += " "
		}
		for len(margin)+cellWidth(line)+cellWidth(word) > width {
			room := width - len(margin) - cellWidth(line)
			head := front([]rune(word), room)
			if head == "" && line == "" { // a rune that is wider than the line
				break
			}
			line, word = line+head, word[len(head):]
			flush()
		}
		line += word
	}
	flush()
	return lines
}
