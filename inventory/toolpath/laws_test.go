package toolpath_test

import (
	"bytes"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"

	"tarebook/inventory/toolpath"
)

// drawFile draws a sliced file of few tools and heights, so that changes, returns and repeated heights are common. With odd,
// it also draws what makes a file hard to read: blanks, comments, numbers of lines, messages.
func drawFile(t *rapid.T, odd bool) string {
	var b strings.Builder
	pick := func(name string, values ...string) string { return rapid.SampledFrom(values).Draw(t, name) }
	oneIn := func(n int) bool { return rapid.IntRange(1, n).Draw(t, "one in") == 1 }
	decimal := func(low, high, decimals int) string {
		v := rapid.IntRange(low, high).Draw(t, "decimal")
		text := fmt.Sprintf("%.*f", decimals, float64(v)/math.Pow10(decimals))
		if odd && decimals > 0 && oneIn(3) { // .5 for 0.500, +1 for 1
			text = strings.TrimRight(text, "0")
			text = strings.Replace(text, "0.", ".", 1)
			if text == "." || text == "-." {
				text = "0"
			}
			if text[0] != '-' && oneIn(2) {
				text = "+" + text
			}
		}
		return text
	}
	z, spiral := 20, false
	layered, changed := oneIn(4), oneIn(4)
	for range rapid.IntRange(1, 60).Draw(t, "lines") {
		var line string
		switch rapid.IntRange(0, 29).Draw(t, "line") {
		case 0:
			line = pick("mode", "M82", "M83", "G90", "G91", "M221 S50", "M221 T1 S120", "M221 S100")
		case 1:
			line = pick("set", "G92 E0", "G92", "G92 E5", "G92 X0 E-1.5", "G92 X5 Y5", "G92 Z1", "G28", "G28 X Z0")
		case 2, 3:
			line = pick("tool", "T0", "T1", "T2", "T3", "T0", "T1", "T2", "T1000", "T-1")
		case 4:
			line = pick("rare", "M600", "G20", "G21", "G21", "M200 D1.75", "M200 D0", "M200 D0", "M200 D2.85", "M200")
		case 5, 6:
			line = pick("sign", ";", "; ") + pick("key", "type", "TYPE", "feature", "Role", "section", "kind", "the type") + pick("is", ":", "=", " : ", " ") +
				pick("words", "support", "Prime Tower", "flushing", "wall", "a wipe of support", "unsupported", "")
			if oneIn(3) {
				line = pick("short", "; 'Prime Pillar', 1", ";support", "; infill", "(raft)", ";wipe_start", "; \"part\"", "; skirts", "; 'open", "; flush it")
			}
		case 7:
			line = pick("odd", "M104 T1 S200", "M117 text T5 E3", "G10", "G11", "G28", "G4 P5", "(T1 E5)", "; T2", "", "M106 S255", "T0_PARK", "M117 ; layer 9")
			if layered && oneIn(2) {
				line = pick("layer", ";LAYER:", "; layer ", "( Layer #", "; == layer == ") + fmt.Sprint(rapid.IntRange(-1, 4).Draw(t, "number")) + pick("after", "", ", z = 0.2", " of 9", ".5", "th")
				if line[0] == '(' {
					line += ")"
				}
			}
			if changed && oneIn(2) {
				line = pick("change", ";LAYER_CHANGE", "; layer change z 5", "; layer_change_gcode = x", "; a layer change")
			}
		case 8:
			z = rapid.IntRange(1, 30).Draw(t, "z")
			line = fmt.Sprintf("G1 Z%.2f", float64(z)*0.05)
		case 9, 10:
			z += rapid.IntRange(1, 4).Draw(t, "dz")
			line = fmt.Sprintf("G0 Z%.2f F600", float64(z)*0.05)
		case 11:
			spiral = !spiral
		case 12, 13, 14, 15: // a retraction, a return or a purge
			line = "G1 E" + decimal(-4000, 8000, 3)
		case 16:
			line = fmt.Sprintf("G%s X%s Y%s I%s J%s E%s", pick("arc", "2", "3"), decimal(0, 3, 0), decimal(0, 3, 0), decimal(-2, 2, 0), decimal(-2, 2, 0), decimal(0, 500000, 5))
			if oneIn(2) {
				line = fmt.Sprintf("G%s X%s Y%s R%s E%s", pick("arc", "2", "3"), decimal(0, 3, 0), decimal(0, 3, 0), decimal(-3, 3, 0), decimal(0, 500000, 5))
			}
		default:
			line = fmt.Sprintf("G%s X%s Y%s", pick("move", "0", "1", "1", "01"), decimal(0, 3, 0), decimal(0, 3, 0))
			if spiral {
				z += rapid.IntRange(0, 3).Draw(t, "climb")
				line += fmt.Sprintf(" Z%.2f", float64(z)*0.05)
			}
			if !oneIn(5) {
				line += " E" + decimal(-100000, 600000, 5)
			}
		}
		if odd {
			if line != "" && strings.Contains("GT", line[:1]) {
				if oneIn(6) {
					line = strings.ToLower(line)
				}
				if oneIn(6) {
					line = strings.ReplaceAll(line, " ", pick("blank", "", "\t", "  ", " (E9) "))
				}
				if oneIn(8) {
					line = pick("mode before", "G90 ", "M83 ", "G91", "G21 ") + line
				}
				if oneIn(6) {
					line = fmt.Sprintf("N%d %s*%d", rapid.IntRange(0, 99).Draw(t, "n"), line, rapid.IntRange(0, 255).Draw(t, "sum"))
				}
				if oneIn(6) {
					line += pick("comment", " ; E9", ";type:support", " (section = prime)", "; type: wall", " ; \xff\xfe")
				}
			}
			line += pick("end", "\n", "\n", "\r\n", "\r")
		} else {
			line += "\n"
		}
		b.WriteString(line)
	}
	return b.String()
}

