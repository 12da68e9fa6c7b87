package toolpath_test

import (
	"fmt"
	"strings"
	"testing"

	"tarebook/inventory/toolpath"
)

// The rules of section 7 of the contract that no outside source has; each case is the smallest file that shows one.

func TestToolWords(t *testing.T) {
	const state = " is a state of the machine, no tool; the one before stays"
	cases{
		{"T1000 is no tool", "M83\nT0\nT1000\nG1 X240 E15\nT0\nG1 X1 E1\n", "1/0 T0 part 16 @1-1\n3: \"T1000\"" + state},
		{"T255", "T255\nG1 X1 E1\n", "1/0 T0 part 1 @1-1\n1: \"T255\"" + state},
		{"T254", "T254\nG1 X1 E1\n", "1/0 T254 part 1 @1-1"},
		{"T of many digits", "T99999999999999999999999\nG1 X1 E1\n", "1/0 T0 part 1 @1-1\n1: \"T99999999999999999999999\"" + state},
		{"T-1", "T1\nT-1\nG1 X1 E1\n", "1/0 T1 part 1 @1-1\n2: \"T-1\"" + state},
		{"with words", "T1 P0\nG1 X1 E1\nT0 S1 ; back\nG1 X2 E2\n", "1/1 T0 part 1 @1-1 T1 part 1 @1-1"},
		{"names", "T0\nT1_PARK\nT?\nTx\nTc\nT1=2\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
		{"in a move", "G1 X1 T1 E1\n", "1/0 T0 part 1 @1-1\n1: \"T1\" stands among the words of a move; it is no tool change"},
		{"glued in a move", "G1X1T1E1\n", "1/0 T0 part 1 @1-1\n1: \"T1E1\" stands among the words of a move; it is no tool change"},
	}.run(t, toolpath.Options{})
}

func TestFlow(t *testing.T) {
	cases{
		{"of the tool in use", "M83\nM221 S50\nG1 Z.2\nG1 X1 E100\n", "1/0 T0 part 50 @1-1"},
		{"of another", "M83\nM221 T1 S50\nG1 X1 E100\nT1\nG1 X2 E100\n", "1/1 T0 part 100 @1-1 T1 part 50 @1-1"},
		{"it stays with its tool", "M83\nT1\nM221 S200\nT0\nG1 X1 E10\nT1\nG1 X2 E10\n", "1/1 T0 part 10 @1-1 T1 part 20 @1-1"},
		{"absolute", "G1 X1 E10\nM221 S50\nG1 X2 E30\nM221 S100\nG1 X3 E40\n", "1/0 T0 part 30 @1-1"},
		{"a return at another factor", "M83\nG1 X1 E10\nG1 E-4\nM221 S50\nG1 E4\nG1 X2 E10\n", "1/0 T0 part 13 @1-1"}, // 10 - 4 + 2 + 5
		{"without S", "M221\nM221 T0\nG1 X1 E10\n", "1/0 T0 part 10 @1-1"},
		{"of no tool", "M221 T255 S50\nG1 X1 E10\n", "1/0 T0 part 10 @1-1\n1: T255 of M221 is no tool; the command is passed over"},
		{"with M200", "M200 D1.75\nM221 S50\nG1 X1 E24.05281875\n", "1/0 T0 part 5 @1-1"},
		{"nothing", "M83\nM221 S0\nG1 X1 E10\nM221 S100\nG1 X2 E1\n", "1/0 T0 part 1 @1-1"},
	}.run(t, toolpath.Options{})
}

func TestLayerComments(t *testing.T) {
	const two = "M83\n%s\nG1 X1 E1\n%s\nG1 X2 E1\n"
	both := func(a, b string) string { return fmt.Sprintf(two, a, b) }
	cases{
		{"a line of priming", "M83\nG1 Z.2\nG1 X50 E9\n;LAYER:0\nG1 Z.3\nG1 X1 E1\n;LAYER:1\nG1 Z.5\nG1 X2 E1\n", "2/0 T0 part 11 @1-2"},
		{"priming high up", "M83\nG1 Z15\nG1 X50 E9\n; layer 1, z = 0.2\nG1 Z.2\nG1 X1 E1\n; layer 2, z = 0.4\nG1 Z.4\nG1 X2 E1\n", "2/0 T0 part 11 @1-2"},
		{"below zero", both(";LAYER:-1", ";LAYER:0"), "2/0 T0 part 2 @1-2"},
		{"the same again", both(";LAYER:3", ";LAYER:3"), "1/0 T0 part 2 @1-1"},
		{"from the start again", "M83\n;LAYER:0\nG1 X1 E1\n;LAYER:1\nG1 X2 E1\n;LAYER:0\nG1 X1 E1\n", "3/0 T0 part 3 @1-3"},
		{"nothing laid", both(";LAYER:0\n;LAYER:1", ";LAYER:2\n;LAYER:3"), "4/0 T0 part 2 @2-4"},
		{"after a move", "M83\n;LAYER:0\nG1 X1 E1 ;LAYER:1\nG1 X2 E1\n", "2/0 T0 part 2 @1-2"},
		{"in parentheses", both("(Layer 1)", "(<layer> 2 </layer>)"), "2/0 T0 part 2 @1-2"},
		{"forms", both("; Layer #1 of 2", ";Layer = 2: z 5"), "2/0 T0 part 2 @1-2"},
		{"a number by name", both("; layer num/total_layer_count: 1/2", "; Layer number: 2"), "2/0 T0 part 2 @1-2"},
		{"not by another name", both("; layer count: 1", "; layer total num: 2\n; layer_num_start = 1"), "1/0 T0 part 2 @1-1"},
		{"nor with more words", both("; layer num of retries: 1", "; layer numbers: 2\n; layer num = 3"), "1/0 T0 part 2 @1-1"},
		{"a number by name again", both("; layer num/total_layer_count: 1/2", "; layer num/total_layer_count: 1/2"), "1/0 T0 part 2 @1-1"},
		{"changes before a number by name", "M83\n; layer number: 5\nG1 X1 E1\n;LAYER_CHANGE\nG1 X2 E1\n; layer number: 6\nG1 X1 E1\n", "1/0 T0 part 3 @1-1"},
		{"one stray number before changes", "M83\n;LAYER_CHANGE\nG1 X1 E1\n;LAYER_CHANGE\nG1 X2 E1\n; layer 5\nG1 X1 E1\n;LAYER_CHANGE\nG1 X1 E1\n", "1/0 T0 part 4 @1-1"},
		{"heights are none", both("; layer 0.2", "; layer 0.4 mm"), "1/0 T0 part 2 @1-1"},
		{"settings are none", both("; layer_height = 2\n;LAYER_COUNT:2\n; layers 5\n; layer2", "; first layer 2\n; layer x 3\n; layer 2nd\n; layer"), "1/0 T0 part 2 @1-1"},
		{"changes", both(";LAYER_CHANGE", "; layer change 5.5"), "2/0 T0 part 2 @1-2"},
		{"settings are no changes", both("; layer_change_gcode = G1\n; layer_change = 5", "; a layer change\n; layer changes"), "1/0 T0 part 2 @1-1"},
		{"numbers before changes", "M83\n;LAYER_CHANGE\nG1 X1 E1\n;LAYER_CHANGE\n; layer 5\nG1 X2 E1\n;LAYER_CHANGE\nG1 X1 E1\n; layer 6\nG1 X2 E1\n", "2/0 T0 part 4 @1-2"},
		{"comments before Z", "M83\nG1 Z.2\nG1 X1 E1\nG1 Z.4\nG1 X2 E1\nT1\nG1 Z.6\nG1 X1 E1\n;LAYER_CHANGE\nG1 X2 E1\n;LAYER_CHANGE\nG1 X1 E1\n", "2/1 T0 part 2 @1-1 T1 part 3 @1-2"},
		{"a message", both("M117 layer 1", "M117 layer 2"), "1/0 T0 part 2 @1-1"},
		{"Z counts no more", "M83\n;LAYER:0\nG1 Z.2\nG1 X1 E1\nG1 Z.4\nG1 X2 E1\n", "1/0 T0 part 2 @1-1"},
		{"the machine's Z", "M83\nG1 Z5\nG92 Z0\nG1 Z.2\nG1 X1 E1\nG28\nG1 Z.4\nG1 X2 E1\n", "1/0 T0 part 2 @1-1"}, // 5.2, then 0.4
	}.run(t, toolpath.Options{})
}

func TestSectionForms(t *testing.T) {
	cases{
		{"no colon", "; feature support\nG1 X1 E1\n;FEATURE Prime tower\nG1 X2 E2\n; featured support\nG1 X3 E3\n", "1/0 T0 support 1 prime 2 @1-1"},
		{"only feature", "; type support\n; role support\n; feature\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
		{"quoted", "; 'Prime Pillar Path', 1\nG1 X1 E1\n; \"Support\" of 5\nG1 X2 E2\n; 'Crown'\nG1 X3 E3\n", "1/0 T0 part 1 support 1 prime 1 @1-1"},
		{"quoted whatever they are", "; \"support_x\": true,\nG1 X1 E1\n", "1/0 T0 support 1 @1-1"},
		{"a quote that is not closed", "; 'support\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
		{"quoted behind a key", "; feature 'support'\nG1 X1 E1\n; type: \"flush\"\nG1 X2 E2\n", "1/0 T0 support 1 purge 1 @1-1"},
		{"bare", ";support\nG1 X1 E1\n; Infill\nG1 X2 E2\n( flushing )\nG1 X3 E3\n;perimeters\nG1 X4 E4\n", "1/0 T0 part 2 support 1 purge 1 @1-1"},
		{"not bare", ";support 2\n; supported wall\n;WIPE_START\n;wipe-end\n; unsupported\nG1 X1 E1\n", "1/0 T0 part 1 @1-1"},
		{"bare after a move", "G1 X1 E1 ; support\nG1 X2 E2 ; brim\nG1 X3 E3\n", "1/0 T0 part 2 support 1 @1-1"},
	}.run(t, toolpath.Options{})
	t.Run("settings", func(t *testing.T) {
		if got := read(t, ";Stützwerk\nG1 X1 E1\n;ooze\nG1 X2 E2\n", toolpath.Options{SupportWords: []string{"stütz"}, PrimeWords: []string{"ooze shield"}}); got != "1/0 T0 support 2 @1-1" {
			t.Error(got)
		}
	})
}

// What no arithmetic needs is no reason to refuse a file.
func TestPassedOver(t *testing.T) {
	const want = "1/0 T0 part 2 @1-1"
	for _, line := range []string{"G1 X1 F{travel_speed} E2", "G1 X1 E2 F5400,000000", "G1 F{max speed * 60} X1 E2", "G1 X1 E2 2", "G1 X1 E2 SPEED=5", "G1 X1 E2 // E5 X2", "G1 X1 E2 # E5",
		"G1 X1 I{i} J,5 E2", "G1 X1 K{k} E2", "G2 X1 I5 K{k} E2", "G1 X1 F[speed]E2", "M204 S{accel} T\nG1 X1 E2", "M104 S{first}\nG1 X1 E2", "SET_VELOCITY_LIMIT ACCEL={a}\nG1 X1 E2", "M200 D{d}\nG1 X1 E2",
		"G70\nG1 X1 E2", "G1 X1 E2 \"G1 X5 E9\"", "g1x1e2f{a}", "//G1 X1 E9\nG1 X1 E2", "G1 X1 E2 *", "G1 X1 E2 N{n}", "M1006 A53 B9 M82 C5 M90\nM83\nG1 X1 E2", "M810 G1 X5 E9|G28\nG1 X1 E2"} {
		got := read(t, line+"\n", toolpath.Options{})
		if strings.Split(got, "\n")[0] != want {
			t.Errorf("%s: got %s, want %s", line, got, want)
		}
	}
}

func TestExponents(t *testing.T) {
	const note = "\n%d: %q has an exponent, which is read as such; not every machine does"
	cases{
		{"of E", "M83\nG1 X1 E2\nG1 X2 E1.5e-05\n", "1/0 T0 part 2.000015 @1-1" + fmt.Sprintf(note, 3, "E1.5e-05")},
		{"in upper case", "M83\nG1 X1 E2.5E+01\n", "1/0 T0 part 25 @1-1" + fmt.Sprintf(note, 2, "E2.5E+01")},
		{"of X", "M83\nG1 X1e-05 E1\n", "1/0 T0 part 1 @1-1" + fmt.Sprintf(note, 2, "X1e-05")},
		{"a word", "M83\nG1 X1 E3\nG1X2E-1\nG1X3E+2\ng1x4e-1\n", "1/0 T0 part 4 @1-1"},
		{"far below", "M83\nG1 X1 E1\nG1 X2 E1e-300\n", "1/0 T0 part 1 @1-1" + fmt.Sprintf(note, 3, "E1e-300")},
		{"far above", "M83\nG1 X1 E1e+300\n", `part.gcode:2: E "1e+300" is beyond every spool and every machine; look for a digit too many`},
	}.run(t, toolpath.Options{})
}

func TestRelativeE(t *testing.T) {
	cases{
		{"without M83", "G1 X1 E2\nG1 X2 E2\nG92 E0\nG1 X3 E1\n", "1/0 T0 part 5 @1-1"},
		{"in spite of M82", "M82\nG1 X1 E2\nG90\nG1 X2 E2\n", "1/0 T0 part 4 @1-1"},
	}.run(t, toolpath.Options{RelativeE: true})
}

func TestOwnRegisters(t *testing.T) {
	cases{
		{"each goes on from its own", "T0\nG1 X1 E100\nT1\nG1 X2 E50\nT0\nG1 X3 E110\nT1\nG1 X4 E60\n", "1/3 T0 part 110 @1-1 T1 part 60 @1-1"},
		{"G92 is the tool's own", "T0\nG1 X1 E100\nT1\nG92 E5\nG1 X2 E10\nT0\nG1 X3 E110\n", "1/2 T0 part 110 @1-1 T1 part 5 @1-1"},
	}.run(t, toolpath.Options{OwnRegisters: true})
}

func TestVolumetricOption(t *testing.T) {
	cases{
		{"from the start", "G1 X1 E24.05281875\n", "1/0 T0 part 10 @1-1"},
		{"until M200", "G1 X1 E24.05281875\nM200 D0\nG92 E0\nG1 X2 E1\n", "1/0 T0 part 11 @1-1"},
	}.run(t, toolpath.Options{Volumetric: 1_750_000_000})
}

// Stops at which a person may change the filament, and what lies before and behind each.
func TestPauses(t *testing.T) {
	t.Parallel()
	const text = "M600\nM83\n;LAYER:0\nG1 X1 Z.2 E10\nM600 ; another colour\nG1 E5\n;LAYER:1\nG1 X2 Z.4 E20\npause\nT1\nM25\nG1 X1 E1\nM0 click\nG1 X2 E1\nT0\nG1 X2.5 E3\nM601\n"
	f, err := toolpath.Read(strings.NewReader(text), "", toolpath.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range f.Pauses {
		got = append(got, fmt.Sprintf("%s line %d layer %d z %s T%d %s|%s", p.Word, p.Line, p.Layer, mm(p.Z), p.Tool, mm(p.Before.Total()), mm(f.Tool(p.Tool).Use.Less(p.Before).Total())))
	}
	want := "[M600 line 5 layer 1 z 0.2 T0 10|28 PAUSE line 9 layer 2 z 0.4 T0 35|3 M0 line 13 layer 2 z 0.4 T1 1|1]"
	if fmt.Sprint(got) != want {
		t.Errorf("got %s, want %s", got, want)
	}
	f, err = toolpath.Read(strings.NewReader("M83\nT0\nG1 X1 E1\nT1\nG1 X2 E1\nT0\nG1 E5\nG1 X1 E1\n"), "", toolpath.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for tool, want := range map[int]bool{0: false, 1: true} {
		if one := f.Tool(tool); one.NoPurge() != want {
			t.Errorf("tool %d without purge: got %v, want %v", tool, !want, want)
		}
	}
}
