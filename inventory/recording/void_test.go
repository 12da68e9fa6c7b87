package recording

import "testing"

func TestShell(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ word, want string }{
		{"PLA-02", "PLA-02"},
		{"PLA-02:part=82.4,purge=14.9", "PLA-02:part=82.4,purge=14.9"},
		{"2026-11-20T18:30:00+01:00", "2026-11-20T18:30:00+01:00"},
		{"WINDOW/1", "WINDOW/1"},
		{"", "''"},
		{"dry box", "'dry box'"},
		{"#F4F3EE", "'#F4F3EE'"},
		{"it's", `'it'\''s'`},
		{"'", `''\'''`},
		{"$HOME", "'$HOME'"},
		{"a;b", "'a;b'"},
		{"a\\b", `'a\b'`},
		{"*", "'*'"},
		{"~", "'~'"},
		{"!", "'!'"},
		{"Größe", "'Größe'"},
	} {
		if got := shellWord(c.word); got != c.want {
			t.Errorf("%q: got %s, want %s", c.word, got, c.want)
		}
	}
}
