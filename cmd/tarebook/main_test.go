package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"tarebook/ledger"
	"tarebook/samples"
)

// The scripts in testdata/script are the manual of the commands. Time stands still in them: the first command of a script
// runs at start, each later one a minute on, or at $NOW where a script sets it.

const start = "2026-11-20T10:00:00+01:00"

var update = flag.Bool("update", false, "rewrite the expected output in the scripts")

func TestMain(m *testing.M) {
	debug.SetGCPercent(400) // tests allocate much and keep little
	testscript.Main(m, map[string]func(){"last": last, "scan": scan, "tarebook": func() {
		env := system()
		env.patience = 0 // else a busy machine would answer otherwise
		n := tick(filepath.Join(os.Getenv("WORK"), ".clock"))
		env.now = func() time.Time { return instant(os.Getenv("NOW"), n) }
		if os.Getenv("RANDOM_ENTRIES") == "" { // with it entries end as those of a real book do
			env.entropy = counting(n)
		}
		if bytes, err := strconv.Atoi(os.Getenv("DIES")); err == nil {
			env.disk = dying{bytes: bytes}
		}
		os.Exit(run(os.Args[1:], env))
	}})
}

// dying is the disk of a process that dies once it has appended so many bytes to a file of the book.
type dying struct {
	ledger.OSDisk
	bytes int
}

func (d dying) OpenFile(dir, name string, flag int) (ledger.DiskFile, error) {
	f, err := d.OSDisk.OpenFile(dir, name, flag)
	if err != nil {
		return nil, err
	}
	return dyingFile{f, d.bytes}, nil
}

type dyingFile struct {
	ledger.DiskFile
	bytes int
}

func (f dyingFile) Append(p []byte) (int, error) {
	if _, err := f.DiskFile.Append(p[:min(f.bytes, len(p))]); err != nil {
		panic(err)
	}
	os.Exit(9)
	return 0, nil
}

// last prints the last lines of a file: last N FILE.
func last() {
	n, err := strconv.Atoi(os.Args[1])
	if err != nil {
		panic(err)
	}
	text, err := os.ReadFile(os.Args[2])
	if err != nil {
		panic(err)
	}
	lines := strings.SplitAfter(strings.TrimSuffix(string(text), "\n"), "\n")
	fmt.Println(strings.Join(lines[max(0, len(lines)-n):], ""))
}

func TestScripts(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       *update,
		Setup: func(env *testscript.Env) error {
			env.Values["books"] = map[string]map[string]string{}
			for name, value := range map[string]string{
				"COLUMNS": "80", "DEMO": samples.DemoAsOf,
				"GORACE": "atexit_sleep_ms=0", // under -race each command would wait a second before it ends
				// What no script file should hold itself.
				"ESC": "\x1b", "BEL": "\a", "TAB": "\t", "CR": "\r", "LF": "\n", "DEL": "\x7f", "CSI": "\u009b",
				"BIDI": "\u202e", "ISOLATE": "\u2066", "SEPARATOR": "\u2028", "LATIN1": "\xe9", "ZERO": "\u200b", "SOFT": "\u00ad", "BOM": "\ufeff", "CYRILLIC": "\u0440",
			} {
				env.Setenv(name, value)
			}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "demobook": demobook, "snapshot": snapshot, "unchanged": unchanged, "row": row, "replace": replace, "hangup": hangup,
		},
	})
}

// tick counts the commands of a script.
func tick(file string) int {
	text, err := os.ReadFile(file)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		panic(err)
	}
	n, _ := strconv.Atoi(string(text))
	if err := os.WriteFile(file, []byte(strconv.Itoa(n+1)), 0o666); err != nil {
		panic(err)
	}
	return n
}

// instant is the time of command n, in a zone of a fixed offset.
func instant(set string, n int) time.Time {
	if set != "" {
		return at(set)
	}
	return at(start).Add(time.Duration(n) * time.Minute)
}

func at(text string) time.Time {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		panic(err)
	}
	_, offset := t.Zone()
	return t.In(time.FixedZone(t.Format("-07:00"), offset))
}

// counting is the entropy of command n: entries of one instant ascend from command to command, and are not consecutive.
type counting int

func (n counting) Read(p []byte) (int, error) {
	clear(p)
	if len(p) > 2 {
		p[1], p[2] = byte((n+1)>>8), byte(n+1) // never 0, which the maker of entries takes for none yet
	}
	return len(p), nil
}

// exits N command... runs command and requires exit status N.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits N command...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	var failed *exec.ExitError
	got := 0
	if err := ts.Exec(args[1], args[2:]...); errors.As(err, &failed) {
		got = failed.ExitCode()
	} else {
		ts.Check(err)
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

// demobook DIR copies the demo book.
func demobook(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: demobook DIR")
	}
	ts.Check(samples.CopyDemo(ts.MkAbs(args[0])))
}

