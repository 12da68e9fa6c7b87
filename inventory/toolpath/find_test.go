package toolpath_test

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"tarebook/inventory/toolpath"
)

// tower builds 10 layers of 0.2 mm: in each, tool 0 lays 5 moves of 2 mm and tool 1 purges 3 mm and lays 1 mm. A layer is 12
// lines and the head is 2, so move k of layer n stands on line 2 + 12 (n - 1) + 2 + k.
func tower() string {
	var b strings.Builder
	b.WriteString("M83\n; type: wall\n")
	for n := 1; n <= 10; n++ {
		fmt.Fprintf(&b, "G1 Z%.1f\nT0\n", float64(n)*0.2)
		for k := range 5 {
			fmt.Fprintf(&b, "G1 X%d Y%d E2\n", k+1, n)
		}
		b.WriteString("T1\nG1 E-1\nG1 E4\nG1 X1 Y1 E1\n; next\n")
	}
	return b.String()
}

func TestFind(t *testing.T) {
	t.Parallel()
	const whole = "10/19 T0 part 100 @1-10 T1 part 10 purge 30 @1-10"
	if got := read(t, tower(), toolpath.Options{}); got != whole {
		t.Fatalf("got %s, want %s", got, whole)
	}
	for _, c := range []struct {
		tool       int
		mm         float64
		line, laid int
		z          float64
	}{
		{0, 37, 2 + 12*3 + 2 + 4, 4, .8},     // 30 in three layers, 36 before the fourth move of the next
		{0, 36, 2 + 12*3 + 2 + 4, 4, .8},     // just 36 suffice up to that move
		{0, 0, 2 + 2 + 1, 1, .2},             // an empty spool stops at its first move
		{0, 99.999, 2 + 12*9 + 2 + 5, 10, 2}, // the last one
		{1, 38, 2 + 12*9 + 2 + 5 + 3, 10, 2}, // 36 in nine layers, then 3 at the standstill
		{1, 39, 2 + 12*9 + 2 + 5 + 4, 10, 2},
	} {
		p, err := findOne(strings.NewReader(tower()), "", toolpath.Options{}, c.tool, toolpath.Length(c.mm*1e9))
		if err != nil {
			t.Fatal(err)
		}
		want := toolpath.Point{Line: c.line, Layer: c.laid, Z: toolpath.Length(c.z * 1e9), Tool: c.tool}
		if p == nil || *p != want {
			t.Errorf("tool %d, %v mm: got %+v, want %+v", c.tool, c.mm, p, want)
		}
	}
	for tool, mm := range map[int]toolpath.Length{0: 100, 1: 40, 2: 0} {
		p, err := findOne(strings.NewReader(tower()), "", toolpath.Options{}, tool, mm*toolpath.MM)
		if p != nil || err != nil {
			t.Errorf("tool %d, %d mm: got %+v, %v, want none", tool, mm, p, err)
		}
	}
}

func TestUntil(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		until toolpath.Stop
		want  string
	}{
		{toolpath.AfterLayer(0), "0/0"},
		{toolpath.AfterLayer(1), "1/1 T0 part 10 @1-1 T1 part 1 purge 3 @1-1"},
		{toolpath.AfterLayer(4), "4/7 T0 part 40 @1-4 T1 part 4 purge 12 @1-4"},
		{toolpath.AfterLayer(10), "10/19 T0 part 100 @1-10 T1 part 10 purge 30 @1-10"},
		{toolpath.AtTool(0, 37*toolpath.MM), "4/6 T0 part 37 @1-4 T1 part 3 purge 9 @1-3"},
		{toolpath.AtTotal(70 * toolpath.MM), "5/9 T0 part 50 @1-5 T1 part 5 purge 15 @1-5"}, // half of 140: five whole layers
		{toolpath.AtTotal(0), "0/0"},
		{toolpath.AtTotal(140 * toolpath.MM), "10/19 T0 part 100 @1-10 T1 part 10 purge 30 @1-10"},
	} {
		if got := read(t, tower(), toolpath.Options{Until: c.until}); got != c.want {
			t.Errorf("%+v: got %s, want %s", c.until, got, c.want)
		}
	}
}

// Layers are told in order, each with its height and its first line; what is extruded before any is the first's.
func TestLayerByLayer(t *testing.T) {
	t.Parallel()
	text := "M83\nT1\nG1 E5\nG1 Z.2\nG1 X1 E1\nT0\nG1 X2 E2\nG1 Z.5\nG1 X1 E3\n"
	var got strings.Builder
	tellLayer := func(l toolpath.Layer) error {
		fmt.Fprintf(&got, "%d z %s line %d:", l.Layer, mm(l.Z), l.Line)
		for _, tool := range l.Tools {
			fmt.Fprintf(&got, " T%d %s", tool.Tool, mm(tool.Total()))
		}
		got.WriteString("; ")
		return nil
	}
	read(t, text, toolpath.Options{Layer: tellLayer})
	if want := "1 z 0.2 line 5: T0 2 T1 6; 2 z 0.5 line 9: T0 3; "; got.String() != want {
		t.Errorf("got %s, want %s", got.String(), want)
	}
	stop := errors.New("nobody reads on")
	_, err := toolpath.Read(strings.NewReader(text), "", toolpath.Options{Layer: func(toolpath.Layer) error { return stop }})
	if err != stop {
		t.Errorf("got %v, want %v", err, stop)
	}
}

