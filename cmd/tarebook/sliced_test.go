package main

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tarebook/inventory/filament"
)

// twoTools builds a print of layers of 0.2 mm: in each, tool 0 takes twice a length, tool 1 once. The line of the nth extrusion of
// tool 0 (from 1) follows from the three lines before all and the seven of each layer.
func twoTools(layers int, mm float64) (text string, line func(n int) int) {
	var b strings.Builder
	b.WriteString("; built with known answers\nG90\nM83\n")
	for n := 1; n <= layers; n++ {
		fmt.Fprintf(&b, "G1 Z%.1f\nT0\n; type: wall\nG1 X10 Y%d E%.6f\nG1 X20 Y%d E%.6f\nT1\nG1 X30 Y%d E%.6f\n", float64(n)*0.2, n, mm, n, mm, n, mm)
	}
	return b.String(), func(n int) int { return 3 + (n-1)/2*7 + 4 + (n-1)%2 }
}

// A spool that is short by a known amount runs out in a known layer: 5 g a line, two lines a layer, and 243 g on the spool: it
// gives 48 lines, and ends in the 49th, the first of layer 25.
func TestRunsOutInItsLayer(t *testing.T) {
	t.Parallel()
	white := filament.Stock{DiameterMM: 1.75, Density: 1.24}
	text, line := twoTools(40, white.Length(5)*1000)
	for _, packed := range []bool{false, true} {
		dir := filepath.Join(t.TempDir(), "shelf")
		minutes := 0
		do := func(want int, args ...string) string {
			t.Helper()
			minutes++
			now := at(start).Add(time.Duration(minutes) * time.Minute).Format(time.RFC3339)
			status, stdout, stderr := inside(t, dir, now, args...)
			if status != want {
				t.Fatalf("%v: status %d, %s%s", args, status, stdout, stderr)
			}
			return stdout + stderr
		}
		do(0, "init", dir)
		do(0, "buy", "PLA-1", "--material", "PLA", "--net", "1000", "--core", "card 1 kg")
		do(0, "buy", "PLA-2", "--material", "PLA", "--net", "1000", "--core", "card 1 kg", "--at", "2026-11-20 09:00")
		do(0, "consume", "before", "PLA-1:757", "--basis", "weighed")
		file := filepath.Join(dir, "two tools.gcode")
		f, err := os.Create(file)
		if err != nil {
			t.Fatal(err)
		}
		if packed {
			z := gzip.NewWriter(f)
			fmt.Fprint(z, text)
			err = z.Close()
		} else {
			_, err = f.WriteString(text)
		}
		if err != nil || f.Close() != nil {
			t.Fatal(err)
		}
		want := func(answer string) {
			t.Helper()
			var check struct {
				Jobs []struct {
					Verdict string
					Needs   []struct {
						Slot      string
						Spool     string
						NeedG     float64  `json:"need_g"`
						LikelyG   float64  `json:"likely_g"`
						RunsOutAt *float64 `json:"runs_out_at"`
						RunsOutIn *struct {
							Layer int
							ZMM   float64 `json:"z_mm"`
							Share float64
							Line  int
						} `json:"runs_out_in"`
					}
				}
			}
			if err := json.Unmarshal([]byte(answer), &check); err != nil || len(check.Jobs) != 1 || len(check.Jobs[0].Needs) != 2 {
				t.Fatalf("%v: %s", err, answer)
			}
			short, enough := check.Jobs[0].Needs[0], check.Jobs[0].Needs[1]
			if short.Spool != "PLA-1" || short.NeedG != 400 || short.LikelyG != 243 || math.Abs(*short.RunsOutAt-243.0/400) > 1e-9 {
				t.Errorf("got %+v", short)
			}
			if w := short.RunsOutIn; w == nil || w.Layer != 25 || w.ZMM != 5 || w.Line != line(49) || math.Abs(w.Share-243.0/400) > 1e-9 {
				t.Errorf("runs out in %+v, want layer 25, 5 mm, line %d", w, line(49))
			}
			if enough.NeedG != 200 || enough.RunsOutIn != nil {
				t.Errorf("got %+v", enough)
			}
		}
		loads := []string{"--load", "0=PLA-1", "--load", "1=PLA-2"}
		want(do(1, append([]string{"check", "--from", file, "--format", "json"}, loads...)...))
		do(0, append([]string{"queue", "add", "long", "--from", file}, loads...)...)
		want(do(1, "check", "long", "--format", "json"))
		if told := do(1, "check", "long"); !strings.Contains(told, fmt.Sprintf("runs out at 60 %% of its 400 g, in layer 25 (5.00 mm up), line %d of the file", line(49))) {
			t.Error(told)
		}

		// A failed print is booked up to its layer, on the spools of the queue: 24 layers are 240 g and 120 g.
		do(0, "consume", "long", "--from", file, "--failed", "--to-layer", "24")
		if rows := do(0, "waste", "--by", "spool", "--format", "csv"); !strings.Contains(rows, "PLA-1,EUR,2,757,0,0,0,240,") || !strings.Contains(rows, "PLA-2,EUR,1,0,0,0,0,120,") {
			t.Error(rows)
		}

		// Another file of that name where the command runs does not hide the one of the book.
		elsewhere := t.TempDir()
		if err := os.WriteFile(filepath.Join(elsewhere, "two tools.gcode"), []byte("G28\n"), 0o666); err != nil {
			t.Fatal(err)
		}
		if status, told, stderr := inside(t, elsewhere, start, "--book", dir, "check", "long"); status != 1 || stderr != "" || !strings.Contains(told, "in layer") {
			t.Errorf("status %d, %s%s", status, told, stderr)
		}

		// Of a file that is not what was queued nothing is told.
		if err := os.WriteFile(file, []byte(text[:len(text)-40]), 0o666); err != nil {
			t.Fatal(err)
		}
		if told := do(1, "check", "long"); strings.Contains(told, "layer") || !strings.Contains(told, "two tools.gcode is not what was queued") {
			t.Error(told)
		}
		if err := os.Remove(file); err != nil {
			t.Fatal(err)
		}
		if told := do(1, "check", "long"); strings.Contains(told, "layer") || strings.Contains(told, "not what was queued") {
			t.Error(told)
		}
	}
}
