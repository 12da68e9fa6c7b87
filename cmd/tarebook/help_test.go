package main

import (
	"testing"

	"github.com/alecthomas/kong"
)

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
