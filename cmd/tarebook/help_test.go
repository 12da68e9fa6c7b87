package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/alecthomas/kong"

	"tarebook/samples"
)

// Each term is explained once and is found; every flag, verdict and kind of grams has one.
func TestTerms(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for line := range strings.SplitSeq(helpPage("words"), "\n") {
		term, meaning, ok := termIn(line)
		if strings.HasPrefix(line, " ") && (!ok || term == "" || meaning == "" || meaning[0] == ' ') {
			t.Errorf("%q is no line of a term", line)
		}
		if !ok {
			continue
		}
		for word := range strings.SplitSeq(term, ", ") {
			if seen[word] || meaningOf(strings.ToUpper(word)) != term+": "+meaning {
				t.Errorf("%q stands twice, or is not found", word)
			}
			seen[word] = true
		}
	}
	for _, word := range strings.Fields("told left likely net 2u gross tare core part support prime purge scrap tail variance odds enough marginal short outside handle house") {
		if !seen[word] {
			t.Errorf("nothing explains %q", word)
		}
	}
}

// A page fits a terminal of 80 columns, begins with what it is about, is told of by --help and hides no command; its commands work
// on the demo book, each on a copy of its own.
func TestPages(t *testing.T) {
	t.Parallel()
	_, overview, _ := inside(t, t.TempDir(), samples.DemoAsOf, "help")
	for line := range strings.SplitSeq(overview, "\n") {
		if utf8.RuneCountInString(line) > 80 {
			t.Errorf("help: %d columns: %q", utf8.RuneCountInString(line), line)
		}
	}
	if len(pageNames()) < 10 {
		t.Fatalf("pages: %q", pageNames())
	}
	ran := 0
	for _, name := range pageNames() {
		text := helpPage(name)
		title, body, _ := strings.Cut(text, "\n\n")
		if title == "" || strings.Contains(title, "\n") || body == "" || !strings.HasSuffix(body, "\n") || !strings.Contains(overview, "  "+name+" ") || !strings.Contains(overview, " "+title+"\n") {
			t.Errorf("help %s wants a title, a blank line, and to be listed by --help", name)
		}
		if find(name) != nil || name == "queue" {
			t.Errorf("help %s is the help of a command", name)
		}
		if status, stdout, stderr := inside(t, t.TempDir(), samples.DemoAsOf, "help", name); status != 0 || stderr != "" || stdout != text {
			t.Errorf("help %s: status %d, stderr %q", name, status, stderr)
		}
		for line := range strings.SplitSeq(text, "\n") {
			if utf8.RuneCountInString(line) > 80 || strings.HasSuffix(line, " ") {
				t.Errorf("help %s: %d columns, or blanks at the end: %q", name, utf8.RuneCountInString(line), line)
			}
			if strings.ContainsFunc(line, func(r rune) bool { return r < ' ' || r > '~' && name != "notices" }) {
				t.Errorf("help %s: not ASCII: %q", name, line)
			}
			command, ok := strings.CutPrefix(line, "  $ ")
			if !ok {
				continue
			}
			ran++
			if err := works(t, command); err != "" {
				t.Errorf("help %s: %s: %s", name, command, err)
			}
		}
	}
	if ran == 0 {
		t.Error("no page shows a command")
	}
}

// works runs a command line on a copy of the demo book beside the sheets of the samples, and says why it was not carried out.
func works(t *testing.T, line string) string {
	dir := demo(t)
	if err := os.CopyFS(filepath.Join(dir, "samples", "sheets"), os.DirFS(filepath.Join("..", "..", "samples", "sheets"))); err != nil {
		t.Fatal(err)
	}
	words := shellWords(line)
	if words[0] != "tarebook" {
		return "it is no command of tarebook"
	}
	if status, stdout, stderr := inside(t, dir, samples.DemoAsOf, words[1:]...); status > 1 || stdout == "" {
		return stderr
	}
	return ""
}

// Help says of every argument and flag what it is for, and of every flag with a value what stands for it.
func TestHelpTexts(t *testing.T) {
	t.Parallel()
	for _, c := range commands {
		grammar, _, _ := c.make()
		k, err := kong.New(grammar)
		if err != nil {
			t.Fatal(err)
		}
		for _, argument := range k.Model.Positional {
			if argument.Tag.Get("about") == "" {
				t.Errorf("%s: nothing says what %s is for", c.name, argument.Name)
			}
		}
		for _, flag := range k.Model.Flags {
			if flag.Name != "help" && (flag.Tag.Get("about") == "" || !flag.IsBool() && flag.Tag.Get("value") == "" && flag.PlaceHolder == "") {
				t.Errorf("%s: nothing says what --%s is for, or what its value is", c.name, flag.Name)
			}
		}
	}
}
