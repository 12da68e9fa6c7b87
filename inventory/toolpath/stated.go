package toolpath

import (
	"bytes"
	"math"
	"slices"
	"strconv"
	"strings"
)

// What a file says of the filament that it takes: comments whose key has "filament" and "used" or "length", with figures in
// mm, m, mm3 or cm3, one, or one for each tool.

// quantity is what a figure is of.
type quantity uint8

const (
	nothing quantity = iota
	lengths          // in mm
	volumes          // in mm3
)

// units by their names in lower case, longest first.
var units = []struct {
	name     string
	quantity quantity
	size     float64
}{
	{"millimeters", lengths, 1}, {"millimetres", lengths, 1}, {"meters", lengths, 1000}, {"metres", lengths, 1000},
	{"mm^3", volumes, 1}, {"mm³", volumes, 1}, {"mm3", volumes, 1}, {"cm^3", volumes, 1000}, {"cm³", volumes, 1000}, {"cm3", volumes, 1000},
	{"mm\xb3", volumes, 1}, {"cm\xb3", volumes, 1000}, // Latin-1
	{"ccm", volumes, 1000}, {"cc", volumes, 1000}, {"ml", volumes, 1000}, {"mm", lengths, 1}, {"m", lengths, 1000},
}

// partial are beginnings of words of a key that is about something else than all filament of the print: a setting, or a part.
var partial = []string{"retract", "unretract", "deretract", "load", "unload", "change", "purg", "wipe", "tower", "ram", "park", "max", "min", "cut", "remain",
	"spool", "sensor", "flush", "prim", "support", "travel", "cost", "weight", "mass", "price", "per", "bowden", "tube", "start", "end", "diameter", "density", "extra",
	"restart", "swap", "layer", "skirt", "brim", "waste", "cool", "stamp"}

// statement is one sum.
type statement struct {
	quantity quantity
	value    float64 // mm or mm3
	rank     int     // the greater is the better
	line     int
}

// statements gathers what the comments of a file say.
type statements struct {
	best statement
	// tools sums keys that name one tool each.
	tools    map[string]statement
	diameter float64 // of the filament in mm, as comments have it
}

// maxStatedTools bounds the memory of tools.
const maxStatedTools = 256

const filament = "filament"

// read reads a comment, trimmed, of a line; 0 for what is no line of the text.
func (s *statements) read(text []byte, line int) {
	at := indexFold(text, filament)
	if at < 0 {
		return
	}
	lower := strings.ToLower(string(text))
	if len(lower) != len(text) { // of odd letters
		lower = string(text)
	}
	end := strings.IndexAny(lower[at:], ":=")
	if end >= 0 {
		end += at
	} else if end = firstFigure(lower, at); end < 0 {
		return
	}
	key, value := lower[:end], strings.TrimLeft(lower[end:], ":= \t")
	switch {
	case strings.Contains(key, "diameter"):
		if v, err := strconv.ParseFloat(numberPrefix(value), 64); err == nil && v > 0.1 && v < 10 && s.diameter == 0 {
			s.diameter = v
		}
	case strings.Contains(key, "used") || strings.Contains(key, "length"):
		s.add(key, value, line)
	}
}

// indexFold returns where a word in lower case stands first.
func indexFold(text []byte, word string) int {
	for i := 0; i+len(word) <= len(text); i++ {
		if text[i]|0x20 == word[0] && bytes.EqualFold(text[i:i+len(word)], []byte(word)) {
			return i
		}
	}
	return -1
}

// add reads the figures of a key.
func (s *statements) add(key, value string, line int) {
	tool, total := false, false
	unit, bracket := quantity(nothing), 0.0
	for _, word := range strings.FieldsFunc(key, func(r rune) bool { return strings.ContainsRune(" \t_-[](){}<>,;\"'/", r) }) {
		if q, size, n := unitOf(word); n == len(word) {
			unit, bracket = q, size
			continue
		}
		if slices.ContainsFunc(partial, func(p string) bool { return strings.HasPrefix(word, p) }) || word == "g" || word == "kg" {
			return
		}
		total = total || strings.HasPrefix(word, "total")
		tool = tool || strings.ContainsAny(word, "0123456789") || word == "left" || word == "right"
	}
	found := figures(value, unit, bracket)
	if found.value <= 0 || math.IsInf(found.value, 0) {
		return
	}
	found.line = line
	found.rank = 2 * int(volumes-found.quantity)
	found.rank *= 2
	switch {
	case tool:
		if s.tools == nil {
			s.tools = map[string]statement{}
		}
		if _, known := s.tools[key]; known || len(s.tools) < maxStatedTools {
			s.tools[key] = found
		}
		return
	case total:
		found.rank += 2
	default:
		found.rank++
	}
	if found.rank >= s.best.rank {
		s.best = found
	}
}

// unitOf returns the unit that a text begins with, and its length; 0 when it begins with none.
func unitOf(text string) (quantity, float64, int) {
	for _, u := range units {
		if strings.HasPrefix(text, u.name) {
			if rest := text[len(u.name):]; rest == "" || (rest[0] < 'a' || rest[0] > 'z') && !isDigit(rest[0]) {
				return u.quantity, u.size, len(u.name)
			}
		}
	}
	return nothing, 0, 0
}

