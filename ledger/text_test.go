package ledger

import (
	"strings"
	"testing"
)

// OWASP, "CSV Injection": a cell must not begin with one of these seven.
var owasp = []string{"=", "+", "-", "@", "\t", "\r", "\n"}

func TestTextThatASpreadsheetRuns(t *testing.T) {
	t.Parallel()
	for _, first := range owasp {
		for _, s := range []string{first, first + `1+2";=1+2`, first + "SUM(A1)"} {
			if !Runs(s) {
				t.Errorf("Runs(%q) = false", s)
			}
			if err := CheckText("note", s); err == nil {
				t.Errorf("CheckText lets %q pass", s)
			}
		}
		if s := "a" + first; Runs(s) {
			t.Errorf("Runs(%q) = true", s)
		}
	}
	// The blanks before it are trimmed when the row is read, so the cell would begin with = after all.
	if err := CheckText("note", " =1+2"); err == nil {
		t.Error("a formula behind a blank passes")
	}
	for _, s := range []string{"", "brick, matt", "1+2=3", "a-b", "'=1+2", "weiß", "白い", "👩‍🔧", "100 %", `say "hi"`} {
		if err := CheckText("note", s); err != nil {
			t.Errorf("CheckText(%q): %v", s, err)
		}
	}
}

func TestTextThatATerminalObeys(t *testing.T) {
	t.Parallel()
	for name, s := range map[string]string{
		"NUL":             "a\x00b",
		"escape":          "a\x1b[31mb",
		"bell":            "a\a",
		"delete":          "a\x7f",
		"C1 escape":       "a\u009b31m",
		"line separator":  "a\u2028b",
		"right-to-left":   "a\u202eb", // Unicode Standard Annex 9: the explicit marks
		"isolate":         "a\u2066b\u2069",
		"Arabic mark":     "a\u061c",
		"left-right mark": "a\u200e",
		"tab within":      "a\tb",
		"line end":        "a\nb",
		"not UTF-8":       "a\xff",
	} {
		err := CheckText("note", s)
		if err == nil {
			t.Errorf("%s: %q passes", name, s)
			continue
		}
		if m := err.Error(); strings.ContainsFunc(m, Forbidden) || !strings.HasPrefix(m, "note ") {
			t.Errorf("%s: the message %q holds the character itself, or no column", name, m)
		}
	}
}

func TestOneLine(t *testing.T) {
	t.Parallel()
	for s, want := range map[string]string{
		"plain": "plain", "a\nb": "a b", "a\r\nb": "a b", "a\rb": "a b", "a\n\nb": "a  b", "a\n\rb": "a  b", "\r\n": " ",
	} {
		if got := oneLine(s); got != want {
			t.Errorf("oneLine(%q) = %q, want %q", s, got, want)
		}
	}
}
