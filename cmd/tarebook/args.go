package main

import (
	"slices"
	"strings"

	"github.com/alecthomas/kong"
)

// How a command line is taken apart before kong parses it. Only the grammar of the command that is typed is built, so the command has to
// be found first, among flags that may stand anywhere: a short start for a tool that is called at the scale.

// commandOf finds the command among the arguments, past the flags before it, and returns the rest.
func commandOf(args []string) (name string, rest []string) {
	i := nextWord(args, 0)
	if i < 0 {
		return "", args
	}
	name, rest = args[i], slices.Concat(args[:i], args[i+1:])
	if name != "queue" {
		return name, rest
	}
	switch j := nextWord(rest, i); {
	case j >= 0:
		return name + " " + rest[j], slices.Concat(rest[:j], rest[j+1:])
	case slices.Contains(args, "--help") || slices.Contains(args, "-h"):
		return name, rest
	}
	return "queue list", rest
}

// nextWord returns the index of the first argument from i on that is neither a flag nor the value of one; -1 if there is none.
func nextWord(args []string, i int) int {
	for ; i < len(args) && args[i] != "--"; i++ {
		switch {
		case !strings.HasPrefix(args[i], "-"):
			return i
		case takesValue(args[i]):
			i++
		}
	}
	return -1
}

// takesValue reports whether what follows an argument is its value. No flag has a value in one command and none in another.
func takesValue(arg string) bool {
	switch arg {
	case "--book", "--format", "--as-of", "--wait":
		return true
	case "--version", "--help", "-h":
		return false
	}
	if !strings.HasPrefix(arg, "--") || strings.Contains(arg, "=") {
		return false
	}
	return slices.ContainsFunc(commands, func(c *command) bool {
		grammar, _, _ := c.make()
		k, err := kong.New(grammar)
		return err == nil && valued(k, arg)
	})
}

// valued reports whether an argument is a flag of a command that takes a value.
func valued(k *kong.Kong, arg string) bool {
	return slices.ContainsFunc(k.Model.Flags, func(f *kong.Flag) bool { return arg == "--"+f.Name && !f.IsBool() })
}

// flagged reports whether a flag is among arguments; after -- there are no flags, and a value is none.
func flagged(args []string, flag string) bool {
	i := slices.Index(args, flag)
	return i >= 0 && !slices.Contains(args[:i], "--") && (i == 0 || !takesValue(args[i-1]))
}

// negative reports whether a word is a number below 0, which kong would take for a flag.
func negative(word string) bool {
	return len(word) > 1 && word[0] == '-' && (word[1] >= '0' && word[1] <= '9' || word[1] == '.')
}

// flagsFirst moves flags before all other words, since kong takes no more of a list of words once a flag came, and joins each to its
// value, so that a value may look like a flag. wanting is a last flag that lacks its value.
func flagsFirst(k *kong.Kong, args []string) (all []string, wanting string) {
	var flags, words []string
	for i := 0; i < len(args); i++ {
		arg := args[i]
		if arg == "--" {
			words = append(words, args[i:]...)
			break
		}
		switch {
		case len(arg) < 2 || arg[0] != '-':
			words = append(words, arg)
		case !valued(k, arg):
			flags = append(flags, arg)
		case i+1 == len(args):
			return nil, arg
		default:
			i++
			flags = append(flags, arg+"="+args[i])
		}
	}
	return append(flags, words...), ""
}
