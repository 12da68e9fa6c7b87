package reports

import (
	"strings"

	"github.com/jedib0t/go-pretty/v6/text"
)

// Text is measured in cells of a terminal. go-pretty measures what is not ASCII.

// cellWidth returns how many cells of a line clean text takes.
func cellWidth(s string) int {
	for i := 0; i < len(s); i++ {
		if s[i] > '~' {
			return text.StringWidth(s)
		}
	}
	return len(s)
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
	for at > 0 && room >= text.RuneWidth(runes[at-1]) {
		room -= text.RuneWidth(runes[at-1])
		at--
	}
	for at < len(runes) && text.RuneWidth(runes[at]) == 0 { // marks of a letter that is cut off
		at++
	}
	return head + ellipsis + string(runes[at:])
}

// front returns the runes that fit a number of cells.
func front(runes []rune, room int) string {
	n := 0
	for n < len(runes) && room >= text.RuneWidth(runes[n]) {
		room -= text.RuneWidth(runes[n])
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
