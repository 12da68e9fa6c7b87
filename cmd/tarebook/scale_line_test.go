//go:build unix

package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"tarebook/samples"
)

// A scale on a serial line, played through a pseudo-terminal: it speaks all the time, and comes to rest some time after a
// spool was scanned.
func TestScaleLine(t *testing.T) {
	t.Parallel()
	dir := demo(t)
	scale, device, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer scale.Close()
	defer device.Close()
	in, scanned := io.Pipe()
	go func() {
		for _, c := range []struct{ spool, resting string }{{"PLA-02", "ST,GS,+00423.0g"}, {"PETG-01", "ST,GS,+00700.5g"}, {"PLA-12", "ST,GS,+01148.0g"}} {
			fmt.Fprint(scale, "ST,GS,+00999.9g\r\n") // what lay there before
			time.Sleep(100 * time.Millisecond)
			fmt.Fprintln(scanned, c.spool)
			time.Sleep(300 * time.Millisecond)
			fmt.Fprint(scale, "US,GS,+00120.0g\r\n"+c.resting+"\r\n")
			time.Sleep(300 * time.Millisecond)
		}
		fmt.Fprintln(scanned, "PLA-09 790") // a gross that is typed counts
		scanned.Close()
	}()
	status, stdout, stderr := insideWith(t, in, dir, samples.DemoAsOf, "weigh", "-", "--scale-from", device.Name(), "--scale", "bench")
	if status != 0 || stderr != "" || !strings.HasSuffix(stdout, "\nbooked 4 weigh-ins\n") {
		t.Errorf("status %d, %s%s", status, stdout, stderr)
	}
	_, rows, _ := inside(t, dir, "2026-11-10T09:00:00+01:00", "reconcile", "--format", "csv")
	for _, want := range []string{",PLA-02,423,", ",PETG-01,700.5,", ",PLA-12,1148,", ",PLA-09,790,"} {
		if !strings.Contains(rows, want) {
			t.Errorf("no %s in %s", want, rows)
		}
	}
	if lineCount(t, filepath.Join(dir, "weighins.csv")) != 80 {
		t.Errorf("%d lines", lineCount(t, filepath.Join(dir, "weighins.csv")))
	}
}
