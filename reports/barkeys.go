package reports

import (
	"slices"
	"strings"
	"unicode"

	"tarebook/ledger"
)

// The keys of the bars on the page are never cut. What they are wide is known to the browser alone, so it is reckoned generously.

// keyWidth is how wide text of 12 px is at the most, in px: of the usual serif typefaces, W is widest. Common practice, no source.
func keyWidth(text string) (width float64) {
	for _, r := range text {
		switch {
		case cellWidth(string(r)) > 1:
			width += 13
		case unicode.IsUpper(r) || strings.ContainsRune("mw@%&", r):
			width += 11.5
		default:
			width += 7
		}
	}
	return width
}

// above reports whether a key is too long to stand beside its bar.
func (b bars) above() bool {
	return slices.ContainsFunc(b.rows, func(r bar) bool { return keyWidth(ledger.Clean(r.key)) > barsKey })
}

// keyLines breaks a key into lines of at most that width, at its blanks where it has some.
func keyLines(key string, width float64) (lines []string) {
	line := ""
	for _, word := range strings.SplitAfter(key, " ") {
		if line != "" && keyWidth(line+word) > width {
			lines, line = append(lines, line), ""
		}
		for _, r := range word {
			if keyWidth(line+string(r)) > width {
				lines, line = append(lines, line), ""
			}
			line += string(r)
		}
	}
	return append(lines, line)
}