// figures adds up the figures of a list. Each may have its unit behind it; without one it has that of the next that has, or
// that of the key. Figures in another unit than the first say the same again, or something else, as do those in parentheses.
func figures(value string, unit quantity, size float64) statement {
	sum, bare := statement{quantity: unit}, 0.0
	seen, depth := 0, 0
	if comma := strings.IndexByte(value, ','); comma >= 0 && strings.Count(value, ",") == 1 && !strings.Contains(value, ".") &&
		comma > 0 && isDigit(value[comma-1]) && comma+1 < len(value) && isDigit(value[comma+1]) {
		value = value[:comma] + "." + value[comma+1:] // a decimal comma
	}
	for i := 0; i < len(value); {
		switch c := value[i]; {
		case c == '(' && seen > 0:
			depth++
		case c == ')' && depth > 0:
			depth--
		case depth == 0 && startsFigure(value, i):
			text := numberPrefix(value[i:])
			i += len(text)
			v, err := strconv.ParseFloat(text, 64)
			rest := strings.TrimLeft(value[i:], " \t")
			if err != nil || strings.HasPrefix(rest, ":") { // the label of a tool
				continue
			}
			q, s, n := unitOf(rest)
			switch {
			case n > 0 && (sum.quantity == nothing || size == s && sum.quantity == q):
				sum.value, bare = sum.value+(v+bare)*s, 0
				sum.quantity, size = q, s
			case n > 0 && seen == 0: // the unit behind the figure goes before the key's
				sum.value, sum.quantity, size = v*s, q, s
			case n > 0, rest != "" && rest[0] >= 'a' && rest[0] <= 'z': // in another unit
				continue
			case sum.quantity != nothing:
				sum.value += v * size
			default:
				bare += v
			}
			seen++
			continue
		}
		i++
	}
	if sum.quantity == nothing {
		return statement{}
	}
	sum.value += bare * size
	return sum
}

// startsFigure reports whether a number begins at text[i]: not one within a word, as in T0.
func startsFigure(text string, i int) bool {
	if !isDigit(text[i]) && (text[i] != '.' || i+1 == len(text) || !isDigit(text[i+1])) {
		return false
	}
	if i == 0 {
		return true
	}
	c := text[i-1]
	return !isDigit(c) && (c|0x20 < 'a' || c|0x20 > 'z') && c != '_' && c != '#' && c != '.' && c != '^'
}

// firstFigure returns where the first number after i stands; -1 without any.
func firstFigure(text string, i int) int {
	for ; i < len(text); i++ {
		if startsFigure(text, i) {
			return i
		}
	}
	return -1
}

// numberPrefix returns the number that text begins with: digits with a point, perhaps an exponent with a sign.
func numberPrefix(text string) string {
	i := 0
	for i < len(text) && (isDigit(text[i]) || text[i] == '.') {
		i++
	}
	if i > 0 && i+2 < len(text) && text[i] == 'e' && (text[i+1] == '-' || text[i+1] == '+') && isDigit(text[i+2]) {
		for i += 2; i < len(text) && isDigit(text[i]); i++ {
		}
	}
	return text[:i]
}

// A claim is the total of a file by its own comments.
type claim struct {
	mm       float64 // 0: none
	line     int
	mm3      float64 // as stated, 0 when a length was
	diameter float64 // of the filament, as comments have it; 0 when they don't
}

// diameters of filament that are common practice, in mm.
var diameters = []float64{1.75, 2.85, 3}

// total returns what the file states. A volume is turned into a length by the diameter that the file says, or that M200 has, or
// else the usual one that comes nearest to what was read.
func (s *statements) total(read, diameter float64) claim {
	best := s.best
	var tools statement
	for _, t := range s.tools {
		switch {
		case t.quantity == tools.quantity:
			tools.value += t.value
		case tools.quantity != lengths:
			tools = t
		}
		tools.line = max(tools.line, t.line)
	}
	if tools.quantity != nothing && (best.quantity == nothing || best.quantity == volumes && tools.quantity == lengths) {
		best = tools
	}
	c := claim{line: best.line, diameter: s.diameter}
	switch best.quantity {
	case lengths:
		c.mm = best.value
	case volumes:
		c.mm3 = best.value
		if diameter == 0 {
			diameter = s.diameter
		}
		for _, d := range diameters {
			if mm := best.value / area(d); diameter == 0 && (c.mm == 0 || math.Abs(mm-read) < math.Abs(c.mm-read)) {
				c.mm = mm
			}
		}
		if diameter != 0 {
			c.mm = best.value / area(diameter)
		}
	}
	return c
}

// area returns that of a circle.
func area(diameter float64) float64 { return math.Pi / 4 * diameter * diameter }

// length returns the claim as a Length.
func (c claim) length() Length { return rounded(min(c.mm, 1e9) * float64(MM)) }

// volumeOf returns the diameter of the filament if what was read, taken as mm3, agrees with what is stated; 0 if not.
func (c claim) volumeOf(read float64) float64 {
	near := func(a, b float64) bool { return a > 0 && b > 0 && max(a/b, b/a) <= 1.05 }
	if c.mm3 > 0 {
		if !near(read, c.mm3) {
			return 0
		}
		if c.diameter > 0 {
			return c.diameter
		}
		return diameters[0]
	}
	for _, d := range append([]float64{c.diameter}, diameters...) {
		if d > 0 && near(read/area(d), c.mm) {
			return d
		}
	}
	return 0
}
