package main

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
		if got := shell(c.word); got != c.want {
			t.Errorf("%q: got %s, want %s", c.word, got, c.want)
		}
	}
}

func TestConsecutive(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"01KWW53NJ2CGB1WPE238THYB00", "01KWW53NJ2CGB1WPE238THYB01", true},
		{"01KX0KRV4F3ENH44WTKHW69BMT", "01KX0KRV4F3ENH44WTKHW69BMV", true}, // no U in Crockford's base 32
		{"01KWW53NJ2CGB1WPE238THYB01", "01KWW53NJ2CGB1WPE238THYB00", false},
		{"01KWW53NJ2CGB1WPE238THYB00", "01KWW53NJ2CGB1WPE238THYB02", false},
		{"01KWW53NJ2CGB1WPE238THYB00", "01KWW53NJ2CGB1WPE238THYB00", false},
		{"01KWW53NJ2ZZZZZZZZZZZZZZZZ", "01KWW53NJ30000000000000000", false}, // of another millisecond
		{"not an entry", "01KWW53NJ2CGB1WPE238THYB01", false},
	} {
		if got := consecutive(c.a, c.b); got != c.want {
			t.Errorf("%s, %s: got %v, want %v", c.a, c.b, got, c.want)
		}
	}
}
