package inventory

import (
	"strconv"
	"strings"
)

func quote(s string) string { return strconv.Quote(s) }

// list joins words as people do: a, b or c.
func list(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + last + " " + words[len(words)-1]
}
