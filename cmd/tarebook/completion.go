package main

import (
	"embed"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/alecthomas/kong"

	"tarebook/ledger"
)

// What a shell runs on Tab. It asks the program with a hidden form of the command, completion words or completion line, which answers a
// line for each thing that may come next, after a tab what that is, and neither fails nor writes.
//
//go:embed completion/tarebook.*
var scripts embed.FS

type completionCmd struct {
	Shell string `arg:"" about:"Which shell: bash, zsh or fish." choices:"bash,zsh,fish"`
}

func (c *completionCmd) Run(a *app) error {
	if a.Format != "table" {
		return errors.New("completion prints a script for a shell; leave out --format")
	}
	script, err := scripts.ReadFile("completion/tarebook." + strings.ToLower(c.Shell))
	if err != nil {
		return fmt.Errorf("no completion for %q; write bash, zsh or fish", c.Shell)
	}
	_, err = a.stdout.Write(script)
	return err
}

// answer is something that may be typed next, and what it is.
type answer struct{ value, about string }

// A shell completes files and folders by itself.
const (
	files   = ":files"
	folders = ":folders"
)

// complete writes the answers to a shell: to words that it has split, or to a line of bash and the part of its last word that is to be
// replaced.
func complete(form string, args []string, env environment) error {
	if len(args) == 0 {
		return nil
	}
	shown := func(value string) string { return value }
	words := args
	if form == "line" {
		var quote byte
		words, quote = bashWords(args[0])
		words = words[min(1, len(words)-1):]
		last := words[len(words)-1]
		if len(args) > 1 { // bash breaks words at = and : too
			part := strings.TrimLeft(args[1], `"'`)
			if quote == 0 {
				split, _ := bashWords(args[1])
				part = split[len(split)-1]
			}
			last = strings.TrimSuffix(last, part)
			shown = func(value string) string { return bashQuoted(value[min(len(last), len(value)):], quote) }
		}
	}
	typed := ledger.Fold(words[len(words)-1])
	var b strings.Builder
	for _, answer := range answersTo(words, env) {
		if form == "line" && strings.HasSuffix(answer.value, "=") && ledger.Fold(answer.value) == typed {
			continue // the value is still to be typed; bash would read what it is as the word to insert
		}
		if answer.value == files || answer.value == folders {
			fmt.Fprintln(&b, answer.value)
		} else if strings.HasPrefix(ledger.Fold(answer.value), typed) && ledger.Clean(answer.value) == answer.value {
			fmt.Fprintf(&b, "%s\t%s\n", shown(answer.value), ledger.Clean(answer.about))
		}
	}
	_, err := io.WriteString(env.stdout, b.String())
	return err
}

// answersTo returns what may stand in place of the last word; some don't fit what is typed of it.
func answersTo(words []string, env environment) []answer {
	before, typed := words[:len(words)-1], words[len(words)-1]
	name, rest := commandOf(before)
	switch {
	case name == "help" && len(rest) > 0 && rest[0] == "json":
		return schemaAnswers(rest[1:])
	case name == "help":
		return append(pageAnswers(), commandAnswers()...)
	case name == "queue list" && !slices.Contains(before, "list"):
		return queueAnswers()
	}
	c := find(name)
	if c == nil && name != "" {
		return nil
	}
	if c == nil { // no command yet; flags of every command may go before it
		c = find("queue list")
	}
	grammar, g, _ := c.make()
	k, err := kong.New(grammar, kong.NoDefaultHelp())
	if err != nil {
		return nil
	}
	line := parseLine(k.Model, rest)
	s := &source{app: &app{environment: env, globals: *g}, typed: typed, before: line.words}
	s.Book = line.book
	if flag, value, ok := strings.Cut(typed, "="); ok && strings.HasPrefix(flag, "--") && !line.ended {
		s.typed = value
		return prefixed(flag+"=", s.of(line.flags[flag]))
	}
	switch {
	case line.wanting != "":
		return s.of(line.wanting)
	case strings.HasPrefix(typed, "-") && !line.ended:
		return flagAnswers(c, k.Model)
	case name == "":
		return append(commandAnswers(), answer{"help", "Show a page of help"})
	}
	return s.of(line.positional(k.Model))
}

// line is what stands before the word to complete, without the command.
type line struct {
	flags   map[string]string // what stands for the value of each flag that takes one
	words   []string          // that belong to no flag
	wanting string            // what stands for the value that the last flag still wants
	book    string
	ended   bool // by --
}

