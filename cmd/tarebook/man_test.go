package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"tarebook/samples"
)

// The man pages name every command and page, every flag of each command that it doesn't refuse, and mandoc finds nothing to say of them.
func TestMan(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "man")
	if status, stdout, stderr := inside(t, t.TempDir(), samples.DemoAsOf, "help", "man", dir); status != 0 || stderr != "" || !strings.HasPrefix(stdout, "wrote ") {
		t.Fatalf("status %d, %q, %q", status, stdout, stderr)
	}
	names := []string{"tarebook.1"}
	for _, c := range commands {
		name := "tarebook-" + strings.ReplaceAll(c.name, " ", "-") + ".1"
		names = append(names, name)
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		plain := strings.ReplaceAll(string(text), `\-`, "-")
		_, help, _ := inside(t, t.TempDir(), samples.DemoAsOf, append(strings.Fields(c.name), "--help")...)
		flags := 0
		for word := range strings.FieldsSeq(help) {
			if flag, ok := strings.CutPrefix(word, "--"); ok && strings.Contains(help, "\n  --"+flag+" ") {
				flags++
				if !strings.Contains(plain, "\n.B \"--"+strings.ReplaceAll(flag, `"`, `\(dq`)) {
					t.Errorf("%s lacks --%s", name, flag)
				}
			}
		}
		if flags < 2 || strings.Contains(plain, ".B \"--as-of") == c.refuses("as-of") {
			t.Errorf("%s: %d flags", name, flags)
		}
	}
	for _, name := range pageNames() {
		names = append(names, "tarebook-"+name+".7")
	}
	written, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil || len(written) != len(names) {
		t.Errorf("%d pages, want %d: %v", len(written), len(names), err)
	}
	if status, _, stderr := inside(t, t.TempDir(), samples.DemoAsOf, "help", "man"); status != 2 || !strings.Contains(stderr, "name the folder") {
		t.Errorf("help man: status %d, %q", status, stderr)
	}
	wide(t, dir)
	mandoc, err := exec.LookPath("mandoc")
	if err != nil && os.Getenv("MANDOC") != "required" {
		t.Skip("there is no mandoc (Debian's package mandoc); MANDOC=required forbids to skip this")
	}
	if err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(mandoc, append([]string{"-T", "lint"}, written...)...).CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("%v\n%s", err, out)
	}
}

var overstruck = regexp.MustCompile(".\x08") // bold, on paper

// wide fails where a page of help is no longer as it was laid out, for a terminal of 80 columns. It asks man, or, where there is none,
// looks at the source.
func wide(t *testing.T, dir string) {
	t.Helper()
	man, err := exec.LookPath("man")
	pages, _ := filepath.Glob(filepath.Join(dir, "*.7"))
	for _, page := range append(pages, filepath.Join(dir, "tarebook.1")) {
		if err != nil {
			if source, err := os.ReadFile(page); err != nil || !strings.Contains(string(source), "\n.in 0\n.nf\n") {
				t.Errorf("%s: %v, or its text is indented", page, err)
			}
			continue
		}
		cmd := exec.Command(man, "-l", page)
		cmd.Env = append(os.Environ(), "MANWIDTH=80", "MANPAGER=cat", "LC_ALL=C.UTF-8")
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.SplitSeq(overstruck.ReplaceAllString(string(out), ""), "\n") {
			if utf8.RuneCountInString(line) > 80 {
				t.Errorf("%s: %d columns: %q", filepath.Base(page), utf8.RuneCountInString(line), line)
			}
		}
	}
}
