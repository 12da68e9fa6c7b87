package ledger

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Fold returns the form under which a name is matched: simple Unicode case folding (Unicode Standard, 3.13),
// each rune replaced by the least of those that fold together. For ASCII that is upper case.
func Fold(s string) string {
	lower := false
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c >= utf8.RuneSelf {
			return strings.Map(least, s)
		}
		lower = lower || c >= 'a' && c <= 'z'
	}
	if !lower {
		return s
	}
	return strings.ToUpper(s)
}

// Named returns what a map by folded names holds of a name, the zero V when it holds nothing.
func Named[V any](byName map[string]V, name string) V {
	var folded [32]byte // most names are short and ASCII, and then nothing is allocated
	if len(name) > len(folded) {
		return byName[Fold(name)]
	}
	for i := 0; i < len(name); i++ {
		c := name[i]
		if c >= utf8.RuneSelf {
			return byName[Fold(name)]
		}
		if c >= 'a' && c <= 'z' {
			c -= 'a' - 'A'
		}
		folded[i] = c
	}
	return byName[string(folded[:len(name)])]
}

func least(r rune) rune {
	least := r
	for next := unicode.SimpleFold(r); next != r; next = unicode.SimpleFold(next) {
		least = min(least, next)
	}
	return least
}

// validSpool tells whether a folded name may be a spool's.
func validSpool(s string) bool {
	if s == "" || len(s) > 32 || s[0] == '-' {
		return false
	}
	for i := 0; i < len(s); i++ {
		if c := s[i]; !(c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-') {
			return false
		}
	}
	return true
}

// Nearest returns the candidate that differs least from name, or "" when none is near: at most a third
// of the letters may differ.
func Nearest(name string, candidates []string) string {
	best, limit := "", max(1, utf8.RuneCountInString(name)/3)+1
	for _, c := range candidates {
		if d := distance([]rune(Fold(name)), []rune(Fold(c))); d < limit {
			best, limit = c, d
		}
	}
	return best
}

// distance is the number of letters to insert, drop or replace and of neighbours to swap (optimal string alignment).
func distance(a, b []rune) int {
	before, above, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range a {
		before, above, row = above, row, before
		row[0] = i + 1
		for j := range b {
			row[j+1] = above[j]
			if a[i] != b[j] {
				row[j+1] = 1 + min(above[j], above[j+1], row[j])
			}
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
	}
	return row[len(b)]
}

// didYouMean returns a hint to append to the message about an unknown name.
func didYouMean(name string, candidates []string) string {
	if near := Nearest(name, candidates); near != "" {
		return "did you mean " + near + "?"
	}
	return ""
}