// Only use makes a sequence: tool 3 is called and uses nothing, tool 1 is called twice in a row.
func TestSequence(t *testing.T) {
	t.Parallel()
	const text = "T3\nT0\nM83\nG1 X1 E1\nT1\nG1 X2 E1\nT3\nT1\nG1 X3 E1\nT0\nG1 E-1\nT2\nG1 X3 E1\nT0\nG1 E1\n"
	f, err := toolpath.Read(strings.NewReader(text), "", toolpath.Options{Sequence: true})
	if err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprint(f.Sequence, f.Changes); got != "[0 1 2] 2" {
		t.Errorf("got %s", got)
	}
}

// Several places in one reading. A comment that shows late that layers by Z were none sets them right.
// findOne is Find for one length.
func findOne(r io.Reader, name string, o toolpath.Options, tool int, length toolpath.Length) (*toolpath.Point, error) {
	points, err := toolpath.Find(r, name, o, tool, length)
	if err != nil {
		return nil, err
	}
	return points[0], nil
}

func TestFindSeveral(t *testing.T) {
	t.Parallel()
	points, err := toolpath.Find(strings.NewReader(tower()), "", toolpath.Options{}, 0, 37*toolpath.MM, 0, 99*toolpath.MM, 100*toolpath.MM)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range points {
		if p == nil {
			got = append(got, "none")
			continue
		}
		got = append(got, fmt.Sprintf("line %d layer %d z %s", p.Line, p.Layer, mm(p.Z)))
	}
	if want := "[line 44 layer 4 z 0.8 line 5 layer 1 z 0.2 line 117 layer 10 z 2 none]"; fmt.Sprint(got) != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// Where comments begin layers, late or from the start, a stop and a place are told by them.
func TestStopsByComments(t *testing.T) {
	t.Parallel()
	const early = "M83\n;LAYER:0\nG1 Z.2\nG1 X1 E1\n;LAYER:1\nG1 Z.4\nG1 X2 E2\n;LAYER:2\nG1 X1 E4\n"
	const late = "M83\nG1 Z.2\nG1 X1 E1\nG1 Z.4\nG1 X2 E2\nG1 Z.6\nG1 X1 E4\n;LAYER:0\nG1 X2 E8\n;LAYER:1\nG1 X1 E16\n"
	const never = "M83\nG1 Z.2\nG1 X1 E1\nG1 Z.4\nG1 X2 E2\nG1 Z.6\nG1 X1 E4\nG1 X{bad} E1\n" // a fault behind the stop doesn't matter
	for _, c := range []struct {
		name, text string
		until      toolpath.Stop
		want       string
	}{
		{"after a numbered layer", early, toolpath.AfterLayer(1), "1/0 T0 part 1 @1-1 line 5 layer 1 z 0.2"},
		{"after the second", early, toolpath.AfterLayer(2), "2/0 T0 part 3 @1-2 line 8 layer 2 z 0.4"},
		{"at a length", early, toolpath.AtTotal(2 * toolpath.MM), "2/0 T0 part 2 @1-2 line 7 layer 2 z 0.4"},
		{"layers by Z were none", late, toolpath.AfterLayer(1), "1/0 T0 part 15 @1-1 line 10 layer 1 z 0.6"},
		{"nor was that of a length", late, toolpath.AtTotal(2 * toolpath.MM), "1/0 T0 part 2 @1-1 line 5 layer 1 z 0.4"},
		{"by Z", never, toolpath.AfterLayer(2), "2/0 T0 part 3 @1-2 line 7 layer 2 z 0.4"},
		{"a length by Z", never, toolpath.AtTool(0, 6*toolpath.MM), "3/0 T0 part 6 @1-3 line 7 layer 3 z 0.6"},
	} {
		f, err := toolpath.Read(strings.NewReader(c.text), "", toolpath.Options{Until: c.until})
		if err != nil || f.Stopped == nil {
			t.Errorf("%s: %v, %v", c.name, f, err)
			continue
		}
		got, _, _ := strings.Cut(tell(f), "\n")
		if got += fmt.Sprintf(" line %d layer %d z %s", f.Stopped.Line, f.Stopped.Layer, mm(f.Stopped.Z)); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
	points, err := toolpath.Find(strings.NewReader(late), "", toolpath.Options{}, 0, 2*toolpath.MM, 20*toolpath.MM)
	if err != nil || points[0].Layer != 1 || points[1].Layer != 2 || points[1].Line != 11 {
		t.Errorf("got %+v and %+v, %v", points[0], points[1], err)
	}
}
