package ledger

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Whatever order of tools a file has, it is folded and unfolded to the same.
func TestSequencesUnfoldToWhatWasRead(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var tools []uint8
		for range rapid.IntRange(0, 8).Draw(t, "parts") {
			part := rapid.SliceOfN(rapid.Uint8Range(0, uint8(rapid.SampledFrom([]int{1, 3, 254}).Draw(t, "most"))), 1, 12).Draw(t, "part")
			for range rapid.IntRange(1, 9).Draw(t, "times") {
				tools = append(tools, part...)
			}
		}
		tools = slices.Compact(tools)
		folded := FoldSequence(tools)
		var read Sequence
		if err := read.UnmarshalCSV(string(folded)); err != nil {
			t.Fatalf("%q: %v", folded, err)
		}
		if got := read.Unfold(); !slices.Equal(got, tools) {
			t.Fatalf("%q: got %v, want %v", folded, got, tools)
		}
	})
}

func TestSequences(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ text, want string }{
		{"0", "0"}, {"", ""}, {" 0  1 0 ", "0 1 0"}, {"(1 2 0)x3", "1 2 0 1 2 0 1 2 0"},
		{"0 (0 1)x2 1", "0 1 0 1"}, // where parts meet, repeats are joined
		{"(0 (1 2)x2 3)x2 4", "0 1 2 1 2 3 0 1 2 1 2 3 4"}, {"((0)x9 1)x1", "0 1"}, {"10 (2)x2", "10 2"}, {"(0)x4194304", "0"},
	} {
		var s Sequence
		if err := s.UnmarshalCSV(c.text); err != nil {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		var words []string
		for _, tool := range s.Unfold() {
			words = append(words, string(FoldSequence([]uint8{tool})))
		}
		if got := strings.Join(words, " "); got != c.want {
			t.Errorf("%q: got %q, want %q", c.text, got, c.want)
		}
	}
	for text, want := range map[string]string{
		"0 x": "no tool", "255": "no tool", "-1": "no tool", "1,2": "no tool", "0 1)": "not opened", "(0 1": "without )x", "(0 1)": "without )x", "(0 1)x": "no whole number",
		"(0 1)x0": "no whole number", "(0 1)x-2": "no whole number", "(0 1)x4194304": "more than 4194304 tools", "((0 1)x2048 2)x2048": "more than 4194304 tools",
		"(0)x4194304 1":            "more than 4194304 tools",
		strings.Repeat("(", 1000):  "parts within more than 64",
		"(0)x99999999999999999999": "no whole number",
	} {
		var s Sequence
		if err := s.UnmarshalCSV(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want %q", text[:min(len(text), 40)], err, want)
		}
	}
}

// A print of 5,000 changes in which layers repeat takes little room: here two kinds of layer, and one change of mind every 100.
func TestFoldedSequencesAreShort(t *testing.T) {
	t.Parallel()
	var tools []uint8
	for layer := range 1250 {
		switch {
		case layer%100 == 99:
			tools = append(tools, 3, 0, 2, 1)
		case layer%2 == 0:
			tools = append(tools, 0, 1, 2, 3)
		default:
			tools = append(tools, 2, 1, 3, 2)
		}
	}
	tools = slices.Compact(tools)
	folded := FoldSequence(tools)
	if !slices.Equal(folded.Unfold(), tools) || len(tools) < 4900 {
		t.Fatalf("%d tools unfold to others", len(tools))
	}
	if len(folded) >= 4096 {
		t.Errorf("%d tools take %d bytes", len(tools), len(folded))
	}
}

func TestBoxes(t *testing.T) {
	t.Parallel()
	var b Boxes
	if err := b.UnmarshalCSV("0 -10 60.5 0 9 1; 12 1 2 -3 -2 0.4"); err != nil {
		t.Fatal(err)
	}
	want := []ToolBox{{0, -10, 60.5, 0, 9, 1}, {12, 1, 2, -3, -2, 0.4}}
	if !slices.Equal(b.Of, want) {
		t.Errorf("got %v", b.Of)
	}
	if again := NewBoxes(want); again.text != b.text {
		t.Errorf("written %q, read %q", again.text, b.text)
	}
	for _, text := range []string{"0 1 2 3 4", "x 1 2 3 4 5", "255 1 2 3 4 5", "0 1 2 3 4 -5", "0 2 1 3 4 5", "0 1 2 4 3 5", "0 1 2 3 4 5; 0 1 2 3 4 5", "0 1e3 2 3 4 5", ";"} {
		if err := b.UnmarshalCSV(text); err == nil {
			t.Errorf("%q was read", text)
		}
	}
}

func BenchmarkFoldSequence(b *testing.B) {
	var tools []uint8
	for i := range 100_000 {
		tools = append(tools, uint8(i*i/7%5))
	}
	tools = slices.Compact(tools)
	for b.Loop() {
		FoldSequence(tools)
	}
}
