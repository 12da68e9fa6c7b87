package main

import (
	"cmp"
	"embed"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"github.com/alecthomas/kong"

	"tarebook/ledger"
)

// The pages of help NAME: a file each, whose first line says what it is about. Lines after "  $ " are commands that work on the demo
// book, and what stands below one is what it prints.
//
//go:embed help/*.txt
var pages embed.FS

// helpPage returns the text of a page; blank if there is none of that name.
func helpPage(name string) string {
	text, _ := pages.ReadFile("help/" + name + ".txt")
	return string(text)
}

// pageNames lists the pages in the order of their names.
func pageNames() (names []string) {
	files, _ := pages.ReadDir("help")
	for _, f := range files {
		names = append(names, strings.TrimSuffix(f.Name(), path.Ext(f.Name())))
	}
	return names
}

// help answers help TOPIC: a page, the help of a command, the schema of its JSON, or the meaning of a term.
func help(topic []string, env environment) error {
	if topic[0] == "man" {
		if len(topic) != 2 {
			return errors.New("name the folder for the man pages, as: tarebook help man man")
		}
		return writeManual(topic[1], env)
	}
	if topic[0] == "json" && len(topic) > 1 {
		return helpJSON(topic[1:], env)
	}
	name := strings.Join(topic, " ")
	answer := helpPage(name)
	if answer == "" && find(name) == nil && name != "queue" {
		if meaning := meaningOf(name); meaning != "" {
			answer = meaning + "\n"
		}
	}
	if answer == "" {
		return execute(append(topic, "--help"), env)
	}
	_, err := io.WriteString(env.stdout, answer)
	return err
}

// meaningOf looks a term up in the page of words; blank if it isn't there.
func meaningOf(name string) string {
	for line := range strings.SplitSeq(helpPage("words"), "\n") {
		if term, meaning, ok := termIn(line); ok {
			for one := range strings.SplitSeq(term, ", ") {
				if ledger.Fold(one) == ledger.Fold(name) {
					return term + ": " + meaning
				}
			}
		}
	}
	return ""
}

// termIn takes a line of the page of words apart.
func termIn(line string) (term, meaning string, ok bool) {
	const width = len("  weigh-in     ") // of the terms
	if !strings.HasPrefix(line, "  ") || len(line) <= width {
		return "", "", false
	}
	return ledger.Trim(line[:width]), line[width:], true
}

// printHelp puts summary, examples and statuses between usage and flags. What help says of an argument or a flag is its tag `about`,
// and what stands for a value is `value`. Under kong's own names for these it would run a regular expression over each of them at
// every start: 6 % of the instructions of stock on the demo book.
func (c *command) printHelp(options kong.HelpOptions, ctx *kong.Context) error {
	ctx.Model.Help = c.summary + "\n\nExamples:\n\n  $ " + strings.Join(c.examples, "\n  $ ") + "\n\n" + c.statuses
	c.describe(ctx.Model.Node)
	return kong.DefaultHelpPrinter(options, ctx)
}

// describe gives kong's model the words of the tags, and hides what the command refuses.
func (c *command) describe(model *kong.Node) {
	for _, flag := range model.Flags {
		flag.Hidden = c.refuses(flag.Name)
		flag.Help, flag.PlaceHolder = cmp.Or(flag.Tag.Get("about"), flag.Help), cmp.Or(flag.Tag.Get("value"), flag.PlaceHolder) // --help is kong's own
		if flag.HasDefault {
			flag.Help += " Default: " + flag.Default + "."
		}
	}
	for _, argument := range model.Positional {
		argument.Help = argument.Tag.Get("about")
	}
}

// overview lists commands and pages.
func overview(w io.Writer) error {
	var b strings.Builder
	b.WriteString(`tarebook keeps the book of a filament shelf: what is on every spool, whether it
lasts for the queue, and what the waste cost.

Usage: tarebook COMMAND [flags]
`)
	for _, use := range []string{"record", "look", "plan", "keep"} {
		fmt.Fprintf(&b, "\n%s\n", strings.ToUpper(use[:1])+use[1:])
		for _, c := range commands {
			if c.use == use {
				fmt.Fprintf(&b, "  %-11s %s\n", c.name, c.summary)
			}
		}
	}
	b.WriteString("\nHelp\n  COMMAND --help shows examples; help man DIR writes all as man pages;\n  tarebook help PAGE shows one of these:\n")
	for _, name := range pageNames() {
		title, _, _ := strings.Cut(helpPage(name), "\n")
		fmt.Fprintf(&b, "  %-13s %s\n", name, title)
	}
	b.WriteString(`
Every command: --book DIR, --wait TIME, --version, --help. Most of them:
  --format table|csv|json|md. Those that look at the book: --as-of TIME.
Environment: TAREBOOK names the book, TAREBOOK_SCALE and TAREBOOK_PRINTER this
  bench's own, TAREBOOK_BENCH begins the ids of new spools here. A flag beats
  the environment; that beats settings.csv.
Status: 0 all well, 1 answered and something is flagged, 2 not carried out.
`)
	_, err := io.WriteString(w, b.String())
	return err
}

// queueHelp lists the commands of the queue.
func queueHelp(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Usage: tarebook queue COMMAND [flags]\n\n%s\n\n", queueSummary)
	for _, a := range queueAnswers() {
		fmt.Fprintf(&b, "  queue %-5s %s\n", a.value, a.about)
	}
	b.WriteString("\nExamples and flags of one: tarebook queue add --help\n")
	_, err := io.WriteString(w, b.String())
	return err
}