func near(a toolpath.Length, b float64) bool { return math.Abs(a.MM()-b) < 1e-6 }

// The reader says what the reference says.
func TestReference(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := drawFile(t, true)
		var heights []toolpath.Layer
		f, err := toolpath.Read(strings.NewReader(text), "", toolpath.Options{Sequence: true, Layer: func(l toolpath.Layer) error {
			heights = append(heights, l)
			return nil
		}})
		if err != nil {
			t.Fatalf("%q\n%v", text, err)
		}
		ref := refer(text)
		if f.Layers != ref.layers || len(f.Tools) != len(ref.tools) {
			t.Fatalf("%q\ngot %s\nwant %d layers, %d tools", text, tell(f), ref.layers, len(ref.tools))
		}
		for _, tool := range f.Tools {
			want := ref.tools[tool.Tool]
			if want != nil && !want.agrees(tool.Box) {
				t.Fatalf("%q\ngot %s in %+v\nwant %v", text, tell(f), tool.Box, want.box)
			}
			if want == nil || want.first != tool.FirstLayer || want.last != tool.LastLayer {
				t.Fatalf("%q\ngot %s\nwant tool %d in layers %+v", text, tell(f), tool.Tool, want)
			}
			for _, c := range toolpath.Classes {
				if !near(tool.Use[c], want.classes[c.String()]) {
					t.Fatalf("%q\ngot %s\nwant tool %d %s %v", text, tell(f), tool.Tool, c, want.classes[c.String()])
				}
			}
		}
		var sequence []int
		for _, tool := range f.Sequence {
			sequence = append(sequence, int(tool))
		}
		if !slices.Equal(sequence, ref.sequence) || f.Changes != max(len(ref.sequence)-1, 0) {
			t.Fatalf("%q\ngot %d, %d changes\nwant %d", text, sequence, f.Changes, ref.sequence)
		}
		if f.ByComments != ref.comments {
			t.Fatalf("%q\nlayers by comments: %v, want %v", text, f.ByComments, ref.comments)
		}
		for _, l := range heights {
			want := 0.0
			if len(ref.heights) > 0 {
				want = ref.heights[l.Layer-1]
			}
			if ref.comments { // such a layer has no height of its own
				continue
			}
			if !near(l.Z, want) {
				t.Fatalf("%q\nlayer %d at %v, want %v", text, l.Layer, l.Z.MM(), want)
			}
		}
	})
}

