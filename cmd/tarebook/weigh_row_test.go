package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tarebook/samples"
)

// A shelf weighed in a row over a pipe: what is wrong is refused by its line, the rest is booked.
func TestWeighTwoHundred(t *testing.T) {
	t.Parallel()
	dir := demo(t)
	before := lineCount(t, filepath.Join(dir, "weighins.csv"))
	wrong := map[int]string{17: "PLA-99 500", 90: "PLA-12 5O0", 151: "PLA-12 20"}
	var in strings.Builder
	for n := 1; n <= 200; n++ {
		line := fmt.Sprintf("PLA-12 %d.5", 1140-n)
		if text, ok := wrong[n]; ok {
			line = text
		}
		in.WriteString(line + "\n")
	}
	status, stdout, stderr := insideWith(t, strings.NewReader(in.String()), dir, samples.DemoAsOf, "weigh", "-")
	if status != 1 || !strings.HasSuffix(stdout, "\nbooked 197 weigh-ins, refused 3 lines\n") || strings.Count(stdout, "\nPLA-12: net ") != 196 {
		t.Errorf("status %d, stdout ends %q", status, stdout[max(0, len(stdout)-200):])
	}
	for n := range wrong {
		if !strings.Contains(stderr, fmt.Sprintf("tarebook: line %d: ", n)) {
			t.Errorf("line %d is not named in %s", n, stderr)
		}
	}
	if strings.Count(stderr, "\n") != len(wrong) {
		t.Errorf("stderr: %s", stderr)
	}
	if got := lineCount(t, filepath.Join(dir, "weighins.csv")) - before; got != 197 {
		t.Errorf("%d rows were booked, want 197", got)
	}
	if status, stdout, _ := inside(t, dir, samples.DemoAsOf, "verify"); status != 0 {
		t.Errorf("verify: %s", stdout)
	}
}

func lineCount(t *testing.T, name string) int {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Count(string(text), "\n")
}
