package reports

import (
	"bufio"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// A table lines up by the cells that a terminal gives a text. On a narrow one names are shortened, then what is spare is left out.
func TestLayOut(t *testing.T) {
	t.Parallel()
	sheet := func() Sheet {
		return Sheet{Columns: slices.Concat(texts("spool", "place"), masses("net g")), Spare: [][]string{{"place"}},
			Rows: [][]string{{"A", "棚 2", "5"}, {"PLA-1", "a dry box under the window", "1000.0"}}, Totals: [][]string{{"", "", "1005.0"}}}
	}
	const whole = `spool  place                        net g
-----------------------------------------
A      棚 2                           5.0
PLA-1  a dry box under the window  1000.0
-----------------------------------------
                                   1005.0
`
	const narrow = `spool  place          net g
---------------------------
A      棚 2             5.0
PLA-1  a dry …indow  1000.0
---------------------------
                     1005.0
`
	for _, c := range []struct {
		width int
		want  string
	}{
		{0, whole},
		{41, whole},
		{27, narrow},
		{26, "spool   net g\n-------------\nA         5.0\nPLA-1  1000.0\n-------------\n       1005.0\n(this terminal is too\n narrow for: place)\n"},
	} {
		if got := laidOut(sheet(), Style{Width: c.width, UTF8: true}); got != c.want {
			t.Errorf("width %d:\n%s\nwant\n%s", c.width, got, c.want)
		}
	}
	only := Sheet{Columns: append(left("spool"), right("value")...), Spare: [][]string{{"value"}}, Rows: [][]string{{"A", "12.50"}}, Totals: [][]string{{"", "12.50"}}}
	if got, want := laidOut(only, Style{Width: 11}), "spool\n-----\nA\n(this\n terminal\n is too\n narrow\n for:\n value)\n"; got != want {
		t.Errorf("a total that was left out:\n%s\nwant\n%s", got, want)
	}
}

// Whatever the cells and the terminal: no cell of figures or short words is cut; a sum loses a column only if all of it is 0, or its whole
// group; all that is gone is named; and where names and spare columns can make room, every line fits.
func TestFitLaws(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.IntRange(1, 4).Draw(t, "rows")
		figure := rapid.SampledFrom([]string{"0", "0.0", "-", "12.5", "-3456.125"})
		text := rapid.SampledFrom([]string{"a", "market-square", strings.Repeat("long ", 18), strings.Repeat("棚", 45), "🧵👩‍🔧"})
		sheet := Sheet{Columns: slices.Concat(texts("job", "place"), right("part", "purge", "all"), left("verdict")), Spare: [][]string{{"place"}, {"part", "purge"}}}
		for range rows {
			sheet.Rows = append(sheet.Rows, []string{text.Draw(t, "job"), text.Draw(t, "place"), figure.Draw(t, "part"), figure.Draw(t, "purge"), figure.Draw(t, "all"), "marginal"})
		}
		before := slices.Clone(sheet.Rows)
		columns := slices.Clone(sheet.Columns)
		for i := range sheet.Rows {
			sheet.Rows[i] = slices.Clone(sheet.Rows[i])
		}
		width := rapid.IntRange(20, 200).Draw(t, "width")
		widths, without := sheet.fit(width, "…")
		if total(widths) > width && width >= 40 {
			t.Fatalf("%d cells of %d", total(widths), width)
		}
		for i, c := range columns {
			at := sheet.find(c.Name)
			if at < 0 {
				if !slices.Contains(without, c.Name) {
					t.Fatalf("%s is gone and not named", c.Name)
				}
				continue
			}
			for n := range before {
				if got := sheet.Rows[n][at]; got != before[n][i] && c.Least == 0 || cellWidth(got) > widths[at] {
					t.Fatalf("%s became %q", before[n][i], got)
				}
			}
		}
		part, purge := sheet.find("part"), sheet.find("purge")
		nought := func(i int) bool {
			return !slices.ContainsFunc(before, func(row []string) bool { return strings.Trim(row[i], "-0.") != "" })
		}
		if part < 0 && purge >= 0 && !nought(2) || purge < 0 && part >= 0 && !nought(3) {
			t.Fatalf("a sum is torn: %v", without)
		}
	})
}

func TestWrap(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text          string
		width, indent int
		want          string
	}{
		{"as it is", 0, 2, "as it is"},
		{"as it is", 8, 2, "as it is"},
		{"slot 1: PLA-08 is short", 10, 2, "slot 1:|  PLA-08|  is short"},
		{"a averylongwordindeed", 8, 2, "a|  averyl|  ongwor|  dindee|  d"},
		{"棚棚棚棚", 4, 0, "棚棚|棚棚"},
	} {
		if got := strings.Join(wrap(c.text, c.width, c.indent), "|"); got != c.want {
			t.Errorf("%q in %d: got %q, want %q", c.text, c.width, got, c.want)
		}
	}
}

func TestMiddleCut(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text string
		most int
		want string
	}{
		{"market-square", 13, "market-square"},
		{"market-square-1", 12, "market…are-1"},
		{"棚の上の長い名前", 9, "棚の…名前"},
		{"e\u0301e\u0301e\u0301e\u0301", 3, "e\u0301…e\u0301"},
	} {
		if got := middleCut(c.text, c.most, "…"); got != c.want || cellWidth(got) > c.most {
			t.Errorf("%q in %d: got %q, want %q", c.text, c.most, got, c.want)
		}
	}
}

// JCGM 100:2008, 7.2.6 (from memory): y = 10.057 62 ohm with u = 27 milliohm is rounded to 10.058 ohm; at most two digits of an uncertainty
// are quoted.
func TestKnown(t *testing.T) {
	t.Parallel()
	if got := fixed(10.05762, known(0.027)); got != "10.058" {
		t.Errorf("the guide's example is rounded to %s", got)
	}
	for _, c := range []struct {
		us   []float64
		want int
	}{
		{nil, 1}, {[]float64{0}, 1},
		{[]float64{9.7}, 1}, {[]float64{9.96}, 0}, {[]float64{19.4}, 0}, {[]float64{250}, 0}, {[]float64{0.96}, 2}, {[]float64{0.001}, 3},
		{[]float64{9.7, 19.4}, 0}, // 10 and 19
		{[]float64{0.6, 19.4}, 1}, // else the first were 1
		{[]float64{2.2, 12}, 0},   // 2 and 12
	} {
		if got := known(c.us...); got != c.want {
			t.Errorf("%v: got %d decimals, want %d", c.us, got, c.want)
		}
	}
	if got := within(651.04, 4.86, "g"); got != "651.0 g (2u 9.7 g)" {
		t.Errorf("got %s", got)
	}
}

func laidOut(sheet Sheet, s Style) string {
	var text strings.Builder
	b := bufio.NewWriter(&text)
	layOut(b, sheet, s)
	b.Flush()
	return text.String()
}
