package sheet

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Number is a number of no sign as a cell has it: digits, perhaps a dot and digits, and the unit or the currency written
// beside it.
type Number struct {
	Text string // 1234.5
	Unit string // as it stands there, without a dot at its end
}

// Number reads a cell by the sheet's decimal mark.
func (f *Forms) Number(cell string) (Number, error) {
	body, unit, err := split(cell)
	if err != nil {
		return Number{}, err
	}
	decimal := f.Decimal
	if decimal == 0 {
		decimal = '.' // no number of the sheet has a mark of either kind
	}
	text, ok := plain(body, decimal)
	if !ok {
		return Number{}, wrong(0, example(decimal), "%s is not a number with a decimal %s", quoted(cell), markName(decimal))
	}
	return Number{text, unit}, nil
}

func example(decimal rune) string {
	if decimal == ',' {
		return "write it as 1234,5"
	}
	return "write it as 1234.5"
}

func markName(mark rune) string {
	if mark == ',' {
		return "comma"
	}
	return "point"
}

func quoted(s string) string {
	if utf8.RuneCountInString(s) > 40 {
		s = string([]rune(s)[:40]) + "..."
	}
	return fmt.Sprintf("%q", s)
}

// split parts a number from what is written before or after it: 1.234,5 g, EUR 24.90.
func split(cell string) (body, unit string, err error) {
	notNumber := func() (string, string, error) {
		return "", "", wrong(0, "write a number", "%s is not a number", quoted(cell))
	}
	digit := func(r rune) bool { return r >= '0' && r <= '9' }
	from, last := strings.IndexFunc(cell, digit), strings.LastIndexFunc(cell, digit)
	if from < 0 {
		return notNumber()
	}
	if from > 0 && (cell[from-1] == '.' || cell[from-1] == ',') { // ,5
		from--
	}
	before, after := strings.TrimSpace(cell[:from]), strings.TrimSpace(cell[last+1:])
	if before == "-" || before == "\u2212" || strings.HasPrefix(before, "(") && after == ")" {
		return "", "", wrong(0, "leave the row out, or write what it is", "%s is below 0", quoted(cell))
	}
	if unit = before + strings.TrimSuffix(after, "."); before != "" && after != "" || after == "." {
		return notNumber()
	}
	for _, r := range unit {
		if !unicode.IsLetter(r) && !unicode.Is(unicode.Sc, r) {
			return notNumber()
		}
	}
	body = cell[from : last+1]
	if i := strings.IndexAny(body, "eE"); i >= 0 {
		if rest := strings.Trim(body, "0123456789.,+-"); rest == "e" || rest == "E" {
			return "", "", wrong(0, "show the column as a plain number and save again", "%s has an exponent", quoted(cell))
		}
	}
	return body, unit, nil
}

// ofGroups tells the marks that may part groups of three digits besides comma and point, each as the one it stands for.
func ofGroups(r rune) rune {
	switch r {
	case ' ', '\u00a0', '\u202f', '\u2009':
		return ' '
	case '\'', '\u2019':
		return '\''
	}
	return r
}

// plain returns a number with a dot and without groups, by the decimal mark; false for what is none.
func plain(body string, decimal rune) (string, bool) {
	var b strings.Builder
	group, run, groups, seen := rune(0), 0, 0, false // the mark between groups, the digits since the last mark
	for _, r := range body {
		r = ofGroups(r)
		switch {
		case r >= '0' && r <= '9':
			b.WriteRune(r)
			run++
		case r == decimal && !seen:
			if seen = true; groups > 0 && run != 3 || groups == 0 && run == 0 && b.Len() > 0 {
				return "", false
			}
			if b.Len() == 0 {
				b.WriteByte('0')
			}
			b.WriteByte('.')
			run = 0
		case !seen && (r == ',' || r == '.' || r == ' ' || r == '\'') && (group == 0 || group == r):
			first := groups == 0
			if first && (run < 1 || run > 3 || b.String()[0] == '0') || !first && run != 3 {
				return "", false
			}
			group = r
			groups++
			run = 0
		default:
			return "", false
		}
	}
	if run == 0 || !seen && groups > 0 && run != 3 {
		return "", false
	}
	return b.String(), true
}

// readings tells how a number may be read: with a decimal comma, with a decimal point, or both ways with different outcomes.
func readings(body string) (comma, point, either bool) {
	if !strings.ContainsAny(body, ",.") {
		return false, false, false
	}
	a, asComma := plain(body, ',')
	b, asPoint := plain(body, '.')
	either = asComma && asPoint && a != b
	return asComma && !asPoint, asPoint && !asComma, either
}
