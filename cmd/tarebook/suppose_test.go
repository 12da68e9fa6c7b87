package main

import (
	"compress/gzip"
	"io"
	"strings"
	"testing"

	"tarebook/samples"
)

// A file of more changes than a sequence may have is checked all the same: only a note on purge rests on their order.
func TestManyChanges(t *testing.T) {
	t.Parallel()
	dir := demo(t)
	const twice = 1<<21 + 1 // each brings two changes
	for _, command := range []string{"check"} {
		r, w := io.Pipe()
		go func() {
			z := gzip.NewWriter(w)
			_, err := io.Copy(z, io.MultiReader(strings.NewReader("M83\n;TYPE:wall\nG1 Z.2\n"), strings.NewReader(strings.Repeat("T0\nG1 X1 E.0001\nT1\nG1 X2 E.0001\n", twice))))
			if err == nil {
				err = z.Close()
			}
			w.CloseWithError(err)
		}()
		status, _, stderr := insideWith(t, r, dir, samples.DemoAsOf, command, "--from", "-", "--printer", "WINDOW", "--load", "PLA-08 PLA-06")
		if status == 2 || strings.Contains(stderr, "more than") {
			t.Errorf("%s: status %d: %s", command, status, stderr)
		}
	}
}
