package main

import (
	"io"
	"path/filepath"
	"testing"

	"tarebook/samples"
)

// BenchmarkStart carries out the commands that are typed most, on a book of about 1,000 rows. Its profile is what a build for use is
// made with (.ci/bench/profile.sh).
func BenchmarkStart(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "book")
	if err := (samples.Big{Spools: 60, Rows: 750, Seed: 1}).WriteTo(dir); err != nil {
		b.Fatal(err)
	}
	env := system()
	env.stdout, env.stderr = io.Discard, io.Discard
	for b.Loop() {
		for _, command := range []string{"stock", "stock", "stock", "check", "waste"} {
			if status := run([]string{"--book", dir, command}, env); status > 1 {
				b.Fatalf("%s: status %d", command, status)
			}
		}
	}
}
