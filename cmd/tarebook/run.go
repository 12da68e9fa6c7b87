package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"reflect"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
	"unicode/utf8"

	"github.com/alecthomas/kong"

	"tarebook/ledger"
	"tarebook/reports"
)

// runner is one command: a struct whose fields kong fills.
type runner interface{ Run(*app) error }

// errFlagged means that the answer was printed and something in it is flagged: status 1.
var errFlagged = errors.New("flagged")

// run carries out one command line and returns the exit status: 0 all well, 1 answered and something is flagged,
// 2 not carried out.
func run(args []string, env environment) int {
	env.bar, env.stderr = env.stderr, messages{env.stderr}
	return status(execute(args, env), env)
}

// status is the one place where an error becomes an exit status and lines on stderr.
func status(err error, env environment) int {
	switch {
	case err == nil, errors.Is(err, syscall.EPIPE): // a reader that has seen enough is no error
		return 0
	case errors.Is(err, errFlagged):
		return 1
	}
	told := map[string]bool{} // one value may stand in several rows; a sheet may have very many faults
	for line := range strings.SplitSeq(err.Error(), "\n") {
		if !told[line] {
			fmt.Fprintln(env.stderr, "tarebook: "+line)
			told[line] = true
		}
	}
	return 2
}

// messages is standard error: whatever is written there, of a book, a file or a folder's name, is clean.
type messages struct{ io.Writer }

// Write writes whole lines; their ends stay.
func (m messages) Write(p []byte) (int, error) {
	lines := strings.Split(string(p), "\n")
	for i, line := range lines {
		lines[i] = ledger.Clean(line)
	}
	if _, err := io.WriteString(m.Writer, strings.Join(lines, "\n")); err != nil {
		return 0, err
	}
	return len(p), nil
}

func execute(args []string, env environment) error {
	if len(args) > 1 && args[0] == "completion" && (args[1] == "words" || args[1] == "line") {
		return complete(args[1], args[2:], env)
	}
	name, rest := commandOf(args)
	c := find(name)
	switch {
	case (name == "" || c != nil) && flagged(args, "--version"): // no flag of the grammar: it would be one more to build
		_, err := fmt.Fprintln(env.stdout, "tarebook "+version())
		return err
	case name == "help" && len(rest) > 0:
		return help(rest, env)
	case name == "" && (slices.Contains(args, "--help") || slices.Contains(args, "-h")), len(args) == 0, name == "help":
		return overview(env.stdout)
	case name == "queue": // with --help, else it would be queue list
		return queueHelp(env.stdout)
	case name == "":
		return fmt.Errorf("no command in %q; see them with: tarebook --help", strings.Join(args, " "))
	}
	if c == nil {
		return unknownCommand(name)
	}
	grammar, g, cmd := c.make()
	helped := false
	options := []kong.Option{kong.Name("tarebook " + c.name), kong.Writers(env.stdout, env.stderr), kong.Exit(func(int) { helped = true }),
		kong.KindMapper(reflect.String, kong.MapperFunc(readText)), kong.KindMapper(reflect.Int, kong.MapperFunc(readCount)),
		kong.Help(c.printHelp),
		kong.ConfigureHelp(kong.HelpOptions{WrapUpperBound: 100, NoExpandSubcommands: true})}
	if !slices.ContainsFunc(rest, func(word string) bool { return strings.HasPrefix(word, "-h") || strings.HasPrefix(word, "--h") }) {
		options = append(options, kong.NoDefaultHelp()) // one flag less to build
	}
	k, err := kong.New(grammar, options...)
	if err != nil {
		return err
	}
	if i := slices.IndexFunc(rest, func(word string) bool { return !utf8.ValidString(word) }); i >= 0 {
		return fmt.Errorf("%q is not UTF-8", rest[i])
	}
	rest, wanting := flagsFirst(k, rest)
	if i := slices.IndexFunc(rest, negative); i >= 0 {
		return fmt.Errorf("%s: no number here has a sign; see: tarebook %s --help", rest[i], c.name)
	}
	if wanting != "" {
		return fmt.Errorf("%s wants a value; see: tarebook %s --help", wanting, c.name)
	}
	parsed, err := k.Parse(rest)
	if helped {
		return nil
	}
	if err != nil {
		if words, missing := strings.CutPrefix(err.Error(), "expected "); missing {
			return fmt.Errorf("%s wants %s, as: %s; see: tarebook %s --help", c.name, strings.Trim(words, `"`), c.examples[0], c.name)
		}
		return fmt.Errorf("%w; see: tarebook %s --help", err, c.name)
	}
	for _, p := range parsed.Path {
		if p.Flag != nil && slices.Contains(noBlank, p.Flag.Name) && ledger.Trim(p.Flag.Target.String()) == "" {
			return fmt.Errorf("--%s is blank; give it a value, or leave it out", p.Flag.Name)
		}
	}
	if g.AsOf != "" && c.refuses("as-of") {
		if !valued(k, "--at") {
			return fmt.Errorf("%s knows no time but now; leave out --as-of", c.name)
		}
		return errAsOf
	}
	g.Format = cmp.Or(g.Format, "table")
	if !slices.Contains(reports.Formats, g.Format) {
		return fmt.Errorf("no format %q; write --format table, csv, json or md", g.Format)
	}
	return cmd.Run(&app{environment: env, globals: *g})
}

