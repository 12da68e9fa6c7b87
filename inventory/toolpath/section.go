package toolpath

import (
	"bytes"
	"strings"
	"unicode"
)

// A section comment tells what the moves after it are for: ; type: words. Its words are matched at their beginnings.

// keys of section comments; the first letters stand again where comments are read.
var keys = []string{"type", "feature", "role", "section"}

// sections knows the words of each class, each with a blank before it, so that a text of words with a blank before each
// contains it where a word begins so.
type sections struct {
	classes []sectionWords
	known   map[string]Class // texts that were looked at before: a file has few, again and again
}

// maxKnown bounds the memory of what was looked at before.
const maxKnown = 256

type sectionWords struct {
	class Class
	words []string
}

// newSections lists the classes in the order in which they are tried.
func newSections(o Options) *sections {
	s := &sections{known: map[string]Class{}}
	for _, c := range []struct {
		class Class
		ours  []string
		more  []string
	}{
		{Purge, []string{"purge", "flush"}, o.PurgeWords},
		{Prime, []string{"prime", "wipe", "tower"}, o.PrimeWords},
		{Support, []string{"support"}, o.SupportWords},
	} {
		words := sectionWords{class: c.class}
		for _, list := range [][]string{c.ours, c.more} {
			for _, word := range list {
				if w := spaced([]byte(word)); w != "" {
					words.words = append(words.words, w)
				}
			}
		}
		s.classes = append(s.classes, words)
	}
	return s
}

// spaced returns the words of text in lower case, a blank before each. Whatever is neither letter nor digit parts words.
func spaced(text []byte) string {
	var b strings.Builder
	for _, word := range bytes.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r) }) {
		b.WriteByte(' ')
		b.WriteString(strings.ToLower(string(word)))
	}
	return b.String()
}

// class returns the class of the text of a section comment.
func (s *sections) class(text []byte) Class {
	class, ok := s.known[string(text)]
	if !ok {
		class = s.find(spaced(text))
		if len(s.known) < maxKnown && len(text) < maxKnown {
			s.known[string(text)] = class
		}
	}
	return class
}

func (s *sections) find(words string) Class {
	for _, c := range s.classes {
		for _, word := range c.words {
			if strings.Contains(words, word) {
				return c.class
			}
		}
	}
	return Part
}

// section reads a comment, without its signs. It reports no class for a comment that is no section comment.
func (s *sections) section(comment []byte) (Class, bool) {
	comment = bytes.TrimLeft(comment, " \t")
	if len(comment) == 0 {
		return 0, false
	}
	switch comment[0] | 0x20 {
	case 't', 'f', 'r', 's': // most comments end here
	default:
		return 0, false
	}
	for _, key := range keys {
		if len(comment) < len(key) || !bytes.EqualFold(comment[:len(key)], []byte(key)) {
			continue
		}
		text := bytes.TrimLeft(comment[len(key):], " \t")
		if len(text) > 0 && (text[0] == ':' || text[0] == '=') {
			return s.class(text[1:]), true
		}
	}
	return 0, false
}