func parseLine(model *kong.Application, args []string) line {
	l := line{flags: map[string]string{}}
	for _, flag := range model.Flags {
		if kind := kindOf(flag); kind != "" {
			l.flags["--"+flag.Name] = kind
		}
	}
	for i := 0; i < len(args); i++ {
		flag, value, given := strings.Cut(args[i], "=")
		switch {
		case l.ended || !strings.HasPrefix(args[i], "-") || args[i] == "-":
			l.words = append(l.words, args[i])
			continue
		case args[i] == "--":
			l.ended = true
			continue
		case l.flags[flag] == "":
			continue
		case !given && i+1 == len(args):
			l.wanting = l.flags[flag]
			return l
		case !given:
			i++
			value = args[i]
		}
		if flag == "--book" {
			l.book = value
		}
	}
	return l
}

// positional returns what the next word stands for. A name of two words stands for a list of pairs.
func (l *line) positional(model *kong.Application) string {
	if len(model.Positional) == 0 {
		return ""
	}
	i := min(len(l.words), len(model.Positional)-1)
	p := model.Positional[i]
	if i < len(l.words) && !p.IsCumulative() {
		return ""
	}
	if choices := p.Tag.Get("choices"); choices != "" {
		return choices
	}
	names := strings.Fields(p.Name)
	return names[(len(l.words)-i)%len(names)]
}

// kindOf returns what stands for the value of a flag, or its choices; blank if it takes none.
func kindOf(flag *kong.Flag) string {
	switch {
	case flag.IsBool():
		return ""
	case flag.Tag.Get("choices") != "":
		return flag.Tag.Get("choices")
	case flag.Tag.Get("value") != "":
		return strings.ToLower(flag.Tag.Get("value"))
	}
	return "text"
}

func flagAnswers(c *command, model *kong.Application) (list []answer) {
	for _, flag := range model.Flags {
		if !c.refuses(flag.Name) {
			list = append(list, answer{"--" + flag.Name, flag.Tag.Get("about")})
		}
	}
	return append(list, answer{"--help", "Show examples and flags."})
}

func commandAnswers() (list []answer) {
	for _, c := range commands {
		if name, rest, _ := strings.Cut(c.name, " "); rest == "" {
			list = append(list, answer{name, c.summary})
		}
	}
	return append(list, answer{"queue", queueSummary})
}

const queueSummary = "Queue a job, show the queue, take a job off."

func queueAnswers() []answer {
	return []answer{{"add", find("queue add").summary}, {"list", find("queue list").summary}, {"drop", find("queue drop").summary}}
}

// schemaAnswers returns the commands whose JSON help json describes; words are those after json.
func schemaAnswers(words []string) []answer {
	switch {
	case len(words) == 1 && words[0] == "queue":
		return queueAnswers()
	case len(words) > 0:
		return nil
	}
	return slices.DeleteFunc(commandAnswers(), func(a answer) bool {
		c := find(a.value)
		return c != nil && c.schema() == ""
	})
}

func pageAnswers() (list []answer) {
	for _, name := range pageNames() {
		title, _, _ := strings.Cut(helpPage(name), "\n")
		list = append(list, answer{name, title})
	}
	return list
}

func prefixed(prefix string, list []answer) []answer {
	for i := range list {
		if list[i].value != files && list[i].value != folders {
			list[i].value = prefix + list[i].value
		}
	}
	return list
}

// bashWords splits a line of bash as far as it is typed; quote is the one that is still open, 0 for none.
func bashWords(line string) (words []string, quote byte) {
	var word strings.Builder
	begun := false
	for i := 0; i < len(line); i++ {
		switch c := line[i]; {
		case c == '\\' && quote != '\'':
			if i++; i < len(line) {
				word.WriteByte(line[i])
			}
		case quote != 0 && c == quote:
			quote = 0
		case quote != 0:
			word.WriteByte(c)
		case c == '\'' || c == '"':
			quote, begun = c, true
		case c == ' ' || c == '\t':
			if begun || word.Len() > 0 {
				words = append(words, word.String())
			}
			word.Reset()
			begun = false
		default:
			word.WriteByte(c)
		}
	}
	return append(words, word.String()), quote
}

// bashQuoted returns a word as bash takes it, after a quote that is open or none.
func bashQuoted(word string, quote byte) string {
	special := " \t'\"\\$`&|;<>()*?[]{}!#~"
	switch quote {
	case '\'':
		return strings.ReplaceAll(word, "'", `'\''`)
	case '"':
		special = "\"\\$`"
	}
	var b strings.Builder
	for _, r := range word {
		if strings.ContainsRune(special, r) {
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}