// conserved checks that what layers tell adds up to what tools use, exactly, and that a stop anywhere parts a file in two.
func conserved(t interface{ Fatalf(string, ...any) }, text string, o toolpath.Options) {
	tools := map[int]toolpath.Tool{}
	last := 0
	var after []toolpath.Use // use of all tools up to each layer
	var sum toolpath.Use
	o.Sequence = true
	o.Layer = func(l toolpath.Layer) error {
		if l.Layer <= last || len(l.Tools) == 0 {
			t.Fatalf("%q\nlayer %d of %d tools follows %d", text, l.Layer, len(l.Tools), last)
		}
		last = l.Layer
		for _, tool := range l.Tools {
			all := tools[tool.Tool]
			all.Tool = tool.Tool
			if all.FirstLayer == 0 {
				all.FirstLayer = l.Layer
			}
			all.LastLayer = l.Layer
			for c := range tool.Use {
				all.Use[c] += tool.Use[c]
				sum[c] += tool.Use[c]
			}
			tools[tool.Tool] = all
		}
		if len(after) < 50 && l.Layer == len(after)+1 {
			after = append(after, sum)
		}
		return nil
	}
	f, err := toolpath.Read(strings.NewReader(text), "", o)
	if err != nil {
		return
	}
	brought := map[int]int{} // changes, by the sequence
	for i, tool := range f.Sequence {
		if i > 0 {
			brought[int(tool)]++
		}
	}
	for n, tool := range tools {
		tool.Changes = brought[n]
		tools[n] = tool
	}
	if len(tools) != len(f.Tools) || last > f.Layers || last < f.Layers && !f.ByComments || sum != f.Use() || f.Changes != max(len(f.Sequence)-1, 0) {
		t.Fatalf("%q\n%s, but layers tell %v", text, tell(f), tools)
	}
	for _, tool := range f.Tools {
		told := f.Tool(tool.Tool)
		tool.Box, told.Box = nil, nil
		if tools[tool.Tool] != tool || told != tool || tool.Total() <= 0 || min(tool.Use[0], tool.Use[1], tool.Use[2], tool.Use[3]) < 0 {
			t.Fatalf("%q\n%s, but layers tell %v", text, tell(f), tools)
		}
	}
	o.Layer = nil
	for n, want := range after {
		o.Until = toolpath.AfterLayer(n + 1)
		part, err := toolpath.Read(strings.NewReader(text), "", o)
		if err != nil || part.Use() != want {
			t.Fatalf("%q\nup to layer %d: %v, %v, want %v", text, n+1, part, err, want)
		}
	}
	all := f.Use().Total()
	for _, share := range []toolpath.Length{0, all / 3, max(all-1, 0), all} {
		o.Until = toolpath.AtTotal(share)
		part, err := toolpath.Read(strings.NewReader(text), "", o)
		if err != nil || part.Use().Total() != share || (part.Stopped == nil) != (share == all) {
			t.Fatalf("%q\nup to %d of %d: %v, %v", text, share, all, part, err)
		}
	}
	for _, tool := range f.Tools {
		p, err := findOne(strings.NewReader(text), "", o, tool.Tool, tool.Total()-1)
		if err != nil || p == nil || p.Layer != tool.LastLayer || p.Tool != tool.Tool {
			t.Fatalf("%q\ntool %d ends at %+v, %v", text, tool.Tool, p, err)
		}
	}
}

func TestConservation(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) { conserved(t, drawFile(t, true), toolpath.Options{}) })
}

// Where the blocks of reading are cut, and whether the file is compressed, makes no difference.
func TestBlocks(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := drawFile(t, true)
		want, err := toolpath.Read(strings.NewReader(text), "", toolpath.Options{})
		if err != nil {
			t.Fatal(err)
		}
		size := rapid.IntRange(200, 600).Draw(t, "size") // no line is longer
		got, err := toolpath.ReadBlocks(iotest.HalfReader(strings.NewReader(text)), "", toolpath.Options{}, size)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%q\nin blocks of %d: %v, %v, want %v", text, size, got, err, want)
		}
	})
}

