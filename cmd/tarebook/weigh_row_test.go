package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

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

// A row of weigh-ins answers and books line by line what commands of one line each do, whatever others do to the book meanwhile.
func TestWeighLinesAlone(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "book")
	if err := (samples.Big{Spools: 40, Rows: 3000, Seed: 7}).WriteTo(dir); err != nil {
		t.Fatal(err)
	}
	now := new(atomic.Int64)
	now.Store(at("2026-11-21T12:00:00Z").UnixMilli())
	env := func(dir string, stdin io.Reader, out io.Writer) environment {
		return environment{stdin: stdin, stdout: out, stderr: out, entropy: counting(0), dir: dir,
			getenv: func(string) string { return "" }, now: func() time.Time { return time.UnixMilli(now.Load()).UTC() }}
	}
	other := func(args ...string) func() {
		return func() {
			var out bytes.Buffer
			if status := run(args, env(dir, strings.NewReader(""), &out)); status != 0 {
				t.Fatalf("%v: status %d: %s", args, status, out.String())
			}
		}
	}
	edit := func(file, from, to string) func() {
		return func() {
			name := filepath.Join(dir, file)
			text, err := os.ReadFile(name)
			if err != nil || !bytes.Contains(text, []byte(from)) {
				t.Fatalf("%s holds no %q: %v", file, from, err)
			}
			if err := os.WriteFile(name, bytes.Replace(text, []byte(from), []byte(to), 1), 0o666); err != nil {
				t.Fatal(err)
			}
		}
	}
	rest := func() { time.Sleep(2300 * time.Millisecond) } // so that consumption is old enough to be kept
	print := func(n int, spool string) func() {            // a row of consumption that another program appends
		return func() {
			appendLine(t, dir, "consumption.csv", fmt.Sprintf("01M7ZZZZZZZZZZZZZZZZZZZZZ%d,%s,clip,c01,P1,%s,7.5,,,,,finished,,", n,
				time.UnixMilli(now.Load()).UTC().Format(time.RFC3339), spool))
		}
	}
	steps := []struct {
		line string
		do   func() // by others, before the line is typed
	}{
		{"S00040 900", rest}, {"S00039 900", nil}, {"S00040 880", nil}, {"S00038 20", nil}, {"undo", nil}, {"S00037\n866.5", nil},
		{"S00036 700 dried", nil}, {"S00035 149 empty", nil}, {"S00035 200", nil}, {"S00034 discarded", nil}, {"undo", nil}, {"S9 9", nil},
		{"S00040 860", print(1, "S00030")}, {"S00040 850", rest}, {"S00040 845", nil}, {"S00030 700", edit("consumption.csv", ",7.5,", ",9.5,")},
		{"S00040 844", print(2, "S00029")}, {"S00040 843", rest}, {"S00040 842", nil}, {"S00029 700", edit("consumption.csv", "S00029,7.5,", "S00030,7.5,")},
		{"S00040 840", rest}, {"S00040 839", nil}, {"S00030 699", print(3, "S00030")},
		{"S00040 841", other("weigh", "S00033", "901")}, {"S00033 900", nil},
		{"S00033 899", other("weigh", "S00032", "950", "--at", "2026-10-01T12:00:00Z")}, {"S00032 899", rest}, {"S00032 898", nil},
		{"S00032 897", other("void", "--last")}, {"S00032 896", nil},
		{"S00032 895", other("consume", "clip", "S00031:20", "--printer", "P1")}, {"S00031 800", nil}, {"S00031 799", rest},
		{"S00031 798", other("buy", "NEW-1", "--material", "PLA", "--colour", "white", "--net", "1000", "--core", "card")}, {"NEW-1 1150", nil}, {"NEW-1 1149", nil},
		{"NEW-1 1148", edit("cores.csv", "148", "147")}, {"NEW-1 1147", edit("weighins.csv", ",898,", ",998,")}, {"S00032 990", nil},
		{"S00040 830", edit("queue.csv", "S0", "s0")}, {"S00040 829", edit("scales.csv", "bench,0.1", "bench,0.2")},
		{"S00040 828", edit("settings.csv", "EUR\n", "EUR\nscale,bench\n")}, {"S00040 827", nil},
	}
	stdin, typed := io.Pipe()
	answers, stdout := io.Pipe()
	ended := make(chan bool)
	go func() {
		run([]string{"weigh", "-"}, env(dir, stdin, stdout))
		close(ended)
		stdout.Close()
		stdin.Close()
	}()
	in := bufio.NewReader(answers)
	told := regexp.MustCompile(`(?m)^tarebook: line \d+: `)
	made := regexp.MustCompile(`\b(01[0-9A-Z]{8})[0-9A-Z]{16}\b`) // an entry: the time when it was made, and what tells it from others of then
	var undo string                                               // what the last undo of the row has cancelled
	for n, step := range steps {
		if step.do != nil {
			step.do()
		}
		alone := filepath.Join(t.TempDir(), "book")
		if err := errors.Join(os.CopyFS(alone, os.DirFS(dir)), os.RemoveAll(filepath.Join(alone, ".tarebook"))); err != nil {
			t.Fatal(err)
		}
		now.Add(61_000)
		if _, err := io.WriteString(typed, step.line+"\n"); err != nil {
			t.Fatal(err)
		}
		got, err := in.ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		if step.line == "undo" { // it is about the row alone
			undo += got
			continue
		}
		var out bytes.Buffer
		run([]string{"weigh", "-"}, env(alone, strings.NewReader(step.line+"\n"), &out))
		want, _, _ := strings.Cut(out.String(), "booked ")
		if got, want := told.ReplaceAllString(got, ""), told.ReplaceAllString(want, ""); got != want {
			t.Errorf("%d: %q: %q, alone %q", n+1, step.line, got, want)
		}
		for _, file := range []string{"weighins.csv", "voids.csv"} {
			got, err1 := os.ReadFile(filepath.Join(dir, file))
			want, err2 := os.ReadFile(filepath.Join(alone, file))
			if err := errors.Join(err1, err2); err != nil {
				t.Fatal(err)
			}
			if got, want := made.ReplaceAllString(string(got), "$1"), made.ReplaceAllString(string(want), "$1"); got != want {
				t.Errorf("%d: %q: %s ends %q, alone %q", n+1, step.line, file, got[max(0, len(got)-200):], want[max(0, len(want)-200):])
			}
		}
	}
	if undo != "cancelled: S00040 880\ncancelled: S00034 discarded\n" {
		t.Errorf("undone: %q", undo)
	}
	typed.Close()
	if last, err := in.ReadString('\n'); err != nil || !strings.HasPrefix(last, "booked ") {
		t.Errorf("%q, %v", last, err)
	}
	<-ended
}

