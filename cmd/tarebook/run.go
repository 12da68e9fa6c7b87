package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"reflect"
	"runtime/debug"
	"slices"
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
	for line := range strings.SplitSeq(err.Error(), "\n") {
		fmt.Fprintln(env.stderr, "tarebook: "+line)
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
	case (name == "" || name == "queue") && (slices.Contains(args, "--help") || slices.Contains(args, "-h")), len(args) == 0, name == "help":
		return overview(env.stdout)
	case name == "":
		return fmt.Errorf("no command in %q; see them with: tarebook --help", strings.Join(args, " "))
	}
	if c == nil {
		return unknownCommand(name)
	}
	grammar, g, cmd := c.make()
	helped := false
	options := []kong.Option{kong.Name("tarebook " + c.name), kong.Writers(env.stdout, env.stderr), kong.Exit(func(int) { helped = true }),
		kong.KindMapper(reflect.String, kong.MapperFunc(readText)),
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
	if i := slices.IndexFunc(rest, negative); i >= 0 {
		return fmt.Errorf("%s: no number here has a sign; see: tarebook %s --help", rest[i], c.name)
	}
	if flag := wanting(k, rest); flag != "" {
		return fmt.Errorf("%s wants a value; see: tarebook %s --help", flag, c.name)
	}
	parsed, err := k.Parse(flagsFirst(k, rest))
	if helped {
		return nil
	}
	if err != nil {
		return fmt.Errorf("%w; see: tarebook %s --help", err, c.name)
	}
	for _, p := range parsed.Path {
		switch {
		case p.Flag == nil:
		case slices.Contains(noBlank, p.Flag.Name) && ledger.Trim(p.Flag.Target.String()) == "":
			return fmt.Errorf("--%s is blank; give it a value, or leave it out", p.Flag.Name)
		case p.Flag.Name == "wait" && g.Wait <= 0:
			return fmt.Errorf("--wait %s is no time to wait; write --wait 30s, or 2m", g.Wait)
		}
	}
	if g.AsOf != "" && c.refuses("as-of") {
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

// globals are the flags of every command.
type globals struct {
	Book   string        `about:"Folder of the book; else $TAREBOOK, else the nearest at or above this folder." value:"DIR"`
	Format string        `about:"How to write the answer: table, csv, json or md; else table." value:"FORMAT"`
	AsOf   string        `about:"Look at the book as it was at this time; else now." value:"TIME"`
	Wait   time.Duration `about:"How long to wait while another command records, as 30s or 2m; else 10s." value:"TIME"` // 0 when it is not given: as long as the ledger has it
}

// commandOf finds the command among the arguments, past the global flags, and returns the rest. Only that command's
// grammar is then built: a short start for a tool that is called at the scale.
func commandOf(args []string) (name string, rest []string) {
	for i := 0; i < len(args); i++ {
		switch a := args[i]; {
		case a == "--book" || a == "--format" || a == "--as-of" || a == "--wait":
			i++
		case a == "--":
			return "", args
		case strings.HasPrefix(a, "-"):
		default:
			rest = slices.Concat(args[:i], args[i+1:])
			if a != "queue" {
				return a, rest
			}
			if i+1 >= len(args) || strings.HasPrefix(args[i+1], "-") {
				if slices.Contains(args, "--help") || slices.Contains(args, "-h") {
					return a, rest
				}
				return "queue list", rest
			}
			return a + " " + args[i+1], slices.Concat(args[:i], args[i+2:])
		}
	}
	return "", args
}

// flagged reports whether a flag is among arguments; after -- there are no flags.
func flagged(args []string, flag string) bool {
	if i := slices.Index(args, "--"); i >= 0 {
		args = args[:i]
	}
	return slices.Contains(args, flag)
}

// negative reports whether a word is a number below 0, which kong would take for a flag.
func negative(word string) bool {
	return len(word) > 1 && word[0] == '-' && (word[1] >= '0' && word[1] <= '9' || word[1] == '.')
}

// wanting returns the flag that arguments end with, if it lacks its value.
func wanting(k *kong.Kong, args []string) string {
	if len(args) == 0 || slices.Contains(args, "--") {
		return ""
	}
	last := args[len(args)-1]
	for _, f := range k.Model.Flags {
		if last == "--"+f.Name && !f.IsBool() {
			return last
		}
	}
	return ""
}

// flagsFirst moves flags, each with its value, before all other words: kong takes no more of a list of words once a flag came.
func flagsFirst(k *kong.Kong, args []string) []string {
	var flags, words []string
	for i := 0; i < len(args); i++ {
		arg := args[i]
		if arg == "--" {
			words = append(words, args[i:]...)
			break
		}
		if len(arg) < 2 || arg[0] != '-' {
			words = append(words, arg)
			continue
		}
		flags = append(flags, arg)
		valued := slices.ContainsFunc(k.Model.Flags, func(f *kong.Flag) bool { return arg == "--"+f.Name && !f.IsBool() })
		if valued && i+1 < len(args) {
			i++
			flags = append(flags, args[i])
		}
	}
	return append(flags, words...)
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

func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(unknown)"
	}
	return info.Main.Version
}
