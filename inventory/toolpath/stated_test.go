package toolpath_test

import (
	"fmt"
	"strings"
	"testing"

	"tarebook/inventory/toolpath"
)

// Comments that state a total, and what they state in mm. 2.405281875 mm3 are 1 mm of 1.75 mm filament (pi 1.75^2/4).
func TestStated(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		comment string
		want    string // mm
	}{
		{";Filament used: 1.25m", "1250"},
		{";Filament used: 1.25m, 0.5m", "1750"},
		{"; filament used [mm] = 1234.56", "1234.56"},
		{"; filament used [mm] = 123.4, 5.6", "129"},
		{"; filament used [mm] = 123.4,5.6", "129"},
		{"; filament used [mm] = 1,2,3", "6"},
		{"; filament length = 12.3 mm (0.03 cm3)", "12.3"},
		{";   Filament length: 1234.5 mm (1.23 m)", "1234.5"},
		{"; filament used = 12.3mm (0.03cm3), 4.7mm (0.01cm3)", "17"},
		{"; total filament length [mm] : 20,30", "20.3"}, // one comma between digits and no dot: a decimal comma
		{"; total filament length [mm] : 20.0,30.0", "50"},
		{"; filament used = 1234,56 mm", "1234.56"},
		{"; filament_used_mm: [123.4, 5.6]", "129"},
		{"; Filament used (m) = 1.5", "1500"},
		{";filament used: 1.2 m 3.6 g", "1200"},
		{"; \"filament_used\": \"1.2m\"", "1200"},
		{"; Filament used 12.5 mm", "12.5"},
		{"; filament used: T0: 12 mm T1: 3 mm", "15"},
		{"; filament used: 0: 12 mm, 1: 3 mm", "15"},
		{"; filament used T0 [mm] = 12\n; filament used T1 [mm] = 3\n; filament used T1 [mm] = 4", "16"},
		{"; Filament #1 used: 1.0m (2.4cm3)\n; Filament #2 used: 0.5m", "1500"},
		{"; filament used = 100 mm\n; total filament used = 120 mm\n; filament used = 110 mm", "120"},
		{";Filament used: 0m\n;Filament used: 2m\n;Filament used: 0m", "2000"},
		{"; filament used [cm3] = 2.405281875", "1000"},
		{"; filament used [cm^3] = 2.405281875\n; filament used [mm] = 999", "999"},
		{"; filament_diameter = 2.85\n; filament used [mm3] = 6379.396582", "1000"}, // pi 2.85^2/4 = 6.379396582
		{"( filament used = 3 m )", "3000"},
		{"; filament used [mm] = 1.5e+03", "1500"},
		{"; Filament used: 1.2 metres", "1200"},
		{"; FILAMENT USED = 12 MM", "12"},

		{"; filament used [g] = 3.7", "0"},
		{"; filament used = 12", "0"},
		{"; filament used = none", "0"},
		{"; filament cost = 1.2 m", "0"},
		{"; used = 1.2 m", "0"},
		{"; total filament volume [mm3] = 12", "0"},
		{"; filament_retract_length = 0.8 mm", "0"},
		{"; filament_unload_length = 80 mm", "0"},
		{"; total filament used for wipe tower [mm] = 12", "0"},
		{"; support filament used = 12 mm", "0"},
		{"; filament used = -", "0"},
		{"M117 filament used: 1.2m", "0"},
	} {
		for _, text := range []string{c.comment + "\nG1 X1 E1000\n", "G1 X1 E1000\n" + c.comment} {
			f, err := toolpath.Read(strings.NewReader(text), "", toolpath.Options{})
			if err != nil || mm(f.Stated) != c.want {
				t.Errorf("%s: got %s mm, %v, want %s", c.comment, mm(f.Stated), err, c.want)
			}
		}
	}
}