func lineCount(t *testing.T, name string) int {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Count(string(text), "\n")
}

// BenchmarkWeighLines weighs spool after spool of a book of 1,000,000 rows of consumption, 5,000 spools and more than 50,000 weigh-ins, each
// line answered before the next is typed. The first line, which reads the whole book, is not counted.
func BenchmarkWeighLines(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "book")
	if err := (samples.Big{Spools: 5000, Rows: 1_000_000, Seed: 1}).WriteTo(dir); err != nil {
		b.Fatal(err)
	}
	name := filepath.Join(dir, "weighins.csv")
	text, err := os.ReadFile(name)
	if err != nil {
		b.Fatal(err)
	}
	header, text, _ := bytes.Cut(text, []byte("\n"))
	rows := append(slices.Clip(header), '\n')
	for i := range 30_000 { // before the first that are there
		rows = fmt.Appendf(rows, "01HEPR900000000000000%05d,2023-11-08T06:00:%02d.%03dZ,S%05d,1148,bench,,\n", i, i/1000, i%1000, 1+i%5000)
	}
	if err := os.WriteFile(name, append(rows, text...), 0o666); err != nil {
		b.Fatal(err)
	}
	stdin, typed := io.Pipe()
	answers, stdout := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		defer stdout.Close()
		defer stdin.Close()
		ended <- run([]string{"weigh", "-", "--sure"}, environment{stdin: stdin, stdout: stdout, stderr: stdout,
			getenv: func(string) string { return "" }, now: time.Now, entropy: counting(0), dir: dir})
	}()
	in, n := bufio.NewReader(answers), 0
	weigh := func() {
		n++
		fmt.Fprintf(typed, "S%05d %d.5\n", 1+n%5000, 900-n/5000)
		if answer, err := in.ReadString('\n'); err != nil || !strings.Contains(answer, ": net ") {
			b.Fatalf("%q, %v", answer, err)
		}
	}
	weigh()
	for b.Loop() {
		weigh()
	}
	b.StopTimer()
	typed.Close()
	go io.Copy(io.Discard, answers)
	if status := <-ended; status != 0 {
		b.Errorf("status %d", status)
	}
}
