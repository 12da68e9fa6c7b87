package main

import "testing"

// Every argument and flag is said what it is for, and nothing else is.
func TestHelpTexts(t *testing.T) {
	t.Parallel()
	texts, used := helpTexts(), map[string]bool{}
	for _, c := range commands {
		grammar, _, _ := c.make()
		for _, field := range fieldNames(grammar) {
			if texts[field].text == "" {
				t.Errorf("%s: nothing says what %s is for", c.name, field)
			}
			used[field] = true
		}
	}
	for field := range texts {
		if !used[field] {
			t.Errorf("a text is for %s, which no command has", field)
		}
	}
}
