package toolpath_test

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"

	"tarebook/inventory/toolpath"
)

// tell writes what was read on one line: layers and changes, then each tool with its classes in mm and its layers.
func tell(f *toolpath.File) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d/%d", f.Layers, f.Changes)
	for _, t := range f.Tools {
		fmt.Fprintf(&b, " T%d", t.Tool)
		for _, c := range toolpath.Classes {
			if t.Use[c] != 0 {
				fmt.Fprintf(&b, " %s %s", c, mm(t.Use[c]))
			}
		}
		fmt.Fprintf(&b, " @%d-%d", t.FirstLayer, t.LastLayer)
	}
	for _, n := range f.Notes {
		if n.Kind != toolpath.NoteNoSections { // most files of these tests have none
			fmt.Fprintf(&b, "\n%d: %s", n.Line, n.What)
		}
	}
	return b.String()
}

// mm writes a length to a millionth of a millimetre, without zeros at its end.
func mm(l toolpath.Length) string {
	text := strconv.FormatFloat(l.MM(), 'f', 6, 64)
	return strings.TrimRight(strings.TrimRight(text, "0"), ".")
}

func read(t interface{ Helper() }, text string, o toolpath.Options) string {
	t.Helper()
	f, err := toolpath.Read(strings.NewReader(text), "part.gcode", o)
	if err != nil {
		return err.Error()
	}
	return tell(f)
}

type cases []struct{ name, text, want string }

func (cases cases) run(t *testing.T, o toolpath.Options) {
	t.Helper()
	t.Parallel()
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if got := read(t, c.text, o); got != c.want {
				t.Errorf("%s\ngot  %s\nwant %s", c.text, got, c.want)
			}
		})
	}
}

const silent = "0/0\n1: nothing is extruded"

