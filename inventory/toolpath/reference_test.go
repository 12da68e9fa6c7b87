package toolpath_test

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// A second reader, written from section 7 of the design alone: slow, simple, in floats, with the whole file as a string. It
// knows no bad input.

type refTool struct {
	classes     map[string]float64
	first, last int
}

type reference struct {
	layers   int
	tools    map[int]*refTool
	sequence []int
	heights  []float64 // Z of each layer begun
}

var (
	refComment = regexp.MustCompile(`;.*|\([^)]*\)`)
	refWord    = regexp.MustCompile(`[A-Z]\s*(?:[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))?`)
	refSection = regexp.MustCompile(`(?i)^[;(][ \t]*(?:type|feature|role|section)[ \t]*[:=](.*)`)
	refLineEnd = regexp.MustCompile(`\r\n|\n|\r`)
	refClasses = []struct {
		class string
		words *regexp.Regexp
	}{
		{"purge", regexp.MustCompile(`(?i)(^|[^a-z0-9])(purge|flush)`)},
		{"prime", regexp.MustCompile(`(?i)(^|[^a-z0-9])(prime|wipe|tower)`)},
		{"support", regexp.MustCompile(`(?i)(^|[^a-z0-9])support`)},
	}
)

const tiny = 1e-7 // mm; floats come no nearer

func refer(text string) *reference {
	ref := &reference{tools: map[int]*refTool{}}
	scale, perMM3 := 1.0, 1.0
	absolute, absoluteE := true, true
	at := map[byte]float64{}      // X, Y, Z, E registers in mm
	position := map[int]float64{} // of each tool
	highest := map[int]float64{}  // of each tool
	tool, called := 0, false
	afterChange := false
	class := "part"
	top, below := math.Inf(-1), 0.0 // highest Z of moving extrusions; Z of the layer before the last begun

	for _, line := range refLineEnd.Split(text, -1) {
		nextClass := ""
		for _, span := range refComment.FindAllStringIndex(line, -1) {
			section := refSection.FindStringSubmatch(strings.TrimSuffix(line[span[0]:span[1]], ")"))
			if section == nil {
				continue
			}
			found := "part"
			for _, c := range slices.Backward(refClasses) {
				if c.words.MatchString(section[1]) {
					found = c.class
				}
			}
			if strings.Trim(refComment.ReplaceAllString(line[:span[0]], ""), " \t") == "" {
				class = found
			} else {
				nextClass = found
			}
		}
		code, _, _ := strings.Cut(refComment.ReplaceAllString(line, " "), "*")
		command := ""
		words := map[byte]float64{}
		for i, word := range refWord.FindAllString(strings.ToUpper(code), -1) {
			letter := word[0]
			value, err := strconv.ParseFloat(strings.TrimSpace(word[1:]), 64)
			number := ""
			if err == nil {
				number = strconv.FormatFloat(value, 'f', -1, 64)
			}
			name := string(letter) + number
			switch {
			case letter == 'N' && i == 0:
			case name == "G20":
				scale = 25.4
			case name == "G21":
				scale = 1
			case name == "G90" || name == "G91":
				absolute, absoluteE = name == "G90", name == "G90"
			case name == "M82" || name == "M83":
				absoluteE = name == "M82"
			case letter == 'G' || letter == 'M' || letter == 'T' && command == "":
				command = name
			default:
				words[letter] = value
			}
		}

		switch {
		case command == "":
		case command[0] == 'T':
			n, _ := strconv.Atoi(command[1:])
			if !called || n != tool {
				afterChange = true
			}
			tool, called = n, true
		case command == "M600":
			afterChange = true
		case command == "M200":
			if d, ok := words['D']; ok && d > 0 {
				perMM3 = 1 / (math.Pi * d * d / 4)
			} else if ok {
				perMM3 = 1
			}
		case command == "G92":
			if len(words) == 0 {
				at = map[byte]float64{}
			}
			for letter, value := range words {
				at[letter] = value * scale
			}
		case command == "G0" || command == "G1" || command == "G2" || command == "G3":
			from := map[byte]float64{'X': at['X'], 'Y': at['Y'], 'Z': at['Z'], 'E': at['E']}
			for _, letter := range []byte("XYZE") {
				value, ok := words[letter]
				value *= scale
				switch {
				case !ok:
				case letter == 'E' && absoluteE, letter != 'E' && absolute:
					at[letter] = value
				default:
					at[letter] += value
				}
			}
			moving := math.Abs(at['X']-from['X']) > tiny || math.Abs(at['Y']-from['Y']) > tiny
			if command == "G2" || command == "G3" {
				moving = moving || words['I'] != 0 || words['J'] != 0
			}
			position[tool] += (at['E'] - from['E']) * perMM3
			used := position[tool] - highest[tool]
			if used < tiny {
				break
			}
			highest[tool] = position[tool]

			z, climbs := at['Z'], at['Z'] > from['Z']+tiny
			if moving {
				if !climbs && z > top+tiny {
					if len(ref.heights) > 0 {
						below = ref.heights[len(ref.heights)-1]
					}
					ref.heights = append(ref.heights, z)
				}
				if climbs && len(ref.heights) > 0 {
					last := ref.heights[len(ref.heights)-1]
					height := last - below
					for height > tiny && z > last+height-tiny && z > top+tiny {
						below, last = last, last+height
						ref.heights = append(ref.heights, last)
					}
				}
				top = max(top, z)
				afterChange = false
			}
			layer := max(len(ref.heights), 1)
			ref.layers = layer
			if ref.tools[tool] == nil {
				ref.tools[tool] = &refTool{map[string]float64{}, layer, layer}
			}
			t := ref.tools[tool]
			t.last = layer
			if afterChange {
				t.classes["purge"] += used
			} else {
				t.classes[class] += used
			}
			if n := len(ref.sequence); n == 0 || ref.sequence[n-1] != tool {
				ref.sequence = append(ref.sequence, tool)
			}
		}
		if nextClass != "" {
			class = nextClass
		}
	}
	return ref
}
