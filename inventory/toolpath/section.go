package toolpath

import (
	"bytes"
	"slices"
	"strings"
	"unicode"
)

// A section comment tells what the moves after it are for. Its words are matched at their beginnings.
//
//	; type: words       with the keys type, feature, role, section; = for :; feature takes a blank too
//	; 'words', anything quoted words in front are a section, whatever they are
//	; word              one bare word that begins as one of bareWords, or of a class, does

// keys of section comments. The switch in section has their first letters.
var keys = []string{"type", "feature", "role", "section"}

// bareWords begin a section comment of one bare word, beside the words of the classes.
var bareWords = []string{"part", "perimeter", "wall", "skin", "infill", "skirt", "brim", "raft"}

// sections holds the words of each class, each after a blank. So a text with a blank before each word contains such a string exactly
// where one of its words begins with it.
type sections struct {
	classes []sectionWords
	known   map[string]Class    // classes of texts seen before: a file repeats a few texts
	bare    map[string]sentence // the same of bare words
}

type sentence struct {
	class   Class
	section bool
}

// maxKnown bounds the number of texts kept.
const maxKnown = 256

type sectionWords struct {
	class Class
	words []string
}

// newSections lists the classes in the order in which they are tried.
func newSections(o Options) *sections {
	s := &sections{known: map[string]Class{}, bare: map[string]sentence{}}
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

// spaced returns the words of text in lower case, each after a blank. All but letters and digits separates words.
func spaced(text []byte) string {
	var b strings.Builder
	for _, word := range bytes.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r) }) {
		b.WriteByte(' ')
		b.WriteString(strings.ToLower(string(word)))
	}
	return b.String()
}

// class returns the class of the words of a section comment.
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

// section reads a comment, trimmed. It reports no class for a comment that is no section comment.
func (s *sections) section(comment []byte) (Class, bool) {
	switch c := comment[0]; c {
	case '"', '\'':
		if end := bytes.IndexByte(comment[1:], c); end > 0 {
			return s.class(comment[1 : 1+end]), true
		}
		return 0, false
	case 't', 'f', 'r', 's', 'T', 'F', 'R', 'S':
		for i, key := range keys {
			if len(comment) < len(key) || !bytes.EqualFold(comment[:len(key)], []byte(key)) {
				continue
			}
			rest := comment[len(key):]
			text := bytes.TrimLeft(rest, " \t")
			switch {
			case len(text) == 0:
			case text[0] == ':' || text[0] == '=':
				return s.class(text[1:]), true
			case i == 1 && len(text) < len(rest):
				return s.class(text), true
			}
		}
	}
	return s.bareWord(comment)
}

// bareWord reads a comment of one word.
func (s *sections) bareWord(comment []byte) (Class, bool) {
	const longest = 64
	if len(comment) > longest {
		return 0, false
	}
	for _, c := range comment {
		if c < 0x80 && (c|0x20 < 'a' || c|0x20 > 'z') {
			return 0, false
		}
	}
	known, ok := s.bare[string(comment)]
	if !ok {
		if word := spaced(comment); word != "" && strings.Count(word, " ") == 1 {
			known.class = s.find(word)
			known.section = known.class != Part || slices.ContainsFunc(bareWords, func(w string) bool { return strings.HasPrefix(word[1:], w) })
		}
		if len(s.bare) < maxKnown {
			s.bare[string(comment)] = known
		}
	}
	return known.class, known.section
}
