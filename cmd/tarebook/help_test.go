package main

import (
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// Each term is explained once, in a line that fits a terminal of 80 columns; every flag, verdict and kind of grams has one.
func TestTerms(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	if err := explain(&b); err != nil {
		t.Fatal(err)
	}
	for line := range strings.SplitSeq(b.String(), "\n") {
		if len(line) > 80 {
			t.Errorf("%d columns: %s", len(line), line)
		}
	}
	seen := map[string]bool{}
	for _, group := range terms {
		for _, term := range group.terms {
			for word := range strings.SplitSeq(term.term, ", ") {
				if seen[word] || termFor(strings.ToUpper(word)) == nil {
					t.Errorf("%q stands twice, or is not found", word)
				}
				seen[word] = true
			}
		}
	}
	for _, word := range strings.Fields("told left likely net 2u gross tare core part support prime purge scrap tail variance odds enough marginal short outside handle house") {
		if !seen[word] {
			t.Errorf("nothing explains %q", word)
		}
	}
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
