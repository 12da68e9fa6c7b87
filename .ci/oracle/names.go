package oracle

import (
	"cmp"
	"slices"
	"strings"
	"unicode"
)

// fold gives names that differ by simple case folding alone the same text: each
// rune becomes the least of those it folds with.
func fold(s string) string {
	return strings.Map(func(r rune) rune {
		least := r
		for f := unicode.SimpleFold(r); f != r; f = unicode.SimpleFold(f) {
			least = min(least, f)
		}
		return least
	}, s)
}

// caseFolded is the text that simple case folding gives, where it is written out:
// the small letter of the capital, if that folds with it.
func caseFolded(s string) string {
	return strings.Map(func(r rune) rune {
		if small := unicode.ToLower(unicode.ToUpper(r)); fold(string(small)) == fold(string(r)) {
			return small
		}
		return r
	}, s)
}

// shown finds how a name is written: as its table has it, else as its earliest
// live row does.
//
// Reading taken: only ledgers that the command reads are asked for the earliest
// row, a place's printer is not a row's printer, and rows left out (no live
// purchase, a second purchase) are not asked.
type shown map[string]map[string]string // column, folded name

func (s shown) name(column, name string) string {
	if n, ok := s[column][fold(name)]; ok {
		return n
	}
	return name
}

func (s shown) note(column, name string) {
	if name == "" {
		return
	}
	if s[column] == nil {
		s[column] = map[string]string{}
	}
	if _, ok := s[column][fold(name)]; !ok {
		s[column][fold(name)] = name
	}
}

func showNames(f folder, l *ledgers, reads []string) shown {
	s := shown{}
	for file, column := range map[string]string{"materials.csv": "material", "printers.csv": "printer", "clients.csv": "client"} {
		for _, r := range f[file] {
			s.note(column, r.get(column))
		}
	}
	type ranked struct {
		ledger int
		*row
	}
	var rows []ranked
	for i, file := range ledgerFiles {
		if slices.Contains(reads, file) {
			for _, r := range l.live[file] {
				rows = append(rows, ranked{i, r})
			}
		}
	}
	slices.SortStableFunc(rows, func(a, b ranked) int {
		return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.ledger, b.ledger), compareRows(a.row, b.row))
	})
	for _, r := range rows {
		for _, column := range []string{"colour", "client", "printer", "job", "maker", "lot"} {
			s.note(column, r.get(column))
		}
	}
	return s
}
