package hands

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// patience is how long one run may take; the program itself is told to wait a minute for the lock of a book.
const patience = 90 * time.Second

// program is the built program, run with none of the bench's own environment.
type program struct {
	path string
	wrap []string // what the program is run by, when not directly
	env  []string
}

func theProgram(t *testing.T) *program {
	t.Helper()
	path := os.Getenv("TAREBOOK_BIN")
	if !filepath.IsAbs(path) {
		t.Fatalf("TAREBOOK_BIN is %q; give the absolute path of the built program", path)
	}
	p := &program{path: path, env: cleaned("TAREBOOK")}
	if o := p.run("--version"); o.failed(0) != nil || !strings.HasPrefix(o.stdout, "tarebook ") {
		t.Fatalf("TAREBOOK_BIN %q is not the program: %v", path, o)
	}
	return p
}

// cleaned is the environment without the variables that begin so.
func cleaned(prefix string) []string {
	return slices.DeleteFunc(os.Environ(), func(v string) bool { return strings.HasPrefix(v, prefix) })
}

// outcome is one run that has ended.
type outcome struct {
	args           []string
	status         int  // -1 when it did not exit by itself
	killed         bool // by the signal KILL
	stdout, stderr string
	took           time.Duration
	err            error // it could not be run, or did not end
}

func (o outcome) String() string {
	return fmt.Sprintf("tarebook %s: status %d, stderr %q, stdout %q, error %v", short(strings.Join(o.args, " ")), o.status, short(o.stderr), short(o.stdout), o.err)
}

// short keeps a long batch from burying the message.
func short(s string) string {
	if len(s) > 400 {
		return s[:300] + " ... " + s[len(s)-90:]
	}
	return s
}

// failed tells why the run is not one that exited with this status.
func (o outcome) failed(status int) error {
	if o.err != nil || o.status != status {
		return fmt.Errorf("want status %d: %s", status, o)
	}
	return nil
}

// refused tells why the run is not one that was plainly refused: status 2 and one line, and nothing else.
func (o outcome) refused() error {
	if err := o.failed(2); err != nil {
		return err
	}
	if o.stdout != "" || !strings.HasPrefix(o.stderr, "tarebook: ") || strings.Count(o.stderr, "\n") != 1 || !strings.HasSuffix(o.stderr, "\n") {
		return fmt.Errorf("want one line on stderr, and nothing else: %s", o)
	}
	return nil
}

func (p *program) run(args ...string) outcome { return p.runUntil(-1, args...) }

// runUntil runs a command and, when after is not negative, kills it that long after its start.
func (p *program) runUntil(after time.Duration, args ...string) outcome {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	// Eight hands on a busy machine may keep one waiting longer than a person would care to.
	line := slices.Concat(p.wrap, []string{p.path}, args, []string{"--wait", "1m"})
	cmd := exec.CommandContext(ctx, line[0], line[1:]...)
	cmd.Env = p.env
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	o := outcome{args: args}
	began := time.Now()
	err := cmd.Start()
	if err == nil {
		if after >= 0 {
			killer := time.AfterFunc(after, func() { _ = cmd.Process.Kill() }) // one that has ended is past killing
			defer killer.Stop()
		}
		err = cmd.Wait()
	}
	o.took = time.Since(began)
	o.stdout, o.stderr, o.status = stdout.String(), stderr.String(), cmd.ProcessState.ExitCode()
	var exit *exec.ExitError
	switch {
	case ctx.Err() != nil:
		o.err = fmt.Errorf("it did not end within %s", patience)
	case errors.As(err, &exit):
		if wait, ok := exit.Sys().(syscall.WaitStatus); ok && wait.Signaled() {
			o.killed = wait.Signal() == syscall.SIGKILL
			o.err = fmt.Errorf("it died of the signal %s", wait.Signal())
		}
	default:
		o.err = err
	}
	return o
}

// must runs a command that has to end with status 0.
func (p *program) must(t *testing.T, args ...string) outcome {
	t.Helper()
	o := p.run(args...)
	if err := o.failed(0); err != nil {
		t.Fatal(err)
	}
	return o
}

// asked runs a look command and decodes the JSON it answers with.
func (p *program) asked(book string, into any, args ...string) (outcome, error) {
	o := p.run(slices.Concat([]string{"--book", book, "--format", "json"}, args)...)
	if o.err != nil || o.status == 2 {
		return o, o.failed(0)
	}
	if err := json.Unmarshal([]byte(o.stdout), into); err != nil {
		return o, fmt.Errorf("stdout is not one JSON value: %w: %s", err, o)
	}
	return o, nil
}

// verified is what verify answers.
type verified struct {
	Entries  int
	Problems []problem
}

type problem struct {
	File  string
	Line  int
	Entry string
	What  string
}

// sound requires a book without a problem, and returns how many entries it has.
func (p *program) sound(t *testing.T, book string) int {
	t.Helper()
	var v verified
	o, err := p.asked(book, &v, "verify")
	if err != nil {
		t.Fatal(err)
	}
	if o.status != 0 || len(v.Problems) > 0 {
		t.Errorf("status %d, %d problems: %v", o.status, len(v.Problems), v.Problems)
	}
	return v.Entries
}

func setting(t *testing.T, name string, otherwise int) int {
	t.Helper()
	text := os.Getenv(name)
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("%s: %q is not a number above 0", name, text)
	}
	return n
}