// NISTIR 6556, 3.3 for blanks, case, line numbers and numbers; checksums and semicolons are common practice (the sums
// are the published ones of the same lines).
func TestWords(t *testing.T) {
	cases{
		{"plain", "G1 X1 E2\n", "1/0 T0 part 2 @1-1"},
		{"no blanks", "G1X10Y5E.3\n", "1/0 T0 part 0.3 @1-1"},
		{"blanks in a word", "g 1 x 1 e 2\n", "1/0 T0 part 2 @1-1"},
		{"lower case", "g1 x1 e2\nt1\ng1 x2 e3\n", "1/1 T0 part 2 @1-1 T1 part 1 @1-1"},
		{"tabs", "G1\tX1\tE2\n", "1/0 T0 part 2 @1-1"},
		{"number forms", "M83\nG1 X1 E.5\nG1 X2 E+1\nG1 X3 E1.\nG1 X4 E00001\nG1 X5 E-.5\nG1 X6 E-0\n", "1/0 T0 part 3.5 @1-1"},
		{"leading zeros of a code", "G01 X1 E2\nG00 X2 E3\nM083\nG1 X0 E1\nT01\nG1 X1 E1\n", "1/1 T0 part 4 @1-1 T1 part 1 @1-1"},
		{"code with a point", "G1.0 X1 E2\nG92.1 E0\nG1.5 X2 E9\n", "1/0 T0 part 2 @1-1"},
		{"CRLF", "G1 X1 E2\r\nG1 X2 E3\r\n", "1/0 T0 part 3 @1-1"},
		{"CR", "G1 X1 E2\rG1 X2 E3\r; type: support\rG1 X1 E4\r", "1/0 T0 part 3 support 1 @1-1"},
		{"byte order mark", "\ufeffG1 X1 E2\n", "1/0 T0 part 2 @1-1"},
		{"line numbers and checksums", "N3 T0*57\nN4 G92 E0*67\nN5 G28*22\nN6 G1 X1 E2 *9\nN7 G1 X2 E3*1 ; G1 X3 E9\n", "1/0 T0 part 3 @1-1"},
		{"N0004 without a command", "N0004\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
		{"block delete", "/G1 X1 E2\n/N2 G1 X2 E3\n", "1/0 T0 part 3 @1-1"},
		{"program marks", "%\nO1000\nG1 X1 E2\n%\n", "1/0 T0 part 2 @1-1"},
		{"repeated move", "G1 X1 E1\nX2 E2\nE3 X3 F900\nG92 E0\nX4 E1\n", "1/0 T0 part 4 @1-1"},
		{"empty", "", "0/0\n0: nothing is extruded"},
		{"blank lines", "\n \n\t\r\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
		{"no line end after a comment", "G1 X1 E1\n; done", "1/0 T0 part 1 @1-1"},
		{"no line end after a command", "G1 X1 E1\nM84", "1/0 T0 part 1 @1-1"},
	}.run(t, toolpath.Options{})
}

// NISTIR 6556, 3.3.4 for ( ); the semicolon is common practice.
func TestComments(t *testing.T) {
	cases{
		{"semicolon", "G1 X1 E2 ; E9 T1 G1 X5 E50\n", "1/0 T0 part 2 @1-1"},
		{"no blank before it", "G1 X1 E2;E9\n", "1/0 T0 part 2 @1-1"},
		{"inside a line", "G1 (X9 E9) X1 (T3) E2(G92)\n", "1/0 T0 part 2 @1-1"},
		{"semicolon inside ( )", "G1 X1 (a; b) E2\n", "1/0 T0 part 2 @1-1"},
		{"( ) inside a semicolon", "G1 X1 ; ( E2\nG1 X2 E3\n", "1/0 T0 part 3 @1-1"},
		{"only a comment", "; T1\n(T2)\nG1 X1 E2\n", "1/0 T0 part 2 @1-1"},
		{"bytes that are no UTF-8", "; \xff\xfe\x80 T1\nG1 X1 E2 (\xc3)\n", "1/0 T0 part 2 @1-1"},
		{"not closed", "G1 X1 (E2\nG1 X1 E1\n", "1/0 T0 part 1 @1-1\n1: a comment is not closed; it is taken to the end of the line"},
	}.run(t, toolpath.Options{})
}

// One line, several commands: NISTIR 6556, 3.3 allows it; from left to right is our reading.
func TestSeveralCommands(t *testing.T) {
	cases{
		{"mode and move", "G91 G1 X1 E1\nG91 G1 X1 E1\n", "1/0 T0 part 2 @1-1"},
		{"move and mode", "G1 G91 X1 E1\nX1 E1\n", "1/0 T0 part 2 @1-1"},
		{"move, then G92", "G1 X1 E5 G92 E0\nG1 X2 E1\n", "1/0 T0 part 6 @1-1"},
		{"G92, then move", "G1 X1 E5\nG92 E0 G1 X2 E1\n", "1/0 T0 part 6 @1-1"},
		{"move, then mode", "G1 X1 E5 M83\nG1 X2 E1\n", "1/0 T0 part 6 @1-1"},
		{"tool, then move", "T1 G1 X1 E5\n", "1/0 T1 part 5 @1-1"},
		{"tools", "T1 T2\nG1 X1 E1\n", "1/0 T2 part 1 @1-1"},
		{"another command, then move", "M106 S255 G1 X1 E5\nG4P10G1X2E6\n", "1/0 T0 part 6 @1-1"},
		{"units and move", "G20 G1 X1 E1\n", "1/0 T0 part 25.4 @1-1"},
		{"M6", "M6 T1\nG1 X1 E1\nT2 M6\nG1 X2 E2\n", "1/1 T1 part 1 @1-1 T2 part 1 @1-1"},
	}.run(t, toolpath.Options{})
}

// Common practice, no source: T among the words of another command picks no tool, and a message is no command.
func TestOtherCommands(t *testing.T) {
	const move = "\nG1 X1 E1\n"
	const want = "1/0 T0 part 1 @1-1"
	for _, line := range []string{
		"M104 T1 S200", "M109 T1", "M109 S200 T1", "M117 text T5 E3", "M117 G1 X5 E30", "M118 T1 G1 X5 E30", "M117", "M0 G1 X4 E4", "M600 T1 E5 X4",
		"START_PRINT BED_TEMP=60 T1", "EXCLUDE_OBJECT_START NAME=T1", "TOOL_CHANGE T=1", "E_MOVE G1 X5 E4", "TX", "T?", "T", "Tool 1", "G28 X Y", "G28 E5", "G4 S1",
		"G10", "G11", "G10 S1", "G29 E4", "M486 AObject T1 G1 X5 E5", `M587 S"T1 G1 X5 E4"`, `M587 S"T1 G1`, "M83 M82", "Hello, world", "12 drummers", "<html>", "#1=5", "M", "G", "GO",
		"M205 X8 Y8 E5", "M92 E400", "M302 S0", "G17", "F3000", "S1000", "ä T1", "M104 T1 S200 ; G1 X5 E5", "M1.5", "M8 2", "X", "E", "G68 X1 E5", "G92.1 E5", "M950 PMoon G1",
	} {
		if got := read(t, line+move, toolpath.Options{}); !strings.HasPrefix(got, want) && !(strings.HasPrefix(line, "M600") && strings.HasPrefix(got, "1/0 T0 part 1")) {
			t.Errorf("%s: got %s, want %s", line, got, want)
		}
	}
}

// NISTIR 6556, 3.5.7 (G20, G21), 3.5.17 (G90, G91), 3.5.18 (G92), 3.5.1 to 3.5.3 (G0 to G3). E, M82, M83 and M200 are
// common practice; that E is relative under M83 and under G91 is the contract's reading.
func TestRegisters(t *testing.T) {
	cases{
		{"absolute from the start", "G1 X1 E2\nG1 X2 E5\n", "1/0 T0 part 5 @1-1"},
		{"relative by M83", "M83\nG1 X1 E2\nG1 X2 E5\n", "1/0 T0 part 7 @1-1"},
		{"relative by G91", "G91\nG1 X1 E2\nG1 X2 E5\n", "1/0 T0 part 7 @1-1"},
		{"G90 leaves M83 alone", "M83\nG1 X1 E2\nG90\nG1 X2 E5\n", "1/0 T0 part 7 @1-1"},
		{"G90 ends G91 alone", "G90\nM83\nG1 X1 Z.2 E2\nG91\nG1 Z1\nG90\nG1 X2 E2\nG1 X3 E2\nG1 X4 E2\nG1 X5 E2\n", "1/0 T0 part 10 @1-1"},
		{"M82 ends M83", "M83\nG1 X1 E2\nM82\nG1 X2 E5\n", "1/0 T0 part 5 @1-1"},
		{"M83 after G90", "G90\nM83\nG1 X1 E2\nG1 X2 E5\n", "1/0 T0 part 7 @1-1"},
		{"M82 under G91", "G91\nM82\nG1 X1 E2\nG1 X2 E5\nG90\nG1 X3 E8\n", "1/0 T0 part 8 @1-1"},
		{"X stays absolute under M83", "M83\nT1\nG1 X1 E2\nM600\nG1 X1 E5\n", "1/0 T1 part 2 purge 5 @1-1"},
		{"the register runs on in relative mode", "M83\nG1 X1 E2\nM82\nG1 X2 E5\n", "1/0 T0 part 5 @1-1"},
		{"G92 E0", "G1 X1 E100\nG92 E0\nG1 X2 E40\n", "1/0 T0 part 140 @1-1"}, // 100 + 40
		{"G92 E7", "G1 X1 E100\nG92 E7\nG1 X2 E40\n", "1/0 T0 part 133 @1-1"}, // 100 + 33
		{"G92 alone", "G1 X1 E100\nG92\nG1 X1 E40\n", "1/0 T0 part 140 @1-1"},
		{"G92 alone sets X too", "T0\nG1 X1\nG92\nG1 X0 E4\n", "1/0 T0 purge 4 @1-1"},
		{"G92 of another axis", "G1 X1 E100\nG92 X5\nG92 A0\nG1 X6 E101\n", "1/0 T0 part 101 @1-1"},
		{"G92 under G91", "G91\nG1 X1 E2\nG92 E50\nG1 X1 E2\nG90\nG1 X1 E53\n", "1/0 T0 part 5 @1-1"}, // 2 + 2 + (53 - 52)
		{"G92 uses nothing", "G92 E100\nG92 E0\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
		{"G0 extrudes like G1", "G0 X1 E2\n", "1/0 T0 part 2 @1-1"},
		{"arcs", "G2 X1 Y1 I1 E2\nG3 X2 Y1 R5 E5\n", "1/0 T0 part 5 @1-1"},
		{"inches", "G20\nG1 X1 E1\n", "1/0 T0 part 25.4 @1-1"},
		{"inches, then mm", "G20\nG1 X1 E1\nG21\nG1 X2 E26.4\n", "1/0 T0 part 26.4 @1-1"},
		{"mm, then inches", "G1 X1 E25.4\nG20\nG1 X2 E2\n", "1/0 T0 part 50.8 @1-1"},
		{"G92 in inches", "G20\nG92 E1\nG21\nG1 X1 E25.5\n", "1/0 T0 part 0.1 @1-1"},
		{"an inch of X", "T0\nG1 X25.4\nG20\nG1 X1 E1\n", "1/0 T0 purge 25.4 @1-1"},
		{"fractions of an inch", "G20 M83\nG1 X1 E.0001\nG1 X2 E-.00005\nG1 X3 E.00005\n", "1/0 T0 part 0.00254 @1-1"},
		// pi 1.75^2/4 = 2.405281875 mm2: 2.405281875 mm3 are 1 mm.
		{"volumetric", "M200 D1.75\nG1 X1 E24.05281875\n", "1/0 T0 part 10 @1-1"},
		{"volumetric for all tools", "M200 T1 D1.75\nG1 X1 E24.05281875\nT2\nG1 X2 E48.1056375\n", "1/1 T0 part 10 @1-1 T2 part 10 @1-1"},
		{"D0 ends it", "M200 D1.75\nG1 X1 E24.05281875\nM200 D0\nG92 E0\nG1 X2 E10\n", "1/0 T0 part 20 @1-1"},
		{"M200 alone", "M200\nM200 S1\nG1 X1 E10\n", "1/0 T0 part 10 @1-1"},
		{"volumetric, relative", "M200D1.75\nM83\nG1 X1 E24.05281875\nG1 X2 E-2\nG1 X3 E2\n", "1/0 T0 part 10 @1-1"},
		{"one E register", "G1 X1 E10\nT1\nG1 X2 E15\nT0\nG1 X1 E16\n", "1/2 T0 part 11 @1-1 T1 part 5 @1-1"},
	}.run(t, toolpath.Options{})
}

// Common practice, no source: what is drawn back and returned is not used.
func TestRetraction(t *testing.T) {
	cases{
		{"absolute", "G1 X1 E10\nG1 E8\nG1 X2 E10\nG1 X3 E12\n", "1/0 T0 part 12 @1-1"},
		{"relative", "M83\nG1 X1 E10\nG1 E-2\nG1 E2\nG1 X3 E2\n", "1/0 T0 part 12 @1-1"},
		{"wipe on the way back", "M83\nG1 X1 E10\nG1 X2 E-1.5\nG1 X3 E-.5\nG1 E2.25\n", "1/0 T0 part 10.25 @1-1"},
		{"at the very start", "M83\nG1 E-2\nG1 E2\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
		{"G92 between", "G1 X1 E10\nG1 E8\nG92 E0\nG1 E2\nG1 X2 E3\n", "1/0 T0 part 11 @1-1"},
		{"across a tool change", "M83\nG1 X1 E10\nG1 E-4\nT1\nG1 X2 E5\nG1 E-4\nT0\nG1 E4\nG1 X1 E1\n", "1/2 T0 part 11 @1-1 T1 part 5 @1-1"},
		{"drawn back by the other tool", "G1 X1 E10\nG1 E6\nT1\nG1 E10\nG1 X2 E11\n", "1/1 T0 part 10 @1-1 T1 part 1 purge 4 @1-1"},
		{"by the firmware", "G1 X1 E10\nG10\nG11\nG1 X2 E12\n", "1/0 T0 part 12 @1-1"},
		{"return on the move", "M83\nG1 X1 E10\nG1 E-2\nG1 X2 E3\n", "1/0 T0 part 11 @1-1"},
	}.run(t, toolpath.Options{})
}

// The classes of DESIGN section 7, in the order in which they are tried. No outside source: the contract's own rule.
func TestClasses(t *testing.T) {
	cases{
		{"purge after a T word", "T1\nG1 E20\nG1 X1 E25\nG1 E26\n", "1/0 T1 part 6 purge 20 @1-1"},
		{"after the first T0", "T0\nG1 E20\nG1 X1 E25\n", "1/0 T0 part 5 purge 20 @1-1"},
		{"not after the same tool again", "T0\nG1 E20\nG1 X1 E25\nT0\nG1 E26\n", "1/0 T0 part 6 purge 20 @1-1"},
		{"not at the start of the file", "G1 E20\nG1 X1 E25\n", "1/0 T0 part 25 @1-1"},
		{"travel does not end it", "T1\nG1 X5 Y5\nG1 E20\nG1 X6\nG1 E30\nG1 X1 E35\n", "1/0 T1 part 5 purge 30 @1-1"},
		{"Z does not end it", "T1\nG1 Z5 E20\nG1 X1 E25\n", "1/0 T1 part 5 purge 20 @1-1"},
		{"drawing back on the way does not end it", "T1\nG1 E20\nG1 X1 E18\nG1 E22\nG1 X2 E23\n", "1/0 T1 part 1 purge 22 @1-1\n0: E is read as absolute, but 1 of 2 E words on the move fall; if a start macro sets E relative, read the file with --relative-e"},
		{"X where it stands", "G1 X5 Y5\nT1\nG1 X5 Y5 E20\nG1 Y6 E25\n", "1/0 T1 part 5 purge 20 @1-1"},
		{"relative X0", "G91\nT1\nG1 X0 Y0 E20\nG1 Y1 E5\n", "1/0 T1 part 5 purge 20 @1-1"},
		{"a full circle moves", "T1\nG1 X5\nG2 X5 Y0 I2 E5\nG1 E6\n", "1/0 T1 part 6 @1-1"},
		{"an arc that is none stands still", "T1\nG2 I0 E5\n", "1/0 T1 purge 5 @1-1"},
		{"after M600", "G1 X1 E5\nM600\nG1 E25\nG1 X2 E30\n", "1/0 T0 part 10 purge 20 @1-1"},
		{"purge before a section", "; type: support\nT1\nG1 E20\nG1 X1 E25\n", "1/0 T1 support 5 purge 20 @1-1"},

		{"forms of a section", ";TYPE:Support\nG1 X1 E1\n; feature = prime pillar\nG1 X2 E2\n(role: flush)\nG1 X3 E3\n; Section:inner\nG1 X4 E4\n;type=\tSupport\nG1 X5 E5\n",
			"1/0 T0 part 1 support 2 prime 1 purge 1 @1-1"},
		{"blanks before the colon", "; type \t: support\nG1 X1 E1\n", "1/0 T0 support 1 @1-1"},
		{"key not first", "; the type: support\nG1 X1 E1\n;;type:support\nG1 X2 E2\n", "1/0 T0 part 2 @1-1"},
		{"key not whole", "; types: support\n; type of wall: support\n; typ: support\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
		{"key without a sign", "; type support\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
		{"words by their beginnings", "; type: SUPPORTING\nG1 X1 E1\n; type: unsupported\nG1 X2 E2\n; type: wall-flushing\nG1 X3 E3\n; type: a_tower\nG1 X4 E4\n",
			"1/0 T0 part 1 support 1 prime 1 purge 1 @1-1"},
		{"first class that fits", "; type: support tower purge\nG1 X1 E1\n; type: support wipe\nG1 X2 E2\n", "1/0 T0 prime 1 purge 1 @1-1"},
		{"nothing ends a section but the next", "; type: support\nT1\nG92 E0\nG1 X1 E1\n; layer 5\nG1 X2 E2\n; type:\nG1 X3 E3\n", "1/0 T1 part 1 support 2 @1-1"},
		{"after a move", "G1 X1 E1 ; type: support\nG1 X2 E2\n", "1/0 T0 part 1 support 1 @1-1"},
		{"inside a move", "G1 X1 (type: support) E1\nG1 X2 E2\n", "1/0 T0 part 1 support 1 @1-1"},
		{"before a move", "(type: support) G1 X1 E1\n", "1/0 T0 support 1 @1-1"},
		{"the last of a line", "G1 X1 E1 (type: prime) ; type: support\nG1 X2 E2\n", "1/0 T0 part 1 support 1 @1-1"},
		{"of a class of its own", "; type: skirt\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
	}.run(t, toolpath.Options{})
}

func TestSettingsWords(t *testing.T) {
	cases{
		{"more words", "; type: Skirt/brim\nG1 X1 E1\n; type: ooze shield\nG1 X2 E2\n; type: Stützen\nG1 X3 E3\n", "1/0 T0 support 1 prime 1 purge 1 @1-1"},
		{"the built-in ones stay", "; type: flush\nG1 X1 E1\n; type: tower\nG1 X2 E2\n; type: support\nG1 X3 E3\n", "1/0 T0 support 1 prime 1 purge 1 @1-1"},
		{"several words in a row", "; type: outer ooze shields\nG1 X1 E1\n; type: ooze\nG1 X2 E2\n; type: shield ooze\nG1 X3 E3\n", "1/0 T0 part 2 purge 1 @1-1"},
	}.run(t, toolpath.Options{PurgeWords: []string{"Ooze Shield", ""}, PrimeWords: []string{"skirt"}, SupportWords: []string{"STÜTZ"}})
}

// The layers of DESIGN section 7. No outside source: the contract's own rule.
func TestLayers(t *testing.T) {
	cases{
		{"one by one", "M83\nG1 Z.2\nG1 X1 E1\nG1 Z.4\nG1 X2 E1\nG1 X3 E1\nT1\nG1 Z.6\nG1 X2 E1\n", "3/1 T0 part 3 @1-2 T1 part 1 @3-3"},
		{"a hop begins none", "M83\nG1 Z.2\nG1 X1 E1\nG1 Z5\nG1 Z.2\nG1 X2 E1\n", "1/0 T0 part 2 @1-1"},
		{"nor what stands still", "M83\nG1 Z.2\nG1 X1 E1\nG1 Z5\nG1 E1\nG1 Z.4\nG1 X2 E1\n", "2/0 T0 part 3 @1-2"},
		{"nor what only returns", "M83\nG1 Z.2\nG1 X1 E1\nG1 E-1\nG1 Z5\nG1 X2 E1\nG1 Z.4\nG1 X2.5 E1\n", "2/0 T0 part 2 @1-2"},
		{"standing still before any", "M83\nG1 Z50 E5\nG1 Z.2\nG1 X1 E1\nG1 Z.4\nG1 X2 E1\n", "2/0 T0 part 7 @1-2"},
		{"standing still alone", "G1 E5\n", "1/0 T0 part 5 @1-1"},
		{"no Z at all", "M83\nG1 X1 E1\nG1 X2 E1\n", "1/0 T0 part 2 @1-1"},
		{"downward", "M83\nG1 Z.4\nG1 X1 E1\nG1 Z.2\nG1 X2 E1\nG1 Z.4\nG1 X1 E1\nG1 Z.5\nG1 X2 E1\n", "2/0 T0 part 4 @1-2"},
		{"relative Z", "G91\nG1 Z.1\nG1 X1 E1\nG1 Z.2\nG1 X2 E1\nG1 Z-.3\nG1 Z.3\nG1 X1 E1\n", "2/0 T0 part 3 @1-2"},
		{"relative arrives where absolute was", "G1 Z.3\nG1 X1 E1\nG91\nG1 Z-.3\nG1 Z.1\nG1 Z.2\nG1 X2 E1\n", "1/0 T0 part 2 @1-1"},
		{"one object after another", "M83\nG1 Z.2\nG1 X1 E1\nG1 Z.4\nG1 X2 E1\nT1\nG1 Z.2\nG1 X1 E1\nG1 Z.4\nG1 X2 E1\n", "2/1 T0 part 2 @1-2 T1 part 2 @2-2"},
		{"inches", "G20 M83\nG1 Z.01\nG1 X1 E1\nG21\nG1 Z.254\nG1 X2 E.6\nG1 Z.2541\nG1 X3 E1\n", "2/0 T0 part 27 @1-2"},
		// Flat to 0.4, then 0.05 a move: 0.6 and 0.8 are reached at the 4th and 8th move.
		{"a spiral", "M83\nG1 Z.2\nG1 X1 E1\nG1 Z.4\nG1 X2 E1\n" + climb(.4, .05, 9), "4/0 T0 part 11 @1-4"},
		{"a flat layer after it", "M83\nG1 Z.2\nG1 X1 E1\nG1 Z.4\nG1 X2 E1\n" + climb(.4, .05, 9) + "G1 X1 E1\nG1 Z.9\nG1 X2 E1\n", "5/0 T0 part 13 @1-5"},
		// 0.07 a move from 0.2: 0.4 at the 3rd move (0.41), 0.6 at the 6th (0.62), 0.8 at the 9th (0.83).
		{"a spiral in odd steps", "M83\nG1 Z.2\nG1 X1 E1\n" + climb(.2, .07, 9), "4/0 T0 part 10 @1-4"},
		{"a spiral of one long move", "M83\nG1 Z.2\nG1 X1 E1\nG1 X2 Z1.25 E1\n", "6/0 T0 part 2 @1-6"}, // .4 .6 .8 1 1.2
		{"a spiral arc", "M83\nG1 Z.2\nG1 X1 E1\nG2 X2 Y2 I1 Z.4 E1\n", "2/0 T0 part 2 @1-2"},
		{"a spiral from the first move", "M83\n" + climb(0, .05, 9) + "G1 Z.6\nG1 X5 E1\n", "1/0 T0 part 10 @1-1"},
		{"a first layer at zero has no height", "M83\nG1 X1 E1\n" + climb(0, .05, 9) + "G1 Z.6\nG1 X5 E1\n", "2/0 T0 part 11 @1-2"},
	}.run(t, toolpath.Options{})
}

// climb writes so many moves of a spiral, each E1 relative.
func climb(z, step float64, moves int) string {
	var b strings.Builder
	for i := 1; i <= moves; i++ {
		fmt.Fprintf(&b, "G1 X%d Y5 Z%.3f E1\n", 10+i%2, z+float64(i)*step)
	}
	return b.String()
}

func TestRefused(t *testing.T) {
	cases{
		{"no number", "G1 X1 E1.2.3\n", `part.gcode:1: E "1.2.3" is not a number; write it as E1.5`},
		{"two signs", "G1 X1 E--1\n", `part.gcode:1: E "--1" is not a number; write it as E1.5`},
		{"a sign alone", "G1 X1 E-\n", `part.gcode:1: E "-" is not a number; write it as E1.5`},
		{"a comma", "\nG1 X1,5 E1\n", `part.gcode:2: X "1,5" is not a number; write it as X1.5`},
		{"missing", "G1 X1 E ; none\n", `part.gcode:1: E has no number; write it as E1.5`},
		{"letters", "G1 X1 EFIVE\n", `part.gcode:1: E has no number; write it as E1.5`},
		{"NaN", "G92 ENaN\n", `part.gcode:1: E has no number; write it as E1.5`},
		{"twice", "G1 E1 X1 E2\n", `part.gcode:1: E stands twice in one command; leave one out`},
		{"an expression", "G1 X[#1] E1\n", `part.gcode:1: X "[#1]" is not a number; write it as X1.5`},
		{"T1.5", "T1.5\n", `part.gcode:1: "T1.5" is no tool; tools are numbered from 0 to 254`},
		{"a tool in braces", "G1 X1 E1\nT{first}\n", `part.gcode:2: "T{first}" is no tool; tools are numbered from 0 to 254`},
		{"I of an arc", "G2 X1 I{i} E1\n", `part.gcode:1: I "{i}" is not a number; write it as I1.5`},
		{"R of an arc", "G3 X1 R5,5 E1\n", `part.gcode:1: R "5,5" is not a number; write it as R1.5`},
		{"S of M221", "M221 S{flow}\n", `part.gcode:1: S "{flow}" of M221 is no percentage; write a percentage, as M221 S95`},
		{"T of M221", "M221 T{t} S95\n", `part.gcode:1: T "{t}" of M221 is no tool; write the number of a tool, as T1`},
		{"beyond any spool", "G1 X1 E10000000.1\n", "part.gcode:1: E moves 10000 m of filament at once, more than any spool holds; look for a digit too many, or a G92 or M83 too few"},
		{"beyond any number", "G1 X1 E99999999999999999999\n", `part.gcode:1: E "99999999999999999999" is beyond every spool and every machine; look for a digit too many`},
		{"beyond in inches", "G20\nG1 X999999999 E1\n", "part.gcode:2: X is beyond every spool and every machine; look for a digit too many, or a G92 or M83 too few"},
		{"binary", "G1 X1 E1\nG1 X2 \x00\x01\n", "part.gcode: a binary file, not a sliced file; export the G-code as text"},
		{"cut inside a number", "G1 X1 E1\nG1 X2 E-", `part.gcode:2: E "-" is not a number; the file ends here and may be cut`},
		{"cut after a digit", "G1 X1 E1\nG1 X2 E2", "1/0 T0 part 2 @1-1\n2: the file ends in a move without a line end; it may be cut"},
		{"nothing", "G28\n", silent},
	}.run(t, toolpath.Options{})
}

// What is odd throughout a file is one note.
func TestNotesAreBounded(t *testing.T) {
	t.Parallel()
	f, err := toolpath.Read(strings.NewReader(strings.Repeat("T-1\nG1 X1 F{speed} E1\n", 1000)), "", toolpath.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, n := range f.Notes {
		got = append(got, n.In("a"))
	}
	want := []string{noSections, `a:1: "T-1" is a state of the machine, no tool; the one before stays (and 999 more lines)`,
		`a:2: "F{speed}" is no word with a number; it is passed over (and 999 more lines)`}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

const noSections = "a: no section comment was recognised, so support and prime can't be told from part; name the file's words for them with: tarebook define setting support_words WORDS"

func compressed(t testing.TB, text string) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := io.WriteString(z, text); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestStreams(t *testing.T) {
	t.Parallel()
	var text strings.Builder
	text.WriteString("M83\n")
	for i := range 20_000 {
		fmt.Fprintf(&text, "G1 X%d Y%d E.01 ; %d\r\n", i, i%7, i)
	}
	const want = "1/0 T0 part 200 @1-1"
	packed := compressed(t, "\ufeff"+text.String())
	stop := errors.New("the disk is gone")
	for _, c := range []struct {
		name string
		r    io.Reader
		want string
	}{
		{"plain", strings.NewReader(text.String()), want},
		{"in small pieces", iotest.HalfReader(strings.NewReader(text.String())), want},
		{"a byte at a time", iotest.OneByteReader(strings.NewReader(text.String())), want},
		{"the end with the data", iotest.DataErrReader(strings.NewReader(text.String())), want},
		{"gzip", bytes.NewReader(packed), want},
		{"two gzip members", bytes.NewReader(append(compressed(t, "M83\nG1 X1"), compressed(t, " E2\n")...)), "1/0 T0 part 2 @1-1"},
		{"gzip cut", bytes.NewReader(packed[:len(packed)/2]), "the compressed file is cut; copy it again"},
		{"gzip cut in its head", bytes.NewReader(packed[:5]), "part.gcode: the compressed file is cut; copy it again"},
		{"gzip damaged", bytes.NewReader(damaged(packed)), "the compressed file is damaged; copy it again"},
		{"a stream that fails", io.MultiReader(strings.NewReader("G1 X1 E1\n"), iotest.ErrReader(stop)), ": the disk is gone"},
	} {
		f, err := toolpath.Read(c.r, "part.gcode", toolpath.Options{})
		got := ""
		if err != nil {
			got = err.Error()
		} else {
			got = tell(f)
		}
		if !strings.HasSuffix(got, c.want) {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
	_, err := toolpath.Read(iotest.ErrReader(stop), "part.gcode", toolpath.Options{})
	if !errors.Is(err, stop) {
		t.Errorf("got %v, want it to wrap %v", err, stop)
	}
}

func damaged(b []byte) []byte {
	b = bytes.Clone(b)
	for i := len(b) / 2; i < len(b)/2+8; i++ {
		b[i] ^= 0x55
	}
	return b
}

func TestLongLines(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("x", 1<<20)
	for _, c := range []struct{ name, text, want string }{
		{"a comment", "G1 X1 E1 ; " + long + "\nG1 X2 E2\n(\n", "1/0 T0 part 2 @1-1\n3: a comment is not closed; it is taken to the end of the line"},
		{"CRLF after it", "G1 X1 E1 ; " + long + "\r\nG1 X2 E2\n(\n", "1/0 T0 part 2 @1-1\n3: a comment is not closed; it is taken to the end of the line"},
		{"CR after it", "G1 X1 E1 ; " + long + "\rG1 X2 E2\r(\r", "1/0 T0 part 2 @1-1\n3: a comment is not closed; it is taken to the end of the line"},
		{"a section", "; type: support " + long + "\nG1 X2 E2\n", "1/0 T0 support 2 @1-1"},
		{"at the end", "G1 X2 E2\n;" + long, "1/0 T0 part 2 @1-1"},
		{"blanks", "\nG1 X1" + strings.Repeat(" ", 1<<20) + "E1\n", "1/0 T0 part 1 @1-1"},
		{"zeros that fill up a file", "G1 X1 E1\n" + strings.Repeat("\x00", 1<<20), "1/0 T0 part 1 @1-1"},
		{"words", "\nG1 X1 E1" + strings.Repeat(" F1", 1<<20) + "\n", "part.gcode:2: the line is longer than 131072 bytes"},
		{"prose", "\n#" + long + "\nG1 X1 E1\n(\n", "1/0 T0 part 1 @1-1\n4: a comment is not closed; it is taken to the end of the line\n2: the line is longer than 131072 bytes and is left out"},
		{"digits", "G1 X1 E1" + strings.Repeat("0", 1000) + "\n", `part.gcode:1: E "100000000000000000000000"... is beyond every spool and every machine; look for a digit too many`},
		{"decimals", "M83\nG1 X1 E1." + strings.Repeat("3", 1000) + "\n", "1/0 T0 part 1.333333 @1-1"},
		{"zeros", "G1 X1 E" + strings.Repeat("0", 1000) + "1.5\n", "1/0 T0 part 1.5 @1-1"},
	} {
		if got := read(t, c.text, toolpath.Options{}); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}
