package ledger

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"
)

func TestFold(t *testing.T) {
	t.Parallel()
	// Unicode Character Database, CaseFolding.txt: the statuses C and S are the simple folding.
	for _, group := range [][]string{
		{"PLA-017", "pla-017", "Pla-017"},
		{"K", "k", "\u212A"},           // Kelvin sign
		{"S", "s", "\u017F"},           // long s
		{"\u00DF", "\u1E9E"},           // sharp s and its capital; "ss" is the full folding only
		{"\u03A3", "\u03C3", "\u03C2"}, // sigma and final sigma
		{"\u00C5", "\u00E5", "\u212B"}, // Angstrom sign
		{"\u00B5", "\u03BC", "\u039C"}, // micro sign
		{"ЖЁЛТЫЙ", "жёлтый"},
		{"白", "白"},
	} {
		for _, s := range group {
			if got, want := Fold(s), Fold(group[0]); got != want {
				t.Errorf("Fold(%q) = %q, want %q as of %q", s, got, want, group[0])
			}
		}
	}
	for s, want := range map[string]string{
		"":           "",
		"petg white": "PETG WHITE",
		"ß":          "ß",
		"\u212A":     "K",
		"\u0130":     "\u0130", // dotted I folds by special rules only (status T)
		"\u0131":     "\u0131",
	} {
		if got := Fold(s); got != want {
			t.Errorf("Fold(%q) = %q, want %q", s, got, want)
		}
	}
	for _, pair := range [][2]string{{"ß", "ss"}, {"I", "\u0131"}, {"\uFB01", "fi"}, {"\u00E9", "e\u0301"}} {
		if Fold(pair[0]) == Fold(pair[1]) {
			t.Errorf("%q and %q fold together", pair[0], pair[1])
		}
	}
}

// A name is found under its folded form, and nothing else is.
func TestNamedIsByFold(t *testing.T) {
	t.Parallel()
	name := rapid.StringOfN(rapid.RuneFrom([]rune("aZz {9-_kKſé\u212a")), 0, 40, -1) // ſ and the Kelvin sign fold to ASCII letters
	rapid.Check(t, func(t *rapid.T) {
		byName := map[string]string{}
		for _, n := range rapid.SliceOfN(name, 1, 4).Draw(t, "names") {
			byName[Fold(n)] = n
		}
		n := rapid.SampledFrom(slices.Sorted(maps.Values(byName))).Draw(t, "one of them")
		n = rapid.SampledFrom([]string{n, strings.ToLower(n), strings.ToUpper(n), n + "a", name.Draw(t, "another")}).Draw(t, "name")
		if got, want := Named(byName, n), byName[Fold(n)]; got != want {
			t.Fatalf("Named(%q) = %q, want %q", n, got, want)
		}
	})
}

// Folding twice is folding once, and names that package strings holds equal fold alike.
func TestFoldLaw(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "s")
		if Fold(Fold(s)) != Fold(s) {
			t.Fatalf("Fold(Fold(%q)) is %q, not %q", s, Fold(Fold(s)), Fold(s))
		}
		other := strings.Map(unicode.SimpleFold, s)
		if strings.EqualFold(s, other) != (Fold(s) == Fold(other)) {
			t.Fatalf("%q and %q: EqualFold and Fold differ", s, other)
		}
	})
}

func TestNearest(t *testing.T) {
	t.Parallel()
	spools := []string{"PLA-017", "PLA-018", "PETG-3", "ASA"}
	for name, want := range map[string]string{
		"pla-017":  "PLA-017",
		"PLA-O17":  "PLA-017",
		"PLA17":    "", // two of five letters: more than a third
		"PETG3":    "PETG-3",
		"ABA":      "ASA",
		"nylon-12": "",
		"weißblau": "",
	} {
		if got := Nearest(name, spools); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", name, got, want)
		}
	}
	if got := Nearest("PLA", nil); got != "" {
		t.Errorf("among no candidates %q is the nearest", got)
	}
	// Wagner and Fischer's classic pair: k/s, e/i, and a g more.
	if got := distance([]rune("kitten"), []rune("sitting")); got != 3 {
		t.Errorf("kitten and sitting differ by %d, want 3", got)
	}
	// Neighbours that changed places are the commonest slip of fast fingers.
	if got := distance([]rune("wiegh"), []rune("weigh")); got != 1 {
		t.Errorf("wiegh and weigh differ by %d, want 1", got)
	}
}