// noBlank are flags whose value may come from a variable that a script left unset: another book, time or place would be taken.
var noBlank = []string{"book", "format", "as-of", "at", "month", "from", "to", "out", "bill"}

// readText reads an argument as it was typed. Kong would write it as JSON and read that.
func readText(ctx *kong.DecodeContext, target reflect.Value) error {
	token, err := ctx.Scan.PopValue("string")
	if err != nil {
		return err
	}
	target.SetString(fmt.Sprint(token.Value))
	return nil
}

// readCount reads a whole number.
func readCount(ctx *kong.DecodeContext, target reflect.Value) error {
	token, err := ctx.Scan.PopValue("number")
	if err != nil {
		return err
	}
	n, err := strconv.ParseInt(fmt.Sprint(token.Value), 10, 32)
	if err != nil {
		return fmt.Errorf("%q is not a whole number up to 2147483647", fmt.Sprint(token.Value))
	}
	target.SetInt(n)
	return nil
}

// globals are the flags of every command.
type globals struct {
	Book   string `about:"Folder of the book; else $TAREBOOK, else the nearest at or above this folder." value:"DIR"`
	Format string `about:"How to write the answer: table, csv, json or md; else table." value:"FORMAT"`
	AsOf   string `about:"Look at the book as it was at this time; else now." value:"TIME"`
	Wait   wait   `about:"How long to wait while another command records, in seconds or as 2m; else 10s." value:"TIME"`
}

// wait is how long to wait; 0 when it is not given: as long as the ledger has it.
type wait time.Duration

// UnmarshalText reads a time with its unit, or seconds without.
func (w *wait) UnmarshalText(text []byte) error {
	t, err := time.ParseDuration(string(text))
	if err != nil {
		t, err = time.ParseDuration(string(text) + "s")
	}
	if err != nil || t <= 0 {
		return fmt.Errorf("%q is no time to wait; write --wait 30, or 2m", text)
	}
	*w = wait(t)
	return nil
}

func unknownCommand(name string) error {
	var names []string
	for _, c := range commands {
		names = append(names, c.name)
	}
	if near := ledger.Nearest(name, names); near != "" {
		return fmt.Errorf("no command %q; did you mean %s?", name, near)
	}
	if near := ledger.Nearest(name, pageNames()); near != "" {
		return fmt.Errorf("no command %q; did you mean help %s?", name, near)
	}
	return fmt.Errorf("no command %q; see them with: tarebook --help", name)
}

// version is that of the build, by the tag or the commit that it was made of, and of the books that it writes.
func version() string {
	built := "of an unknown build"
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		built = info.Main.Version
	}
	return fmt.Sprintf("%s, book format %d", built, ledger.Format)
}
