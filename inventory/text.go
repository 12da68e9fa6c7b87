package inventory

import (
	"strconv"
	"strings"
)

func quote(s string) string { return strconv.Quote(s) }

// List joins words with commas, and the last with a word of its own: a, b or c.
func List(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + last + " " + words[len(words)-1]
}

// Plural returns a count with the word for one thing or for many.
func Plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
