package main

import (
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

func TestColour(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name          string
		terminal      bool
		noColor, term string
		want          bool
	}{
		{"a terminal", true, "", "xterm", true},
		{"a terminal that does not say what it is", true, "", "", true},
		{"piped", false, "", "xterm", false},
		{"NO_COLOR, whatever it says", true, "0", "xterm", false},
		{"a terminal that understands no escapes", true, "", "dumb", false},
	} {
		if got := colour(c.terminal, c.noColor, c.term); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}

func TestCommandOf(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ args, name, rest string }{
		{"", "", ""},
		{"stock", "stock", ""},
		{"stock --all", "stock", "--all"},
		{"--book shelf stock", "stock", "--book shelf"},
		{"--book=shelf stock --all", "stock", "--book=shelf --all"},
		{"--format json --as-of 2026-11-09 check", "check", "--format json --as-of 2026-11-09"},
		{"--book stock", "", "--book stock"}, // the folder's name
		{"--help stock", "stock", "--help"},
		{"weigh PLA-02 500", "weigh", "PLA-02 500"},
		{"queue list", "queue list", ""},
		{"--book shelf queue add job 0=PLA-02:5", "queue add", "--book shelf job 0=PLA-02:5"},
		{"queue", "queue list", ""},
		{"queue --format csv", "queue list", "--format csv"},
		{"queue --help", "queue", "--help"},
		{"queue --book shelf list", "queue list", "--book shelf"},
		{"queue --format csv list", "queue list", "--format csv"},
		{"--format csv queue --client list add job", "queue add", "--format csv --client list job"},
		{"queue --dry-run drop job", "queue drop", "--dry-run job"},
		{"--scale kitchen weigh PLA-02 500", "weigh", "--scale kitchen PLA-02 500"},
		{"--scale=kitchen weigh PLA-02 500", "weigh", "--scale=kitchen PLA-02 500"},
		{"--dry-run weigh PLA-02 500", "weigh", "--dry-run PLA-02 500"},
		{"--wrong weigh", "weigh", "--wrong"},
		{"card queue", "card", "queue"},
		{"--version", "", "--version"},
		{"-- stock", "", "-- stock"},
	} {
		name, rest := commandOf(strings.Fields(c.args))
		if name != c.name || strings.Join(rest, " ") != c.rest {
			t.Errorf("%q: got %q and %q, want %q and %q", c.args, name, rest, c.name, c.rest)
		}
	}
}

// The arguments stay as they were: append must not write through to them.
func TestCommandOfLeavesArguments(t *testing.T) {
	t.Parallel()
	args := []string{"--book", "shelf", "queue", "add", "job"}
	before := slices.Clone(args)
	if commandOf(args); !slices.Equal(args, before) {
		t.Errorf("got %q, want %q", args, before)
	}
}

func TestNegative(t *testing.T) {
	t.Parallel()
	for word, want := range map[string]bool{"-5": true, "-.5": true, "-0": true, "-": false, "--all": false, "-h": false, "5": false, "": false} {
		if got := negative(word); got != want {
			t.Errorf("%q: got %v, want %v", word, got, want)
		}
	}
}

// A flag has a value in all commands or in none: where it stands before the command, the word behind it is that.
func TestValuedFlags(t *testing.T) {
	t.Parallel()
	takes := map[string]string{}
	for _, c := range commands {
		grammar, _, _ := c.make()
		k, err := kong.New(grammar)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range k.Model.Flags {
			is := "none"
			if !f.IsBool() {
				is = "a value"
			}
			if before := takes[f.Name]; before != "" && before != is {
				t.Errorf("%s: --%s takes %s, elsewhere %s", c.name, f.Name, is, before)
			}
			takes[f.Name] = is
			if got := takesValue("--" + f.Name); got != (is == "a value") {
				t.Errorf("--%s: takesValue says %v", f.Name, got)
			}
		}
	}
}
