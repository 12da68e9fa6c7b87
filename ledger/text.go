package ledger

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Forbidden tells whether r may not reach a terminal: a control character or a mark that turns the
// direction of text (Unicode Standard Annex 9, explicit formatting).
func Forbidden(r rune) bool {
	return unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == '\u2028' || r == '\u2029'
}

// Clean returns s as it may be shown on a terminal: what is Forbidden as its code, as <001B>, and bytes that are not UTF-8,
// which some terminals obey too, as U+FFFD. Every message and every cell for people goes through it.
func Clean(s string) string {
	if utf8.ValidString(s) && strings.IndexFunc(s, Forbidden) < 0 {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if Forbidden(r) {
			fmt.Fprintf(&b, "<%04X>", r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// CheckText returns what is wrong with text that is to be recorded in the named column, nil when nothing is.
// What a spreadsheet would run follows OWASP, "CSV Injection"; tab and line ends are control characters.
func CheckText(column, s string) error {
	if !utf8.ValidString(s) {
		return fmt.Errorf("%s %q is not UTF-8", column, s)
	}
	if i := strings.IndexFunc(s, Forbidden); i >= 0 {
		r, _ := utf8.DecodeRuneInString(s[i:])
		return fmt.Errorf("%s %q holds the control character %U; leave it out", column, s, r)
	}
	if s := Trim(s); Runs(s) && !belowZero(column, s) { // blanks before it go when the row is read
		return fmt.Errorf("%s %q begins with %c, which a spreadsheet would run; begin with a letter", column, s, s[0])
	}
	return nil
}

// Runs tells whether a spreadsheet may take s for a formula.
func Runs(s string) bool { return s != "" && strings.IndexByte("=+-@\t\r\n", s[0]) >= 0 }

// oneLine replaces line ends by a space: the union merge of git would tear such a row apart.
func oneLine(s string) string {
	if !strings.ContainsAny(s, "\r\n") {
		return s
	}
	return strings.NewReplacer("\r\n", " ", "\r", " ", "\n", " ").Replace(s)
}
