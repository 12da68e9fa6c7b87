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

// Named returns the value of a name in a map whose keys are folded names, the zero V if it has none.
func Named[V any](byName map[string]V, name string) V {
	var folded [32]byte // enough for most names, without an allocation
	return byName[string(AppendFold(folded[:0], name))]
}

// AppendFold appends the folded form of a name to b.
func AppendFold(b []byte, name string) []byte {
	from := len(b)
	for i := 0; i < len(name); i++ {
		c := name[i]
		if c >= utf8.RuneSelf {
			return append(b[:from], Fold(name)...)
		}
		if c >= 'a' && c <= 'z' {
			c -= 'a' - 'A'
		}
		b = append(b, c)
	}
	return b
}

// NameMap is a map by names that differ in more than case. It keeps what was found last, because rows of one job come together.
type NameMap[V any] struct {
	byFolded map[string]V
	last     []byte // the name that was asked for last
	found    V      // its value
	asked    bool   // there is such a name
}

// Get returns the value of a name, the zero V if it has none.
func (m *NameMap[V]) Get(name string) V {
	if !m.asked || string(m.last) != name {
		m.last, m.found, m.asked = append(m.last[:0], name...), Named(m.byFolded, name), true
	}
	return m.found
}

// Set sets the value of a name. It keeps no part of the text.
func (m *NameMap[V]) Set(name string, value V) {
	if m.byFolded == nil {
		m.byFolded = map[string]V{}
	}
	m.byFolded[strings.Clone(Fold(name))] = value
	m.last, m.found, m.asked = append(m.last[:0], name...), value, true
}

// All returns all values by the folded names. The caller must not change the map.
func (m *NameMap[V]) All() map[string]V { return m.byFolded }

// Reader returns a map of the same values for another goroutine. While it is used, neither may be set.
func (m *NameMap[V]) Reader() *NameMap[V] { return &NameMap[V]{byFolded: m.byFolded} }

func least(r rune) rune {
	least := r
	for next := unicode.SimpleFold(r); next != r; next = unicode.SimpleFold(next) {
		least = min(least, next)
	}
	return least
}

// validSpool reports whether a folded name can be a spool's id.
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

// longestNear is the longest name for which a near one is searched.
const longestNear = 64

// Nearest returns the candidate that differs least from name, "" if more than a third of the letters differ in all of them. It compares
// name with every candidate, so call it for a few names only.
func Nearest(name string, candidates []string) string {
	folded := []rune(Fold(name))
	if len(folded) > longestNear {
		return ""
	}
	best, limit := "", max(1, len(folded)/3)+1
	for _, c := range candidates {
		if n := utf8.RuneCountInString(c); n-len(folded) >= limit || len(folded)-n >= limit {
			continue // the lengths alone differ by more
		}
		if d := distance(folded, []rune(Fold(c))); d < limit {
			best, limit = c, d
		}
	}
	return best
}

// distance returns the number of letters to insert, drop or replace and of neighbours to swap (optimal string alignment).
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

// mostHints is for how many unknown names one view searches a near one. Without a limit, a book with many unknown and many known names
// would take time by their product, and nobody reads so many hints.
const mostHints = 20

// hints finds known names that are near to unknown ones, for messages.
type hints struct {
	left   int
	sorted map[string][]string // names by the column that holds them
}

// near returns a hint for an unknown name in a column, "" if no name is near or the limit is reached. known returns all names; it is
// called once for each column.
func (h *hints) near(column, name string, known func() []string) string {
	if h.left <= 0 {
		return ""
	}
	h.left--
	names, ok := h.sorted[column]
	if !ok {
		names = known()
		h.sorted[column] = names
	}
	if near := Nearest(name, names); near != "" {
		return "did you mean " + near + "?"
	}
	return ""
}

// CaseFold returns a name as simple Unicode case folding writes it (CaseFolding.txt, statuses C and S), which for most letters is
// the small one.
func CaseFold(s string) string {
	return strings.Map(func(r rune) rune {
		folded := unicode.ToLower(unicode.ToUpper(r))
		if unicode.Is(unicode.Cherokee, r) { // folds to the capital, so that older texts keep their form
			folded = unicode.ToUpper(r)
		}
		if least(folded) != least(r) {
			return r
		}
		return folded
	}, s)
}
