package toolpath_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tarebook/inventory/toolpath"
)

// The box of a tool. Arcs against plain trigonometry: the circle around 10,10 of radius 5 reaches 5 and 15; its points at 45
// degrees lie 5 sin 45 = 3.535534 from the centre on each axis.
func TestBoxes(t *testing.T) {
	t.Parallel()
	const d = "3.535534"
	at := func(x, y string) string { // a point by its distance from the centre
		return fmt.Sprintf("X%s Y%s", sum(10, x), sum(10, y))
	}
	for _, c := range []struct{ name, text, want string }{
		{"both ends", "G1 X5 Y6\nG1 X1 Y9 Z.3 E1\n", "1..5 6..9 ..0.3"},
		{"travel is not in it", "G1 X1 Y1 E1\nG1 X100 Y100 Z50\nG1 X2 Y2 Z.2\nG1 X3 Y3 E2\n", "0..3 0..3 ..0.2"},
		{"what stands still is not in it", "G1 X9\nG1 E1\n", "none"},
		{"what returns alone is not in it", "G1 X1 E1\nG1 E0\nG1 X9 E1\nG1 X1\nG1 X2 E2\n", "0..2 0..0 ..0"},
		{"part and support", "; type: support\nG1 X1 E1\n; type: wall\nG1 X1 Y7 E2\n; type: prime\nG1 X50 E3\n", "0..1 0..7 ..0"},
		{"before sections", "G1 X50 E1\n; type: wall\nG1 X40\nG1 X41 E2\n", "40..41 0..0 ..0"},
		{"a section of priming that is none by its word", "; type: custom\nG1 X50 E1\n; type: wall\nG1 X40\nG1 X41 E2\n", "0..50 0..0 ..0"},
		{"without sections all of it", "G1 X50 E1\nG1 X40 E2\n", "0..50 0..0 ..0"},
		{"G92 shifts the register", "G1 X10 Y10 Z1\nG92 X0 Y0 Z0\nG1 X1 Y-2 Z.5 E1\n", "10..11 8..10 ..1.5"},
		{"G28 puts both to 0", "G1 X10 Y10\nG92 X5\nG28 X\nG1 X1 E1\n", "0..1 10..10 ..0"},
		{"G28 of all", "G1 X10 Y10 Z5\nG92 X5 Y5 Z5\nG28 W\nG1 X1 E1\n", "0..1 0..0 ..0"},
		{"G92 alone", "G1 X10 Y10\nG92\nG1 X1 E1\n", "10..11 10..10 ..0"},
		{"relative", "G91\nG1 X5\nG1 X-7 Y1 E1\n", "-2..5 0..1 ..0"},
		{"inches", "G20\nG1 X1 Y2 E1\n", "0..25.4 0..50.8 ..0"},

		{"a quarter that passes no extreme", "G1 " + at("5", "0") + "\nG3 " + at("0", "5") + " I-5 E1\n", "10..15 10..15 ..0"},
		{"over the top", "G1 " + at(d, d) + "\nG3 " + at("-"+d, d) + " I-3.535534 J-3.535534 E1\n", "6.464..13.536 13.536..15 ..0"},
		{"the other way round", "G1 " + at(d, d) + "\nG2 " + at("-"+d, d) + " I-3.535534 J-3.535534 E1\n", "5..15 5..13.536 ..0"},
		{"by radius", "G1 " + at(d, d) + "\nG3 " + at("-"+d, d) + " R5 E1\n", "6.464..13.536 13.536..15 ..0"},
		{"the greater arc", "G1 " + at(d, d) + "\nG2 " + at("-"+d, d) + " R-5 E1\n", "5..15 5..13.536 ..0"},
		{"the smaller arc, clockwise", "G1 " + at("-"+d, d) + "\nG2 " + at(d, d) + " R5 E1\n", "6.464..13.536 13.536..15 ..0"},
		{"a full circle", "G1 X15 Y10\nG2 X15 Y10 I-5 E1\n", "5..15 5..15 ..0"},
		{"I J before R", "G1 X15 Y10\nG3 X10 Y15 I-5 R500 E1\n", "10..15 10..15 ..0"},
		{"R too short", "G1 X5 Y10\nG2 X15 Y10 R1 E1\n", "5..15 10..15 ..0"},
		{"R back to the start stands still", "G1 X5 Y10\nG2 X5 Y10 R5 E1\n", "none"},
		{"neither", "G1 X5 Y10\nG2 X15 Y10 E1\n", "5..15 10..10 ..0"},
		{"an end beside the circle", "G1 X15 Y10\nG3 X10 Y4.8 I-5 E1\n", "5..15 4.8..15 ..0"}, // its radius is that of the start, 5, not 5.2
		{"another plane", "G18\nG1 X5 Y10\nG2 X15 Y10 I5 E1\n", "5..15 10..10 ..0"},
		{"back in the plane", "G19\nG17\nG1 X5 Y10\nG2 X15 Y10 I5 E1\n", "5..15 10..15 ..0"},
		{"shifted", "G92 X100\nG1 X105 Y10\nG2 X115 Y10 I5 E1\n", "5..15 10..15 ..0"},
		{"a repeated arc", "G1 X5 Y10\nG2\nX15 Y10 I5 E1\n", "5..15 10..15 ..0"},
	} {
		f, err := toolpath.Read(strings.NewReader(c.text), "", toolpath.Options{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got := box(f.Tools[0].Box); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

func sum(a float64, b string) string {
	var v float64
	fmt.Sscan(b, &v)
	return fmt.Sprintf("%.6f", a+v)
}

// box writes a box to a thousandth of a millimetre.
func box(b *toolpath.Box) string {
	if b == nil {
		return "none"
	}
	r := func(l toolpath.Length) float64 { return math.Round(l.MM()*1000)/1000 + 0 }
	return fmt.Sprintf("%v..%v %v..%v ..%v", r(b.XMin), r(b.XMax), r(b.YMin), r(b.YMax), r(b.ZMax))
}