// snapshot BOOK keeps what its files hold, for unchanged.
func snapshot(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: snapshot BOOK")
	}
	ts.Value("books").(map[string]map[string]string)[args[0]] = contents(ts, args[0])
}

// unchanged BOOK requires that every file holds what it held at the last snapshot; ! unchanged that one does not.
func unchanged(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: [!] unchanged BOOK")
	}
	before, ok := ts.Value("books").(map[string]map[string]string)[args[0]]
	if !ok {
		ts.Fatalf("no snapshot of %s", args[0])
	}
	now := contents(ts, args[0])
	names := maps.Clone(before)
	maps.Copy(names, now)
	var changed []string
	for name := range names {
		if old, ok := before[name]; !ok || old != now[name] {
			changed = append(changed, name)
		} else if _, ok := now[name]; !ok {
			changed = append(changed, name)
		}
	}
	slices.Sort(changed)
	if neg && len(changed) == 0 {
		ts.Fatalf("nothing changed in %s", args[0])
	}
	if !neg && len(changed) > 0 {
		ts.Fatalf("%s changed in %s", strings.Join(changed, ", "), args[0])
	}
}

// contents are the files of a book; .tarebook is no part of it.
func contents(ts *testscript.TestScript, dir string) map[string]string {
	files := map[string]string{}
	entries, err := os.ReadDir(ts.MkAbs(dir))
	ts.Check(err)
	for _, e := range entries {
		if e.Type().IsRegular() && e.Name() != ".clock" {
			files[e.Name()] = ts.ReadFile(filepath.Join(dir, e.Name()))
		}
	}
	return files
}

// row FILE LINE appends a line; a backslash begins an escape as in Go, so that a script holds no odd character itself.
func row(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: row FILE LINE")
	}
	line := args[1]
	if strings.Contains(line, `\`) {
		var err error
		line, err = strconv.Unquote(`"` + strings.ReplaceAll(line, `"`, `\"`) + `"`)
		ts.Check(err)
	}
	ts.Check(appendTo(ts.MkAbs(args[0]), line))
}

func appendTo(name, line string) error {
	f, err := os.OpenFile(name, os.O_APPEND|os.O_WRONLY|os.O_CREATE, 0o666)
	if err != nil {
		return err
	}
	_, err = f.WriteString(line + "\n")
	return errors.Join(err, f.Close())
}

// replace FILE OLD NEW replaces a text that stands in a file once.
func replace(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: replace FILE OLD NEW")
	}
	text := ts.ReadFile(args[0])
	if n := strings.Count(text, args[1]); n != 1 {
		ts.Fatalf("%s has %q %d times", args[0], args[1], n)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, args[1], args[2], 1)), 0o666))
}

// hangup command... runs command with a reader that has gone, and requires status 0 and silence on stderr.
func hangup(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: hangup command...")
	}
	r, w, err := os.Pipe()
	ts.Check(err)
	ts.Check(r.Close())
	defer w.Close()
	path, err := exec.LookPath(args[0])
	ts.Check(err)
	var stderr bytes.Buffer
	cmd := exec.Command(path, args[1:]...)
	cmd.Dir, cmd.Stdout, cmd.Stderr = ts.MkAbs("."), w, &stderr
	cmd.Env = append(os.Environ(), "TMPDIR="+ts.Getenv("TMPDIR"), "WORK="+ts.Getenv("WORK"), "NOW="+ts.Getenv("NOW"), "TAREBOOK="+ts.Getenv("TAREBOOK"))
	if err := cmd.Run(); err != nil || stderr.Len() > 0 {
		ts.Fatalf("%v, stderr %q", err, stderr.String())
	}
}

// inside runs a command line in this process and returns what it wrote.
func inside(t *testing.T, dir, now string, args ...string) (status int, stdout, stderr string) {
	t.Helper()
	return insideWith(t, strings.NewReader(""), dir, now, args...)
}

// insideWith is inside with something on standard input.
func insideWith(t *testing.T, stdin io.Reader, dir, now string, args ...string) (status int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	status = run(args, environment{
		stdin: stdin, stdout: &out, stderr: &errs,
		getenv:  func(string) string { return "" },
		now:     func() time.Time { return at(now) },
		entropy: counting(0), dir: dir,
	})
	return status, out.String(), errs.String()
}

func appendLine(t *testing.T, dir, file, line string) {
	t.Helper()
	if err := appendTo(filepath.Join(dir, file), line); err != nil {
		t.Fatal(err)
	}
}

// demo copies the demo book for a test.
func demo(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "book")
	if err := samples.CopyDemo(dir); err != nil {
		t.Fatal(fmt.Errorf("copy the demo book: %w", err))
	}
	return dir
}
