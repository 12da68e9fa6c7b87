package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"tarebook/samples"
)

// What help shows to paste does work on the demo book.
func TestExamples(t *testing.T) {
	t.Parallel()
	for _, c := range commands {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if len(c.examples) == 0 || c.summary == "" || c.statuses == "" {
				t.Fatalf("%s wants a sentence, examples and statuses", c.name)
			}
			for _, example := range c.examples {
				stdin := ""
				if printed, piped, ok := strings.Cut(example, " | "); ok {
					stdin = strings.ReplaceAll(shellWords(printed)[1], `\n`, "\n")
					example = piped
				}
				words := shellWords(example)
				if words[0] != "tarebook" || !strings.HasPrefix(strings.Join(words[1:], " "), c.name) {
					t.Errorf("%s is no example of %s", example, c.name)
					continue
				}
				dir := demo(t)
				if c.name == "init" {
					dir = t.TempDir()
				}
				if err := os.CopyFS(filepath.Join(dir, "samples", "sheets"), os.DirFS(filepath.Join("..", "..", "samples", "sheets"))); err != nil {
					t.Fatal(err)
				}
				args := words[1:]
				if strings.Contains(example, "--last") { // of what was recorded in this copy
					if status, _, stderr := inside(t, dir, samples.DemoAsOf, "move", "PLA-12", "shelf A"); status != 0 {
						t.Fatal(stderr)
					}
				}
				if c.name == "init" && len(args) == 2 {
					args[1] = filepath.Join(dir, args[1])
				}
				status, stdout, stderr := insideWith(t, strings.NewReader(stdin), dir, samples.DemoAsOf, args...)
				if status > 1 || stdout == "" {
					t.Errorf("%s: status %d, stderr %s", example, status, stderr)
				}
				if c.name == "demo" {
					folder := regexp.MustCompile(`^The demo book is in (.*)`).FindStringSubmatch(stdout)
					if folder == nil {
						t.Fatalf("%s: got %s", example, stdout)
					}
					if err := os.RemoveAll(filepath.Dir(folder[1])); err != nil {
						t.Error(err)
					}
				}
			}
		})
	}
}

// Every command that can end in 1 says so; each has its help on stdout.
func TestHelp(t *testing.T) {
	t.Parallel()
	_, overview, _ := inside(t, t.TempDir(), samples.DemoAsOf, "--help")
	for _, c := range commands {
		status, stdout, stderr := inside(t, t.TempDir(), samples.DemoAsOf, append(strings.Fields(c.name), "--help")...)
		if status != 0 || stderr != "" {
			t.Errorf("%s --help: status %d, stderr %s", c.name, status, stderr)
		}
		plain := strings.Join(strings.Fields(stdout), " ") // help is wrapped
		for _, part := range append([]string{"Usage: tarebook " + c.name, c.summary, c.statuses, "--book=DIR"}, c.examples...) {
			if !strings.Contains(plain, strings.Join(strings.Fields(part), " ")) {
				t.Errorf("%s --help lacks %q:\n%s", c.name, part, stdout)
			}
		}
		if !strings.Contains(overview, "  "+c.name+" ") {
			t.Errorf("--help lacks %s", c.name)
		}
		if kind := regexp.MustCompile(`--[a-z-]+=("|(STRING|INT|DURATION)\b).*`).FindString(stdout); kind != "" {
			t.Errorf("%s --help does not say what stands for a value: %s", c.name, kind)
		}
		if strings.Contains(stdout, "\x1b") {
			t.Errorf("%s --help holds an escape", c.name)
		}
	}
}
