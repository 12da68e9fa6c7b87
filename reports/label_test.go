package reports

import (
	"strings"
	"testing"
)

// Text is cut where it might run over, and the cut can be seen. In ems: 0.61 for what a monospaced font has, 1 for East Asian
// scripts and for the ellipsis, 0.9 for all else, 0.1 for what stands on another character.
func TestFitted(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text string
		ems  float64
		want string
	}{
		{"", 1, ""},
		{"PLA", 1.83, "PLA"},                       // 3 x 0.61
		{"PLA", 1.82, "P…"},                        // 0.61 + 1
		{"galaxy black", 6, "galaxy b…"},           // 8 x 0.61 + 1 = 5.88
		{"galaxy black", 5.4, "galaxy…"},           // no blank before the ellipsis
		{"漢字漢字", 4, "漢字漢字"},                        // 4 x 1
		{"漢字漢字", 3.9, "漢字…"},                       // 2 + 1
		{"שלום", 3.6, "שלום"},                      // 4 x 0.9
		{"Жёлтый", 3.66, "Жёлтый"},                 // 6 x 0.61
		{"e\u0301e\u0301", 1.42, "e\u0301e\u0301"}, // 2 x (0.61 + 0.1)
		{"e" + strings.Repeat("\u0301", 4000), 2, "e" + strings.Repeat("\u0301", 3) + "…"}, // 0.61 + 3 x 0.1 + 1
		{"PLA", 0.5, "…"},
	} {
		if got := fitted(c.text, c.ems); got != c.want {
			t.Errorf("%.20q in %g ems: got %q, want %q", c.text, c.ems, got, c.want)
		}
	}
}

// What fits is no smaller than what was asked for, of a single label, and never more labels, of a grid. The grids are the rule's
// own: text of 1.5 mm wants a row of 2.03, a form of 11.9, a label of 17.8, and 258 mm hold 14 of those.
func TestLabelSizesThatFit(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		size           LabelSize
		chars, modules int
		ok             bool
	}{
		{LabelSize{62, 29}, 32, 25, true},
		{LabelSize{30, 20}, 7, 21, true},
		{LabelSize{40, 60}, 20, 21, true},
		{LabelSize{188, 258}, 1, 21, true},
		{LabelSize{10, 10}, 1, 21, false},
		{LabelSize{30, 20}, 32, 25, false},
	} {
		err := c.size.legible(c.chars, c.modules)
		if (err == nil) != c.ok {
			t.Errorf("%s for %d characters: got %v", c.size, c.chars, err)
		}
		if fits := c.size.fits(c.chars, c.modules); fits.legible(c.chars, c.modules) != nil || fits.Width < c.size.Width || fits.Height < c.size.Height {
			t.Errorf("%s for %d characters: got %s", c.size, c.chars, fits)
		}
	}
	for _, c := range []struct{ grid, want string }{{"3x8", "3x8"}, {"1x1", "1x1"}, {"1x99", "1x14"}, {"99x99", "6x9"}} {
		g, err := ParseLabelGrid(c.grid)
		if got := g.fits(7, 21); err != nil || got.String() != c.want || got.size().legible(7, 21) != nil {
			t.Errorf("%s: got %s, %v; want %s", c.grid, got, err, c.want)
		}
	}
}

// The first row of a symbol begins and ends with the edges of finder patterns, 7 modules wide, and the second with their corners
// (ISO/IEC 18004; from memory).
func TestSymbolIsOnePathOfRuns(t *testing.T) {
	t.Parallel()
	s, err := encode("PLA-02")
	if err != nil {
		t.Fatal(err)
	}
	if s.modules != 21 || !strings.HasPrefix(s.path, "M0 0h7v1H0M") || !strings.Contains(s.path, "M14 0h7v1H14M0 1h1v1H0M6 1h1v1H6M") {
		t.Errorf("%d modules, %s", s.modules, s.path)
	}
	if _, err := encode("pla-02"); err == nil {
		t.Error("what is not of the alphanumeric set was encoded")
	}
}
