package reports

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebook/inventory/assign"
)

// steps makes uses of a text: digits are slots, each on the nozzle of its number; > before one is a load.
func steps(text string) (all []assign.Step) {
	load := false
	for _, r := range text {
		if r == '>' {
			load = true
			continue
		}
		all = append(all, assign.Step{Slot: int(r - '0'), Nozzle: int(r-'0') % 2, Load: load})
		load = false
	}
	return all
}

// What is drawn is the sequence, whatever it is.
func TestChunksAreTheSequence(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		all := steps(rapid.StringMatching(`(>?[0-2]{1,5}){0,40}`).Draw(r, "steps"))
		if rapid.Bool().Draw(r, "again") {
			all = slices.Concat(all, all, all)
		}
		var drawn []assign.Step
		for _, c := range chunks(all) {
			if c.start != len(drawn) {
				r.Fatalf("a chunk begins at %d, want %d", c.start, len(drawn))
			}
			for range c.times {
				drawn = append(drawn, c.steps...)
			}
		}
		if !slices.EqualFunc(drawn, all, same) {
			r.Fatalf("drawn %v, want %v", drawn, all)
		}
	})
}

func TestStrips(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, steps string
		width       int
		want        string
	}{
		{"plain", "012>0", 80, "use      | 1\nnozzle 1 | aa  .   cc >aa\nnozzle 2 | .   b   .   ."},
		{"a cycle", "0" + strings.Repeat("1>2", 30) + "1", 80, "use      | 1  | 2 x30  | 62\nnozzle 1 | aa | .  >cc | .\nnozzle 2 | .  | b   .  | b"},
		{"two of two uses are no cycle worth telling", "0101", 80, "use      | 1\nnozzle 1 | aa  .   aa  .\nnozzle 2 | .   b   .   b"},
		{"ten uses under one number", "001122001100221", 80,
			"use      | 1                                     | 11\nnozzle 1 | aa  aa  .   .   cc  cc  aa  aa  .   . | aa  aa  cc  cc  .\nnozzle 2 | .   .   b   b   .   .   .   .   b   b | .   .   .   .   b"},
		{"narrow", "001122001100221", 52,
			"use      | 1\nnozzle 1 | aa  aa  .   .   cc  cc  aa  aa  .   .\nnozzle 2 | .   .   b   b   .   .   .   .   b   b\n\nuse      | 11\nnozzle 1 | aa  aa  cc  cc  .\nnozzle 2 | .   .   .   .   b"},
	} {
		lines := strips(steps(c.steps), 2, []string{"aa", "b", "cc"}, c.width)
		for i := range lines {
			lines[i] = strings.TrimRight(lines[i], " ")
		}
		if got := strings.Join(lines, "\n"); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.name, got, c.want)
		}
	}
}

// A print without any cycle and of many uses is cut, and it is said.
func TestStripsAreCut(t *testing.T) {
	t.Parallel()
	var all []assign.Step
	for i := range 5000 {
		all = append(all, assign.Step{Slot: (i*i + i/7) % 3, Nozzle: i * i % 2})
	}
	lines := strips(all, 2, []string{"0", "1", "2"}, 80)
	if len(lines) != mostBlocks*4 || !strings.HasPrefix(lines[len(lines)-1], "and ") {
		t.Errorf("%d lines, the last %q", len(lines), lines[len(lines)-1])
	}
	for _, line := range lines {
		if len(line) > 80 {
			t.Errorf("%d wide: %s", len(line), line)
		}
	}
}

func TestLegendNamesALoad(t *testing.T) {
	t.Parallel()
	steps := []assign.Step{{Slot: 0}, {Slot: 1, Nozzle: 1, Swap: true}, {Slot: 2, Nozzle: 1, Load: true}, {Slot: 1, Nozzle: 1, Load: true}}
	if got := firstLoaded(steps, []string{"a", "b", "c"}); got != "c" {
		t.Errorf("got %q, want c, which is loaded first", got)
	}
}
