package reports

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tarebook/ledger"
)

// sample is a spool of 1000 g that was weighed twice in 100 hours: 500 g after 50 h, where the book said 600, and 400 g at the end.
func sample(t *testing.T) course {
	t.Helper()
	begin, err := ledger.ParseTime("2026-11-02T00:00:00Z")
	if err != nil {
		t.Fatal(err)
	}
	after := func(hours int) time.Time { return begin.Std().Add(time.Duration(hours) * time.Hour) }
	return course{spool: "S-1", from: begin.Std(), to: after(100),
		points: []weighing{{ledger.NewTime(after(50)), 500, 50, true, 3}, {ledger.NewTime(after(100)), 400, 5, false, 5}},
		line:   []moment{{after(0), 1000}, {after(50), 600}, {after(50), 500}, {after(100), 400}, {after(100), 400}}}
}

// Worked by hand: time runs from x 38 to 300, so 50 h of 100 h stand at 38 + 131 = 169; grams from y 116 (0) to 18 (1000), so 600 g
// at 116 - 0.6 x 98 = 57.2, 500 g at 67, 400 g at 76.8; 2u of 100 g is 9.8 up and down.
func TestDrawCourse(t *testing.T) {
	t.Parallel()
	d := sample(t).draw()
	for _, c := range []struct{ what, got, want string }{
		{"line", d.Line, "M38 18L169 57.2V67L300 76.8V76.8"},
		{"bars", d.Bars, "M169 76.8V57.2M300 77.8V75.8"},
		{"dots", d.Dots, "M169 67h0M300 76.8h0"},
		{"words", d.Words, "Net of S-1 by 2 weigh-ins: 500.0 g on 2026-11-04, 400.0 g (2u 10.0) on 2026-11-06; 1 outside"},
		{"grams", labels(d.Grams), "0@116 500@67 1000@18"},
		{"days", labels(d.Days), "2026-11-02@38"}, // there are five midnights, too many, and of Mondays one
	} {
		if c.got != c.want {
			t.Errorf("%s: got %s, want %s", c.what, c.got, c.want)
		}
	}
}