// notes returns the notes about how the file may be meant, less that of sections.
func notes(t *testing.T, text string, o toolpath.Options) string {
	t.Helper()
	f, err := toolpath.Read(strings.NewReader(text), "", o)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, n := range f.Notes {
		if n.Kind != toolpath.NoteNoSections {
			fmt.Fprintln(&b, n)
		}
	}
	return b.String()
}

func TestNotes(t *testing.T) {
	t.Parallel()
	relative := "G92 E0\n" + strings.Repeat("G1 X1 E2\nG1 X2 E1\nG1 X3 E3\n", 100)
	for _, c := range []struct {
		name, text string
		o          toolpath.Options
		want       string
	}{
		{"within 5 %", "; filament used = 100 mm\nG1 X1 E105\n", toolpath.Options{}, ""},
		{"more than 5 %", "; filament used = 100 mm\nG1 X1 E106\n", toolpath.Options{},
			"0.106 m were read, but the file states 0.100 m (line 1), 6 % apart; look for moves that start macros make, or for parts that the statement leaves out\n"},
		{"less", "; filament used = 100 mm\nG1 X1 E94\n", toolpath.Options{},
			"0.094 m were read, but the file states 0.100 m (line 1), 6 % apart; look for moves that start macros make, or for parts that the statement leaves out\n"},
		{"priming before the first layer", "; filament used = 100 mm\nG1 X1 E50\n;LAYER:0\nG1 X2 E150\n", toolpath.Options{}, ""},
		{"priming that is stated", "; filament used = 150 mm\nG1 X1 E50\n;LAYER:0\nG1 X2 E150\n", toolpath.Options{}, ""},
		{"relative E", "; filament used = 600 mm\n" + relative, toolpath.Options{},
			"0.003 m were read, but the file states 0.600 m (line 1), 100 % apart; as relative E it would be 0.600 m: read it with --relative-e\n" +
				"E is read as absolute, but 199 of 300 E words on the move fall; if a start macro sets E relative, read the file with --relative-e\n"},
		{"relative E that never falls", "; filament used = 600 mm\n" + strings.Repeat("G1 X1 E2\nG1 X2 E2\n", 150), toolpath.Options{},
			"0.002 m were read, but the file states 0.600 m (line 1), 100 % apart; as relative E it would be 0.600 m: read it with --relative-e\n"},
		{"read as relative", "; filament used = 600 mm\n" + relative, toolpath.Options{RelativeE: true}, ""},
		{"15 % fall", falling(15), toolpath.Options{}, ""},
		{"more than 15 % fall", falling(16), toolpath.Options{}, "E is read as absolute, but 16 of 100 E words on the move fall; if a start macro sets E relative, read the file with --relative-e\n"},
		{"own registers", "T0\nG1 X1 E100\nT1\nG1 X2 E50\nT0\nG1 X3 E150\nT1\nG1 X4 E60\n", toolpath.Options{},
			"after 2 of 2 tool changes E goes on from that tool's own last value; if the machine has an E register for each tool, read the file with --own-registers\n"},
		{"read by own registers", "T0\nG1 X1 E100\nT1\nG1 X2 E50\nT0\nG1 X3 E150\nT1\nG1 X4 E60\n", toolpath.Options{OwnRegisters: true}, ""},
		{"one register", "T0\nG1 X1 E100\nT1\nG1 X2 E150\nT0\nG1 X3 E250\nT1\nG1 X4 E260\n", toolpath.Options{}, ""},
		{"G92 after each change", "T0\nG92 E0\nG1 X1 E100\nT1\nG92 E0\nG1 X2 E50\nT0\nG92 E0\nG1 X3 E10\n", toolpath.Options{}, ""},
		{"mm3", "; filament used = 100 mm\nG1 X1 E240\n", toolpath.Options{},
			"0.240 m were read, but the file states 0.100 m (line 1), 140 % apart; E may count mm3: read it with --volumetric 1.75\n" +
				"E looks like mm3 of filament of 1.75 mm, without M200 in the file; if the machine is set to that, read it with --volumetric 1.75\n"},
		{"mm3 of thick filament", "; filament used [mm3] = 638\n; filament_diameter = 2.85\nG1 X1 E638\n", toolpath.Options{},
			"0.638 m were read, but the file states 0.100 m (line 1), 538 % apart; E may count mm3: read it with --volumetric 2.85\n" +
				"E looks like mm3 of filament of 2.85 mm, without M200 in the file; if the machine is set to that, read it with --volumetric 2.85\n"},
		{"another flow", "; filament used = 100 mm\nM221 S80\nG1 X1 E100\n", toolpath.Options{},
			"0.080 m were read, but the file states 0.100 m (line 1), 20 % apart; M221 changes what E words take, which the statement may leave out\n"},
		{"read as mm3", "; filament used = 100 mm\nG1 X1 E240\n", toolpath.Options{Volumetric: 1_750_000_000}, ""},
		{"M108 as the change", "M108 T1\nG1 X1 E1\nM108 T0\nM108\n", toolpath.Options{}, "line 1: M108 T1 names a tool, which is not read as a change of tool: only T words are; its use stands on the tool before (and one more line)\n"},
		{"mixing", "M163 S0 P0.5\nM164 S1\nG1 X1 E1\n", toolpath.Options{}, "line 1: M163 mixes filaments in one tool, which is not read: the tool's whole use stands on the tool named by T (and one more line)\n"},
		{"M567", "M567 P0 E0.5:0.5\nG1 X1 E1\n", toolpath.Options{}, "line 1: M567 mixes filaments in one tool, which is not read: the tool's whole use stands on the tool named by T\n"},
		{"zeros within", "G1 X1 E1\n" + strings.Repeat(";\n", 300) + "\x00\nG1 X2 E2\n", toolpath.Options{}, "line 1: zero bytes from about here on, which are read as blanks; the file may be damaged\n"},
		{"words without a command", "X1 E5\nG1 X1 E1\n", toolpath.Options{}, "line 1: \"X1\" comes before any of G0 to G3; the line is left out\n"},
		{"inches and mm3", "G20\nM200 D1.75\nG1 X1 E1\n", toolpath.Options{}, "line 2: M200 D is read in mm, though G20 has set inches\n"},
		{"an unknown unit", "G71\nG1 X1 E1\n", toolpath.Options{}, "line 1: G71 is passed over; units are G20 for inches and G21 for mm\n"},
		{"no diameter", "M200 D-1\nG1 X1 E1\n", toolpath.Options{}, "line 1: M200 D \"-1\" is no diameter, so it changes nothing; write it in mm, as M200 D1.75\n"},
		{"more pauses than are kept", "G1 X1 E1\n" + strings.Repeat("M600\n", 1001) + "G1 X2 E2\n", toolpath.Options{}, "line 1002: more than 1000 pauses; the others are left out\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := notes(t, c.text, c.o); got != c.want {
				t.Errorf("got\n%swant\n%s", got, c.want)
			}
		})
	}
}

// falling writes 100 moves with absolute E, of which so many fall.
func falling(n int) string {
	return strings.Repeat("G1 X1 E1\nG1 X2 E0\n", n) + strings.Repeat("G1 X1 E1\nG1 X2 E1\n", 50-n)
}

// No section comment: all is part, and that is said.
func TestNoSections(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]bool{"G1 X1 E1\n": true, "; type: wall\nG1 X1 E1\n": false, "; type of wall\nG1 X1 E1\n": true, "G28\n": false} {
		f, err := toolpath.Read(strings.NewReader(text), "", toolpath.Options{})
		if err != nil {
			t.Fatal(err)
		}
		got := false
		for _, n := range f.Notes {
			got = got || n.Kind == toolpath.NoteNoSections
		}
		if got != want {
			t.Errorf("%q: got %v, want %v", text, got, want)
		}
	}
}