// Absolute E rewritten as relative changes nothing.
func TestAbsoluteAsRelative(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var absolute, relative strings.Builder
		relative.WriteString("M83\n")
		both := func(format string, args ...any) {
			fmt.Fprintf(&absolute, format+"\n", args...)
			fmt.Fprintf(&relative, format+"\n", args...)
		}
		register := 0
		for range rapid.IntRange(1, 60).Draw(t, "lines") {
			switch rapid.IntRange(0, 9).Draw(t, "line") {
			case 0:
				both("T%d", rapid.IntRange(0, 2).Draw(t, "tool"))
			case 1:
				both("G1 Z%.2f", float64(rapid.IntRange(1, 9).Draw(t, "z"))*0.2)
			case 2:
				register = rapid.IntRange(-5, 5).Draw(t, "register") * 100_000
				both("G92 E%.5f", float64(register)/1e5)
			case 3:
				both("; type: %s", rapid.SampledFrom([]string{"support", "wipe", "wall"}).Draw(t, "section"))
			default:
				e := rapid.IntRange(-300_000, 500_000).Draw(t, "e")
				register += e
				move := ""
				if rapid.Bool().Draw(t, "moving") {
					move = fmt.Sprintf(" X%d", rapid.IntRange(0, 3).Draw(t, "x"))
				}
				fmt.Fprintf(&absolute, "G1%s E%.5f\n", move, float64(register)/1e5)
				fmt.Fprintf(&relative, "G1%s E%.5f\n", move, float64(e)/1e5)
			}
		}
		if a, r := read(t, absolute.String(), toolpath.Options{}), read(t, relative.String(), toolpath.Options{}); strings.Split(a, "\n")[0] != strings.Split(r, "\n")[0] {
			t.Fatalf("%s\nabsolute %s\nrelative %s", absolute.String(), a, r)
		}
	})
}

// A hundred million millimetres in small moves, in decimals that no float holds, are counted to a millionth.
func TestNoDrift(t *testing.T) {
	t.Parallel()
	moves := 1_000_000
	if testing.Short() {
		moves = 10_000
	}
	for _, c := range []struct {
		line string
		each float64 // mm
	}{
		{"G1 X1 E100.1\nG1 X0 E-.1\n", 100},
		{"G1 X1 E0.3333333333333333\nG1 X2 E0.6666666666666667\n", 1},
	} {
		f, err := toolpath.Read(strings.NewReader("M83\n"+strings.Repeat(c.line, moves)), "", toolpath.Options{})
		if err != nil {
			t.Fatal(err)
		}
		want := c.each * float64(moves)
		if c.each == 100 {
			want += 0.1 // the last retraction is used no less
		}
		if got := f.Use().Total(); !near(got, want) {
			t.Errorf("%q: got %v mm, want %v", c.line, got.MM(), want)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, text := range []string{
		"", "G1 X1 E2\n", "M83\nG1X10Y5E.3\nT1\nG1 E20\nG1 X1 E1", "; type: support\nG1 X1 E1 (role=wipe)\n", "G20\nG92\nM200 D1.75\nG2 I1 E5\n", "N3 T0*57\r\nG91 G1 Z.2 X1 E1\r",
		"G1 E1.2.3\n", "T1000\n", "G1 X1 E99999999999\n", "\x1f\x8b\x08", "\ufeffG1\x00", "M117 T5 E3\nM104 T1\n", "G1 Z.2 X1 E1\nG1 Z.4 X2 E1\nG1 X1 Z1e9 E1\n", "M83\nG1 X1 E.0000000001\n",
		"G1 X1 Z.2\nG1 X2 E1\nG1 X3 Z90000000 E2\n", "G20 M83\nG1 X1 E-0.00000000049999\nT1 G1 E.3\n", ";LAYER:0\nG1 X1 E1\n;LAYER_CHANGE\nG1 X2 Z1 E2\n; layer 1\nG1 X3 E3\n", "; feature support\nM221 S50 T1\nG3 X1 Y1 R1 E2\nM600\n;'a'\n;skirt\nG28 X\n",
		"; filament used = 1.5m (3 cm3), 2,5 mm\n;filament length T0: 3mm\n; filament_diameter = 1.75\nM108 T1\nG1 X1e-5 F{a} E2\n", "(", "\"", "G1 X1 E1 ;" + strings.Repeat("x", 300) + "\n",
	} {
		f.Add([]byte(text))
	}
	f.Add(compressed(f, tower()))
	f.Fuzz(func(t *testing.T, data []byte) {
		whole, err := toolpath.Read(bytes.NewReader(data), "x", toolpath.Options{})
		if err != nil {
			if whole != nil || !strings.HasPrefix(err.Error(), "x:") {
				t.Fatalf("%v and %v", whole, err)
			}
		}
		toolpath.ReadBlocks(iotest.HalfReader(bytes.NewReader(data)), "x", toolpath.Options{}, 16)
		conserved(t, string(data), toolpath.Options{PurgeWords: []string{"x"}})
	})
}
