package main

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/alecthomas/kong"
)

// writeManual writes the manual as pages of man(7) into a folder: one for each command, and one for each page of help.
func writeManual(dir string, env environment) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	texts := map[string]string{"tarebook.1": manOverview()}
	for _, c := range commands {
		text, err := c.man()
		if err != nil {
			return err
		}
		texts["tarebook-"+strings.ReplaceAll(c.name, " ", "-")+".1"] = text
	}
	for _, name := range pageNames() {
		title, text, _ := strings.Cut(helpPage(name), "\n\n")
		m := newManPage("tarebook-"+name, "7", title)
		m.section("DESCRIPTION")
		m.laidOut(text)
		texts["tarebook-"+name+".7"] = m.String()
	}
	for name, text := range texts {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(env.stdout, "wrote %d pages; read the first with: man -l %s\n", len(texts), filepath.Join(dir, "tarebook.1"))
	return err
}

func manOverview() string {
	m := newManPage("tarebook", "1", "the book of a filament shelf")
	m.section("SYNOPSIS")
	m.macro(".B tarebook\n.I COMMAND\n[\\fIflags\\fR]")
	m.section("DESCRIPTION")
	var b strings.Builder
	_ = overview(&b) // a builder takes all
	_, text, _ := strings.Cut(b.String(), "\n\n")
	m.laidOut(text)
	return m.String()
}

// man returns the page of a command.
func (c *command) man() (string, error) {
	grammar, _, _ := c.make()
	k, err := kong.New(grammar, kong.Name("tarebook "+c.name), kong.NoDefaultHelp())
	if err != nil {
		return "", err
	}
	c.describe(k.Model.Node)
	m := newManPage("tarebook-"+strings.ReplaceAll(c.name, " ", "-"), "1", strings.ToLower(c.summary[:1])+strings.TrimSuffix(c.summary[1:], "."))
	m.section("SYNOPSIS")
	m.text("tarebook " + c.name + " " + k.Model.Summary())
	m.section("DESCRIPTION")
	m.text(c.summary)
	for _, argument := range k.Model.Positional {
		m.item(argument.Summary(), argument.Help)
	}
	flags := slices.DeleteFunc(slices.Clone(k.Model.Flags), func(f *kong.Flag) bool { return f.Hidden })
	group := func(f *kong.Flag) string {
		if f.Group == nil {
			return ""
		}
		return f.Group.Title
	}
	slices.SortStableFunc(flags, func(a, b *kong.Flag) int { return strings.Compare(min(group(a), " "), min(group(b), " ")) }) // those of no group first
	m.section("OPTIONS")
	for i, flag := range flags {
		if title := group(flag); title != "" && (i == 0 || title != group(flags[i-1])) {
			m.macro(".SS " + roff(title))
		}
		name := "--" + flag.Name
		if !flag.IsBool() {
			name += "=" + flag.FormatPlaceHolder()
		}
		m.item(name, flag.Help)
	}
	m.section("EXAMPLES")
	m.verbatim(strings.Join(c.examples, "\n"))
	m.section("EXIT STATUS")
	m.text(strings.TrimPrefix(c.statuses, "Status: "))
	m.section("SEE ALSO")
	m.macro(".BR tarebook (1),\n.BR tarebook\\-words (7)")
	return m.String(), nil
}

// manPage is a page of man(7) in the making.
type manPage struct{ strings.Builder }

func newManPage(name, section, about string) *manPage {
	m := &manPage{}
	date, _, _ := strings.Cut(strings.SplitN(helpPage("changes"), "\n\n", 3)[1], "\n")
	fmt.Fprintf(m, ".TH %s %s %s tarebook \"tarebook manual\"\n", roff(strings.ToUpper(name)), section, cmp.Or(date, "-"))
	m.section("NAME")
	fmt.Fprintf(m, "%s \\-\n%s\n", roff(name), roff(about))
	return m
}

func (m *manPage) section(title string) { fmt.Fprintf(m, ".SH %s\n", title) }
func (m *manPage) macro(line string)    { fmt.Fprintln(m, line) }

// text writes a paragraph in lines of a source that a person can read.
func (m *manPage) text(paragraph string) {
	width := 0
	for _, word := range strings.Fields(paragraph) {
		word = roff(word)
		switch {
		case width == 0:
		case width+1+len(word) > 76:
			m.WriteByte('\n')
			width = 0
		default:
			m.WriteByte(' ')
			width++
		}
		if width == 0 && (word[0] == '.' || word[0] == '\'') {
			word = `\&` + word
		}
		m.WriteString(word)
		width += len(word)
	}
	m.WriteByte('\n')
}

func (m *manPage) item(term, about string) {
	fmt.Fprintf(m, ".TP\n.B \"%s\"\n", strings.ReplaceAll(roff(term), `"`, `\(dq`))
	m.text(about)
}

// laidOut writes text that fills a terminal of 80 columns: without the indentation of a section it keeps its lines.
func (m *manPage) laidOut(text string) {
	m.macro(".in 0")
	m.verbatim(text)
	m.macro(".in")
}

// verbatim writes text as it stands.
func (m *manPage) verbatim(text string) {
	m.macro(".nf")
	for line := range strings.Lines(strings.TrimRight(text, "\n") + "\n") {
		line = roff(line)
		if line == "\n" {
			line = ".sp\n"
		} else if line[0] == '.' || line[0] == '\'' {
			line = `\&` + line
		}
		m.WriteString(line)
	}
	m.macro(".fi")
}

// roff escapes what troff would read otherwise.
func roff(text string) string {
	return strings.NewReplacer(`\`, `\e`, "-", `\-`, "`", `\(ga`, "^", `\(ha`, "~", `\(ti`, "'", `\(aq`).Replace(text)
}
