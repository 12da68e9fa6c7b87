package ledger

import (
	"slices"
	"testing"
)

// keyColumns are those, and only those, that change the key of a table's row: define finds the row that stands there by them.
func TestKeyColumns(t *testing.T) {
	t.Parallel()
	fresh := []func() tableRow{func() tableRow { return &Setting{} }, func() tableRow { return &Material{} }, func() tableRow { return &Core{} },
		func() tableRow { return &Scale{} }, func() tableRow { return &Printer{} }, func() tableRow { return &PairPurge{} },
		func() tableRow { return &Nozzle{} }, func() tableRow { return &Limit{} }, func() tableRow { return &Client{} }}
	if len(fresh) != len(Tables) {
		t.Fatalf("%d tables are looked at, of %d", len(fresh), len(Tables))
	}
	for _, newRow := range fresh {
		key := func(other int) string { // of a row that says 1 everywhere, but 2 in one column
			r := newRow()
			for i, f := range r.columns() {
				text := "1"
				if i == other {
					text = "2"
				}
				if err := f.UnmarshalCSV(text); err != nil {
					t.Fatal(err)
				}
			}
			return r.key()
		}
		for i, column := range columnsOf(newRow()) {
			if changed := key(i) != key(-1); changed != slices.Contains(keyColumns, column) {
				t.Errorf("%s: that %s changes the key is %t, and that it is a key column %t", newRow().file(), column, changed, !changed)
			}
		}
	}
}

// The line to write keeps what the program doesn't know, wherever it stands.
func TestInstead(t *testing.T) {
	t.Parallel()
	l, err := newLayout(Scales, columnsOf(&Scale{}), []string{"mine", "scale", "error_g", "division_g"})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		record     []string
		texts      map[string]string
		line, adds string
	}{
		{[]string{"a, b", "bench", "0.2", "0.1"}, map[string]string{"error_g": "0.3"}, `"a, b",bench,0.3,0.1`, ""},
		{[]string{"", "bench", "0.2"}, map[string]string{"division_g": "1", "note": `the "good" one`}, `,bench,0.2,1,"the ""good"" one"`, ",note"},
		{[]string{"two\nlines", "bench", "", ""}, map[string]string{"repeat_g": "0.5", "note": "x"}, "two lines,bench,,,0.5,x", ",repeat_g,note"},
	} {
		if line, adds := l.instead(c.record, c.texts); line != c.line || adds != c.adds {
			t.Errorf("%q: got %s and %s, want %s and %s", c.record, line, adds, c.line, c.adds)
		}
	}
}
