package main

import (
	"archive/zip"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A zip container is read by its member, from a file and where the file is to be known again by its sum.
func TestZipContainer(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "shelf")
	const now = "2026-11-20T10:00:00+01:00"
	do := func(want int, args ...string) string {
		t.Helper()
		status, stdout, stderr := inside(t, dir, now, args...)
		if status != want {
			t.Fatalf("%v: status %d, %s%s", args, status, stdout, stderr)
		}
		return stdout + stderr
	}
	do(0, "init", dir)
	do(0, "buy", "PLA-1", "--material", "PLA", "--net", "1000", "--core", "card 1 kg", "--at", "2026-11-19 10:00")
	name := filepath.Join(dir, "job.3mf")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	z := zip.NewWriter(f)
	for member, text := range map[string]string{"a.txt": "none", "Metadata/plate_1.gcode": "M83\n; type: wall\nG1 X1 E250\n"} {
		w, err := z.Create(member)
		if err == nil {
			_, err = io.WriteString(w, text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if got := do(0, "toolpath", name, "--format", "csv"); !strings.Contains(got, ",0,250,0,0,0,250,") {
		t.Errorf("got %s", got)
	}
	if got := do(2, "toolpath", name, "--member", "b.gcode"); !strings.Contains(got, `has no member "b.gcode"`) {
		t.Errorf("got %s", got)
	}
	do(0, "queue", "add", "boxed", "--from", name, "--load", "0=PLA-1")
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(data)
	queue, err := os.ReadFile(filepath.Join(dir, "queue.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(queue), hex.EncodeToString(sum[:])) {
		t.Errorf("the sum of the file is not in %s", queue)
	}
}
