package ledger

import (
	"testing"

	"pgregory.net/rapid"
)

// An index numbers each of its ids, short and long ones, and no other text.
func TestSpoolIndex(t *testing.T) {
	t.Parallel()
	id := rapid.StringMatching(`[A-Z]{0,2}(-[0-9]{1,3})?|SPOOL-OF-MANY-LETT?ERS-[0-9]{0,2}`)
	rapid.Check(t, func(t *rapid.T) {
		ids := rapid.SliceOfDistinct(id, rapid.ID).Draw(t, "ids")
		want := map[string]int{}
		for i, id := range ids {
			want[id] = i + 1
		}
		x := newSpoolIndex(ids)
		for _, asked := range append(rapid.SliceOf(id).Draw(t, "asked"), ids...) {
			if got := x.number(asked); got != want[asked] {
				t.Fatalf("%q of %q: %d, want %d", asked, ids, got, want[asked])
			}
		}
	})
}
