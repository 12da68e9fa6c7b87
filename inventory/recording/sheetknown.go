package recording

import (
	"cmp"
	"slices"
	"strings"

	"tarebook/ledger"
)

// Rows of a sheet that the book has already.

// given reports whether the sheet said something for a column. Blank says so where the book reads it as a value.
func (l *line[T]) given(column string) bool {
	text, constant := l.cell(column)
	if column == "at" {
		return text != "" || l.in.Timed
	}
	if text != "" || constant {
		return text != ""
	}
	return slices.Contains([]string{"part_g", "support_g", "prime_g", "purge_g", "state", "outcome", "basis"}, column) || column == "gross_g" && l.in.Kind == OfWeighins
}

// A value is one column of a row, as it is compared.
type value[T any] struct {
	column string
	of     func(*T) string
}

// differs returns the first column for which the sheet gave another value than the book has, "" when there is none.
func differs[T any, R ledger.RowOf[T]](l *line[T], book *T, values []value[T]) (column, has, gave string) {
	if l.given("at") {
		there, here := ledger.HeadOf(R(book)).At, ledger.HeadOf(R(&l.row)).At
		if l.day && there.Date() != here.Date() || !l.day && there.Compare(here) != 0 {
			return "at", there.String(), here.String()
		}
	}
	for _, v := range values {
		if has, gave := v.of(book), v.of(&l.row); l.given(v.column) && ledger.Fold(has) != ledger.Fold(gave) && !(v.column == "note" && endsNote(has, gave)) {
			return v.column, has, gave
		}
	}
	return "", "", ""
}

// endsNote reports whether a note ends in what a sheet says, after why it was recorded into a sealed time or how an opened spool
// was reckoned.
func endsNote(note, text string) bool {
	return strings.HasSuffix(note, "; "+text) && (strings.HasPrefix(note, "reopened: ") || strings.HasPrefix(note, "opened: "))
}

// passOver finds the rows that the book has: each of its rows stands for one of the sheet. Rows that say more choose first, so that
// one that says less does not take what fits them alone.
func passOver[T any, R ledger.RowOf[T]](all []*line[T], book map[string][]*T, key func(*T) string, values []value[T]) {
	said := func(l *line[T]) (n int) {
		for _, v := range values {
			if l.given(v.column) {
				n++
			}
		}
		if l.given("at") && !l.day {
			n++
		}
		return n
	}
	var sound []*line[T]
	says := map[*line[T]]int{}
	for _, l := range all {
		if l.faults == nil {
			sound = append(sound, l)
			says[l] = said(l)
		}
	}
	slices.SortStableFunc(sound, func(a, b *line[T]) int { return cmp.Compare(says[b], says[a]) })
	for _, l := range sound {
		k := key(&l.row)
		for i, row := range book[k] {
			if column, _, _ := differs[T, R](l, row, values); column == "" {
				l.there = true
				book[k] = slices.Delete(book[k], i, i+1)
				break
			}
		}
	}
}
