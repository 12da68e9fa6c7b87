package ledger

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Text that a reader takes for another: characters that nobody sees, and letters of two scripts in one word, some of which look
// alike. It may be meant, so it is told and recorded all the same.

// freeText are the columns that hold sentences, in which words of any script may meet; the others hold ids and names.
var freeText = []string{"note", "why", "shop_lines", "value", "file"}

// unseen says what a reader of a field may not see; blank when there is nothing. Control characters, which recording refuses, may
// stand in a book that was written by other means.
func unseen(column, s string) string {
	control := func(r rune) bool { return Forbidden(r) && !strings.ContainsRune("\t\r\n", r) } // line ends in a field are read
	if i := strings.IndexFunc(s, control); i >= 0 {
		r, _ := utf8.DecodeRuneInString(s[i:])
		return fmt.Sprintf("%s %s holds the control character %U", column, quoted(s), r)
	}
	if isASCII(s) {
		return ""
	}
	if r, ok := invisible(s); ok {
		return fmt.Sprintf("%s %s holds the invisible character %U", column, quoted(s), r)
	}
	if !slices.Contains(freeText, column) {
		if scripts := mixed(s); scripts != nil {
			return fmt.Sprintf("%s %s mixes letters of %s in one word, which may look alike", column, quoted(s), strings.Join(scripts, " and "))
		}
	}
	return ""
}

func isASCII(s string) bool {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// Joiners shape the letters of some scripts, and make one picture of several.
const (
	zwnj = '\u200c'
	zwj  = '\u200d'
)

// firstJoined is the first character of the scripts, from Hebrew on, and of the pictures that joiners stand between.
const firstJoined = '\u0590'

// invisible returns the first character of s that shows nothing: of Default_Ignorable_Code_Point (Unicode Standard, 5.21; derived
// as in DerivedCoreProperties.txt) those that are no variation selectors, which choose the form of the character before them, and
// no joiners in their place.
func invisible(s string) (rune, bool) {
	before := rune(0)
	for _, r := range s {
		joins := (r == zwnj || r == zwj) && before >= firstJoined
		ignorable := unicode.Is(unicode.Cf, r) && !unicode.Is(unicode.Prepended_Concatenation_Mark, r) || unicode.Is(unicode.Other_Default_Ignorable_Code_Point, r)
		if ignorable && !joins {
			return r, true
		}
		before = r
	}
	return 0, false
}

// together are the scripts that one word of a language is written in (Unicode Technical Standard 39, 5.1, augmented script sets).
var together = [][]string{{"Han", "Hiragana", "Katakana"}, {"Bopomofo", "Han"}, {"Han", "Hangul"}}

// mixed returns the scripts of the first word of s that mixes several, by mixed-script detection as in Unicode Technical
// Standard 39, 5.1, with the property Script. A word ends where neither letter nor mark stands, so that names of words in several
// scripts, as in many shops, are left alone; digits are of no script.
func mixed(s string) []string {
	for _, word := range strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) }) {
		if isASCII(word) {
			continue
		}
		scripts := scriptsOf(word)
		written := func(set []string) bool {
			return !slices.ContainsFunc(scripts, func(script string) bool { return !slices.Contains(set, script) })
		}
		if len(scripts) > 1 && !slices.ContainsFunc(together, written) {
			return scripts
		}
	}
	return nil
}

// scriptsOf returns the scripts of the letters of a word, in the order of their names.
func scriptsOf(word string) (scripts []string) {
	for _, r := range word {
		for script, table := range unicode.Scripts {
			if script != "Common" && script != "Inherited" && unicode.Is(table, r) && !slices.Contains(scripts, script) {
				scripts = append(scripts, script)
			}
		}
	}
	slices.Sort(scripts)
	return scripts
}

// eachUnseen calls each with what a reader of a row may not see. columns are those of the row's type.
func eachUnseen(columns []string, r row, each func(what string)) {
	for i, f := range r.columns() {
		if text, ok := f.(*textField); ok {
			if what := unseen(columns[i], string(*text)); what != "" {
				each(what)
			}
		}
	}
}

// mostUnseen bounds the notes about one batch: a sheet may hold the same slip in every row.
const mostUnseen = 20

// Unseen returns what a reader of the batch may not see, each once, and how to mend it once it is recorded.
func Unseen(b Batch) (notes []string) {
	mend := "mend the row by hand"
	if b.Cancels() {
		mend = "cancel the row and type it anew"
	}
	noted := map[string]bool{}
	b.eachRow(func(r row) {
		eachUnseen(columnsOf(r), r, func(what string) {
			if !noted[what] && len(noted) < mostUnseen {
				notes = append(notes, what+"; if it was not meant, "+mend)
			}
			noted[what] = true
		})
	})
	if more := len(noted) - len(notes); more > 0 {
		notes = append(notes, fmt.Sprintf("%d more texts hold such characters; see them with: tarebook verify", more))
	}
	return notes
}
