package ledger

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Identity: which rows are the same entry, in which order rows count, and which rows voids hide.

// compare orders the rows of one ledger: by instant, then by entry. Rows without an entry come first, ordered by content.
func (h *Head) compare(o *Head) int {
	if c := h.At.Compare(o.At); c != 0 {
		return c
	}
	return cmp.Compare(h.Order(), o.Order())
}

// Order returns a key that orders the rows of one ledger within an instant: the entry, or the content, which sorts before any entry.
func (h *Head) Order() string {
	if h.Entry == "" {
		return " " + h.canonical()
	}
	return h.ID
}

// CompareRows orders two rows of one ledger, as the book counts them.
func CompareRows(a, b Row) int { return a.head().compare(b.head()) }

// A Conflict is an entry that a file holds several times with different contents. None of these rows counts.
type Conflict struct {
	File  string
	ID    string
	Lines []int
	What  string
}

func (c *Conflict) Error() string {
	return fmt.Sprintf("%s:%d: %s", c.File, c.Lines[0], c.What)
}

func entryConflict(file, id string, lines []int) *Conflict {
	where := joinLines(lines) // sorts lines, too
	return &Conflict{file, id, lines, fmt.Sprintf("entry %s stands with different contents on lines %s; none of them counts; settle it with: tarebook void --only %s --why REASON, then record the right one again",
		id, where, id)}
}

// settle returns the rows that exist in order, without copies of the same entry. It returns entries with different contents apart.
func settle[T any, R RowOf[T]](rows []*T, exists func(*Head) bool) (kept []*T, conflicting map[string][]*T) {
	kept = slices.DeleteFunc(slices.Clone(rows), func(row *T) bool { return !exists(R(row).head()) })
	if !ascending[T, R](kept) {
		kept, conflicting = withoutCopies[T, R](kept)
	}
	sortRows[T, R](kept)
	return kept, conflicting
}

// sortRows puts rows into the order in which they count. Most files have it, and to see that takes less time than to sort them.
func sortRows[T any, R RowOf[T]](rows []*T) {
	compare := func(a, b *T) int { return R(a).head().compare(R(b).head()) }
	if !slices.IsSortedFunc(rows, compare) {
		slices.SortStableFunc(rows, compare)
	}
}

// ascending reports whether every entry is greater than the one before it, so that none can repeat. That is the rule, unless a merge or
// a person has moved a row.
func ascending[T any, R RowOf[T]](rows []*T) bool {
	for i := 1; i < len(rows); i++ {
		if R(rows[i]).head().ID <= R(rows[i-1]).head().ID {
			return false
		}
	}
	return true
}

// withoutCopies returns the rows without copies of the same entry, and entries with different contents apart.
func withoutCopies[T any, R RowOf[T]](rows []*T) (kept []*T, conflicting map[string][]*T) {
	first := make(map[string]int, len(rows))
	for _, row := range rows {
		h := R(row).head()
		if _, ok := conflicting[h.ID]; ok {
			continue
		}
		i, ok := first[h.ID]
		if !ok {
			first[h.ID] = len(kept)
			kept = append(kept, row)
			continue
		}
		if other := R(kept[i]).head(); !sameContent(other, h) {
			if conflicting == nil {
				conflicting = map[string][]*T{}
			}
			conflicting[h.ID] = nil
			kept[i] = nil
		}
	}
	for _, row := range rows {
		h := R(row).head()
		if group, ok := conflicting[h.ID]; ok {
			conflicting[h.ID] = append(group, row)
		}
	}
	return slices.DeleteFunc(kept, func(row *T) bool { return row == nil }), conflicting
}

// sameContent reports whether two rows of one entry have the same content. The entry itself may differ in case.
func sameContent(a, b *Head) bool {
	if a.raw == b.raw {
		return true
	}
	return contentOf(a.canonical()) == contentOf(b.canonical())
}

// contentOf returns a canonical form without its file and entry.
func contentOf(canonical string) string {
	parts := strings.SplitN(canonical, "\x1f", 3)
	return parts[len(parts)-1]
}

// resolveVoids returns the IDs that live voids hide, and the voids that are live. A void can be hidden by a later one, never by an earlier
// one, so the latest come first. Voids in conflict hide nothing; settled holds the IDs of those that a later void hides.
func resolveVoids(voids []*Void, conflicting map[string][]*Void) (hidden, settled map[string]bool, live []*Void) {
	all := slices.Clone(voids)
	for _, group := range conflicting {
		all = append(all, group...)
	}
	slices.SortStableFunc(all, func(a, b *Void) int { return b.compare(&a.Head) })
	hidden, settled = map[string]bool{}, map[string]bool{}
	for _, v := range all {
		_, twice := conflicting[v.ID]
		if hidden[v.ID] {
			settled[v.ID] = twice
			continue
		}
		if twice {
			continue
		}
		live = append(live, v)
		hidden[v.Target] = true
	}
	return hidden, settled, live
}

// Name returns the row's ID as messages show it: its entry, or 26 hex digits in lower case.
func (h *Head) Name() string {
	if h.Entry == "" {
		return strings.ToLower(h.ID)
	}
	return h.ID
}
