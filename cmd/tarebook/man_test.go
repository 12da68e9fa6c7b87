package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

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
