package ledger

import (
	"strings"
	"testing"
)

// The scripts are those of Scripts.txt; the mixed words are of the kind that Unicode Technical Standard 39, 5.1, names: "Сirсlе"
// with Cyrillic letters, and "toys-я-us", which that section calls mixed and we leave alone, as its letters stand in words of
// their own. "ねガ" is of one augmented set there.
func TestUnseen(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ text, want string }{
		{"PLA-1 white", ""},
		{"\u0421ir\u0441l\u0435", "mixes letters of Cyrillic and Latin"},
		{"toys-\u044f-us", ""},
		{"caf\u00e9 cre\u0300me 5\u00b5m", ""}, // marks are Inherited, the micro sign Common
		{"\u03bfrange", "mixes letters of Greek and Latin"},
		{"\u306d\u30ac\u68da", ""}, // Hiragana, Katakana, Han
		{"\u68daa", "mixes letters of Han and Latin"},
		{"\ud55c\u6f22", ""},
		{"a\u200bb", "U+200B"},
		{"a\x1bb", "control character U+001B"},
		{"a\nb\tc", ""},
		{"\ufeffa", "U+FEFF"},
		{"a\u00adb", "U+00AD"},
		{"a\u2060", "U+2060"},
		{"a\u3164", "U+3164"}, // Hangul filler
		{"a\u200db", "U+200D"},
		{"\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645", ""}, // Persian, with its non-joiner
		{"\U0001f469\u200d\U0001f527", ""},                       // a picture of two joined
		{"\u2764\ufe0f", ""},                                     // a heart with its variation selector
	} {
		if got := unseen("place", c.text); c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%+q: got %q, want %q", c.text, got, c.want)
		}
	}
	if got := unseen("note", "\u0421ir\u0441l\u0435"); got != "" {
		t.Errorf("in a sentence: got %q", got)
	}
}

func TestClean(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ text, want string }{
		{"shelf A, \u00e9", "shelf A, \u00e9"},
		{"a\x1b[31m\x7f", "a<001B>[31m<007F>"},
		{"a\u009b\u202e\u2028", "a<009B><202E><2028>"},
		{"a\x9b31m", "a\ufffd31m"}, // a byte that terminals of one-byte sets take for CSI
	} {
		if got := Clean(c.text); got != c.want {
			t.Errorf("%+q: got %q, want %q", c.text, got, c.want)
		}
	}
}