func TestSpoolIDs(t *testing.T) {
	t.Parallel()
	for s, want := range map[string]bool{
		"A": true, "7": true, "PLA-017": true, "A--": true, strings.Repeat("X", 32): true,
		"": false, "-A": false, "pla": false, "A B": false, "A_1": false, "Ä1": false, "A:1": false, strings.Repeat("X", 33): false,
	} {
		if got := validSpool(s); got != want {
			t.Errorf("validSpool(%q) = %t, want %t", s, got, want)
		}
	}
}

func TestEntries(t *testing.T) {
	t.Parallel()
	// ULID specification: the examples, the largest, and what is beyond it.
	for s, want := range map[string]bool{
		"01ARZ3NDEKTSV4RRFFQ69G5FAV":  true,
		"01arz3ndektsv4rrffq69g5fav":  true,
		"01BX5ZZKBKACTAV9WEVGEMMVS0":  true,
		"7ZZZZZZZZZZZZZZZZZZZZZZZZZ":  true,
		"80000000000000000000000000":  false,
		"01ARZ3NDEKTSV4RRFFQ69G5FA":   false,
		"01ARZ3NDEKTSV4RRFFQ69G5FAVX": false,
		"01ARZ3NDEKTSV4RRFFQ69G5FA!":  false,
		"01ARZ3NDEKTSV4RRFFQ69G5FAI":  false,
		"01ARZ3NDEKTSV4RRFFQ69G5FAL":  false,
		"01ARZ3NDEKTSV4RRFFQ69G5FAO":  false,
		"01ARZ3NDEKTSV4RRFFQ69G5FAU":  false,
	} {
		if id, got := entryID(s); got != want || got && id != strings.ToUpper(s) {
			t.Errorf("entryID(%q) = %q, %t, want %t", s, id, got, want)
		}
	}
}

func TestFeeds(t *testing.T) {
	t.Parallel()
	for s, want := range map[string]string{
		"4": "[4]", "1+4": "[1 4]", "1+1+1+1": "[1 1 1 1]", " 1 + 4 ": "[1 4]",
		"": "", "0": "", "+4": "", "4+": "", "1++4": "", "-1": "", "1,4": "", "1.5": "", "65": "", "four": "",
	} {
		feeds, ok := parseFeeds(s)
		got := ""
		if ok {
			got = fmt.Sprint(feeds)
		}
		if got != want {
			t.Errorf("parseFeeds(%q) = %s, want %s", s, got, want)
		}
	}
}

// Simple case folding by Unicode's CaseFolding.txt, statuses C and S, from memory: the long s and the sign for kelvin fold to small
// letters, both small sigmas to one, the capital sharp s to the small one; Cherokee folds to its capitals, and a dotted capital I has
// only a full folding. Names that fold together are written the same.
func TestCaseFold(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]string{
		"Castle WALL 7": "castle wall 7", "ſ\u212a": "sk", "ΛΟΓΟΣ": "λογοσ", "λόγος": "λόγοσ", "STRAẞE": "straße", "ÅÄÖ": "åäö", "\u0130": "\u0130", "\uab70\u13a0": "\u13a0\u13a0", "": "",
	} {
		if got := CaseFold(name); got != want || Fold(got) != Fold(name) {
			t.Errorf("%q is %q, want %q", name, got, want)
		}
	}
}

// A NameMap is a map by folded names, whatever was asked for before.
func TestNameMap(t *testing.T) {
	t.Parallel()
	names := []string{"", "a", "A", "Köln", "KÖLN", "fox mask", "Fox Mask", "job-1", strings.Repeat("Long name ", 9), strings.Repeat("LONG name ", 9)}
	rapid.Check(t, func(r *rapid.T) {
		var m NameMap[int]
		want := map[string]int{}
		for i := range rapid.IntRange(1, 40).Draw(r, "steps") {
			name := rapid.SampledFrom(names).Draw(r, "name")
			if rapid.Bool().Draw(r, "set") {
				m.Set(name, i)
				want[Fold(name)] = i
			}
			name = rapid.SampledFrom(names).Draw(r, "asked")
			if got := m.Get(name); got != want[Fold(name)] {
				r.Fatalf("%q: %d, want %d", name, got, want[Fold(name)])
			}
			if got := m.Reader().Get(name); got != want[Fold(name)] {
				r.Fatalf("reader, %q: %d, want %d", name, got, want[Fold(name)])
			}
		}
	})
}
