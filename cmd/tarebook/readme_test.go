package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"tarebook/samples"
)

// The README's terminal is real: each command after "$ " in its console blocks is run, in order and in a folder that holds samples/demo
// below a home, and what a terminal of 80 columns shows must be what stands below it, long lines folded at blanks. -update writes it
// anew.
func TestReadme(t *testing.T) {
	const readme = "../../README.md"
	text, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	readme2, err := filepath.Abs(readme)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := samples.CopyDemo(filepath.Join(dir, "tarebook", "samples", "demo")); err != nil {
		t.Fatal(err)
	}
	home, err := filepath.EvalSymlinks(dir) // as the program prints it
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv("HOME", home)
	t.Chdir(filepath.Join(home, "tarebook"))
	blocks := strings.Split(string(text), "```console\n")
	ran := 0
	for i := 1; i < len(blocks); i++ {
		block, rest, ok := strings.Cut(blocks[i], "```\n")
		if !ok {
			t.Fatal("a console block is not closed")
		}
		var got strings.Builder
		for command := range strings.SplitSeq("\n"+block, "\n$ ") {
			if command == "" || command[0] == '\n' {
				continue
			}
			typed, _, _ := strings.Cut(strings.ReplaceAll(command, "\\\n", "\\\x00"), "\n")
			typed = strings.ReplaceAll(typed, "\x00", "\n")
			out := strings.ReplaceAll(inReadme(t, strings.ReplaceAll(typed, "\\\n", ""), ran), home, "/home/you")
			fmt.Fprintf(&got, "$ %s\n%s", typed, folded(out, 80))
			ran++
		}
		for line := range strings.Lines(got.String()) {
			if utf8.RuneCountInString(line) > 81 {
				t.Errorf("the README has a line of more than 80 cells: %s", line)
			}
		}
		if got.String() != block && !*update {
			t.Errorf("README says\n%s\nthe tool prints\n%s", block, got.String())
		}
		blocks[i] = got.String() + "```\n" + rest
	}
	if ran == 0 {
		t.Fatal("the README shows no command")
	}
	if *update {
		if err := os.WriteFile(readme2, []byte(strings.Join(blocks, "```console\n")), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// inReadme runs one line: tarebook, cd, or echo onto a file.
func inReadme(t *testing.T, line string, n int) string {
	words := shellWords(line)
	switch words[0] {
	case "cd":
		if err := os.Chdir(strings.ReplaceAll(words[1], "~", os.Getenv("HOME"))); err != nil {
			t.Fatal(err)
		}
		return ""
	case "echo":
		if len(words) != 4 || words[2] != ">>" {
			t.Fatalf("%q: only echo TEXT >> FILE is understood", line)
		}
		f, err := os.OpenFile(words[3], os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if _, err := fmt.Fprintln(f, words[1]); err != nil {
			t.Fatal(err)
		}
		return ""
	case "tarebook":
		var out bytes.Buffer
		env := environment{stdin: strings.NewReader(""), stdout: &out, stderr: &out, dir: ".", entropy: counting(n), terminal: true, width: 80,
			getenv: func(name string) string { return map[string]string{"TERM": "dumb"}[name] }, now: func() time.Time { return instant("", n) }}
		if status := run(words[1:], env); status == 2 {
			t.Errorf("%s: status 2:\n%s", line, out.String())
		}
		return out.String()
	}
	t.Fatalf("%q: only tarebook, cd and echo are understood", line)
	return ""
}

// folded breaks lines at the last blank before a width.
func folded(text string, width int) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		for len(line) > width+1 { // its end counts
			i := strings.LastIndexByte(line[:width+1], ' ')
			if i <= 0 {
				break
			}
			b.WriteString(strings.TrimRight(line[:i], " ") + "\n")
			line = line[i+1:]
		}
		b.WriteString(line)
	}
	return b.String()
}

// shellWords splits a line at blanks, but for those in quotes.
func shellWords(line string) (words []string) {
	var word strings.Builder
	var quote rune
	for _, r := range line + " " {
		switch {
		case quote != 0 && r == quote:
			quote = 0
		case quote != 0:
			word.WriteRune(r)
		case r == '\'' || r == '"':
			quote = r
		case r == ' ':
			if word.Len() > 0 {
				words = append(words, word.String())
			}
			word.Reset()
		default:
			word.WriteRune(r)
		}
	}
	return words
}