// After the last weigh-in the doubt of the book grows: from 2u of 100 g about 500 g to 2u of 150 g about 400 g, worked by hand as above
// (550 g is at 62.1, 250 g at 91.5).
func TestDoubtGrows(t *testing.T) {
	t.Parallel()
	c := sample(t)
	if got := c.draw().Band; got != "" {
		t.Errorf("a course that ends with a weigh-in has a band %s", got)
	}
	c.points, c.nowU = c.points[:1], 75
	if got, want := c.draw().Band, "M169 57.2L300 62.1V91.5L169 76.8Z"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// Words count every weigh-in, also those that are not drawn: here the second of 40 alone is outside, and it is left out.
func TestCourseWords(t *testing.T) {
	t.Parallel()
	c := sample(t)
	first, outside, last := c.points[1], c.points[0], c.points[1]
	c.points = append([]weighing{first, outside}, slices.Repeat([]weighing{last}, 38)...)
	c.line = slices.Repeat([]moment{c.line[0]}, 90)
	for i := range c.points {
		c.points[i].lineEnd = 2 * (i + 1)
	}
	want := "Net of S-1 by 40 weigh-ins: 400.0 g on 2026-11-06, 400.0 g (2u 10.0) on 2026-11-06; 1 outside; 16 of them drawn"
	if got := c.draw().Words; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func labels(all []axisLabel) string {
	var words []string
	for _, l := range all {
		words = append(words, l.Text+"@"+l.At)
	}
	return strings.Join(words, " ")
}

// A drawing keeps the first and the last weigh-in, and the book at those that it keeps.
func TestThinCourse(t *testing.T) {
	t.Parallel()
	c := course{line: []moment{{net: 1000}}}
	for i := range 40 {
		c.line = append(c.line, moment{net: float64(900 - 20*i)}, moment{net: float64(890 - 20*i)})
		c.points = append(c.points, weighing{net: float64(890 - 20*i), lineEnd: len(c.line)})
	}
	c.line = append(c.line, moment{net: 100})
	got := c.thinned(5)
	if len(got.points) != 5 || got.points[0] != c.points[0] || got.points[4] != c.points[39] {
		t.Fatalf("got %v", got.points)
	}
	if len(got.line) != 1+2*5+1 || got.line[0].net != 1000 || got.line[11].net != 100 {
		t.Fatalf("got %v", got.line)
	}
	for i, p := range got.points {
		if got.line[1+2*i].net != p.net+10 || got.line[2+2*i].net != p.net {
			t.Errorf("at %g g the line goes from %g to %g", p.net, got.line[1+2*i].net, got.line[2+2*i].net)
		}
	}
	if all := c.thinned(40); !slices.Equal(all.points, c.points) {
		t.Error("40 of 40 are not all")
	}
}

// Worked by hand for 48 columns: 40 of them and 13 lines are the field, 39 steps for 100 h and 12 for 1000 g. 50 h stand at 19.5, so
// in column 20; 500 g in line 6, 2u of 100 g are 1.2 lines; 400 g in line 7.2, so 7, with 2u within the line.
func TestPlotCourse(t *testing.T) {
	t.Parallel()
	lines := sample(t).plot(Style{Width: 48})
	field := lines[1:14]
	at := func(line, column int) string { return field[line][6+column : 7+column] }
	for _, c := range []struct {
		line, column int
		want         string
	}{{0, 0, "."}, {6, 20, "o"}, {5, 20, "|"}, {7, 20, "|"}, {4, 20, " "}, {8, 20, " "}, {7, 39, "o"}, {6, 39, " "}, {8, 39, " "}} {
		if got := at(c.line, c.column); got != c.want {
			t.Errorf("line %d, column %d is %q, want %q\n%s", c.line, c.column, got, c.want, strings.Join(lines, "\n"))
		}
	}
	for line, label := range map[int]string{0: "1000 +", 6: " 500 +", 12: "   0 +"} {
		if !strings.HasPrefix(field[line], label) {
			t.Errorf("line %d begins %q, want %q", line, field[line][:6], label)
		}
	}
	// as above: a Monday at 0 h alone
	if axis := lines[14]; axis != "     ++"+strings.Repeat("-", 39) {
		t.Errorf("the axis is %q", axis)
	}
	for _, width := range []int{40, 41, 60, 80, 160} {
		for _, line := range sample(t).plot(Style{Width: width}) {
			if len(line) > width || strings.IndexFunc(line, func(r rune) bool { return r < ' ' || r > '~' }) >= 0 {
				t.Errorf("at %d columns: %q", width, line)
			}
		}
	}
	if got := sample(t).plot(Style{}); got != nil {
		t.Errorf("without a terminal: %q", got)
	}
}

func TestPlotBars(t *testing.T) {
	t.Parallel()
	b := bars{what: "waste by client", unit: "EUR", rows: []bar{
		{"", [...]float64{0, 0, 0, 0}, 0, "0.00"},
		{"a\x1b[31m\u202eb", [...]float64{2, 1, 4, 1}, 8, "8.00"},
		{"dorrow", [...]float64{0, 0, 2, 0}, 2, "2.00"},
	}}
	b.rows[0].key = named("")
	// Of 47 columns 15 are for names, 2 for the edge and 5 for figures, so 25 are left for 8.00: boundaries at 2, 3, 7 and 8 of 8 are
	// 6.25, 9.375, 21.875 and 25, so ends at 6, 9, 22 and 25; 2.00 is 6.25, so 6.
	want := []string{
		"waste by client, EUR",
		"= support, : prime, # purge, x scrap",
		"(none)          | 0.00",
		"a<001B>~<202E>b |======:::#############xxx 8.00",
		"dorrow          |###### 2.00",
		"                +---------------+---------", // 5 of 8 is 15.6 of 25
		"            EUR 0               5",
	}
	if got := b.plot(Style{Width: 47}); !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if got := (bars{}).plot(Style{Width: 80}); got != nil {
		t.Errorf("of nothing: %q", got)
	}
}

// Where a terminal shows UTF-8 the same is drawn in dots, two across and four down a cell: 79 steps for 100 h, 51 for 1000 g. 50 h and 500 g
// are the dots 40 and 26, so column 20 of line 6; 400 g is dot 31, so line 7. At the beginning the line is in dots 0 and 0, 1 and 1.
func TestPlotBraille(t *testing.T) {
	t.Parallel()
	field := sample(t).plot(Style{Width: 48, UTF8: true})[1:14]
	at := func(line, column int) string { return string([]rune(field[line])[6+column]) }
	if at(6, 20) != "o" || at(7, 39) != "o" || at(12, 0) != " " {
		t.Errorf("got\n%s", strings.Join(field, "\n"))
	}
	c := newCanvas(1, 1, true)
	for _, d := range [][2]int{{0, 0}, {1, 3}, {0, 2}} {
		c.set(d[0], d[1], lineDot)
	}
	c.set(2, 0, lineDot) // outside
	c.set(1, 0, bandDot) // of a band every other dot is drawn
	c.set(1, 1, bandDot)
	if got, want := c.lines()[0], "\u2895"; got != want { // dots 1, 3 and 8, and 5 of the band: 1 + 4 + 80 + 10 hexadecimal
		t.Errorf("got %U, want %U", []rune(got), []rune(want))
	}
}

// The greatest are kept in the order in which they stand, the earlier of equals first.
func TestGreatestBars(t *testing.T) {
	t.Parallel()
	b := bars{rows: []bar{{key: "a", all: 1}, {key: "b", all: 5}, {key: "c", all: 3}, {key: "d", all: 3}, {key: "e", all: 9}}}
	got := b.greatest(3)
	keys := ""
	for _, r := range got.rows {
		keys += r.key
	}
	if keys != "bce" || got.left != 2 || got.leftOut() != "the 3 greatest of 5" {
		t.Errorf("got %s, %d left out: %s", keys, got.left, got.leftOut())
	}
}

// Worked by hand: amounts run from x 96 to 308 over 0 to 10, 21.2 each; 8 of them end at 265.6.
func TestDrawBars(t *testing.T) {
	t.Parallel()
	d := bars{what: "waste by client", unit: "EUR", rows: []bar{{"pellam", [...]float64{2, 0, 5, 1}, 8, "8.00"}, {"dorrow", [4]float64{}, 0, "0.00"}}}.draw()
	row := d.Rows[0]
	want := []kindDrawing{{"support", "96", "42.4"}, {"purge", "138.4", "106"}, {"scrap", "244.4", "21.2"}}
	if !slices.Equal(row.Kinds, want) || row.At != "269.6" || len(d.Rows[1].Kinds) != 0 {
		t.Errorf("got %v at %s, %v", row.Kinds, row.At, d.Rows[1])
	}
	if got := labels(d.Ticks); got != "0@96 5@202 10@308" {
		t.Errorf("ticks %s", got)
	}
	if d.Words != "waste by client in EUR: pellam 8.00, dorrow 0.00" {
		t.Errorf("words %q", d.Words)
	}
}

// The lines of a hatch stay in their box and are 5 apart, worked by hand over a box of 10 by 10.
func TestHatch(t *testing.T) {
	t.Parallel()
	for kind, want := range map[string]string{"support": "M5 0L0 5M10 0L0 10M10 5L5 10", "scrap": "M5 10L0 5M10 10L0 0M10 5L5 0", "prime": "M0 3.3h10M0 6.7h10", "purge": ""} {
		var p svgPath
		if p.fill(kind, 0, 0, 10, 10); string(p) != want {
			t.Errorf("%s: got %s, want %s", kind, p, want)
		}
	}
}

// A key too long to stand beside its bar is never cut: all keys stand above, in lines that fit.
func TestLongKeys(t *testing.T) {
	t.Parallel()
	long := "Cooperative of the Upper Weir and its Mill, workshop of models and stages"
	rows := []bar{{"pellam", [...]float64{2: 8, 3: 0}, 8, "8.0"}, {long, [...]float64{2: 4, 3: 0}, 4, "4.0"}}
	d := bars{what: "waste", unit: "g", rows: rows}.draw()
	if !d.Above || len(d.Rows[0].Keys) != 1 || len(d.Rows[1].Keys) < 2 {
		t.Fatalf("above: %t, %v", d.Above, d.Rows)
	}
	got := ""
	for _, line := range d.Rows[1].Keys {
		if got += line.Text; keyWidth(line.Text) > barsWidth {
			t.Errorf("too wide: %s", line.Text)
		}
	}
	if got != long {
		t.Errorf("got %q", got)
	}
	if (bars{unit: "g", rows: rows[:1]}).draw().Above {
		t.Error("a short key stands above its bar")
	}
}
