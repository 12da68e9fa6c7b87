package planning

import (
	"slices"
	"testing"

	"tarebook/inventory/cost"
)

// Worked by hand: over two currencies A purged 9 + 3 g in 40 + 20 changes, 12/60 = 0.2 g each; B knows of no change.
func TestChangePurges(t *testing.T) {
	t.Parallel()
	got := ChangePurges([]cost.Row{
		{Key: "A", Currency: "EUR", Changes: 40, ChangesPurge: 9000},
		{Key: "A", Currency: "USD", Changes: 20, ChangesPurge: 3000},
		{Key: "B", Currency: "EUR"},
		{Key: "C", Currency: "EUR", Changes: 5},
	})
	if want := []ChangePurge{{"A", 60, 12000}, {"C", 5, 0}}; !slices.Equal(got, want) {
		t.Fatalf("got %v, want %v", got, want)
	}
	if g := got[0].PerChange(); g != 0.2 {
		t.Errorf("got %g g a change, want 0.2", g)
	}
}
