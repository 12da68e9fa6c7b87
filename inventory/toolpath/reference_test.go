package toolpath_test

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory/toolpath"
)

// A second reader, written from section 7 of the design alone: slow, simple, in floats, with the whole file as a string. It
// knows no bad input.

type refTool struct {
	classes     map[string]float64
	first, last int
	box         [][3]float64 // every point that the box must hold, and no more on each side
}

// agrees reports whether a box is the least one around the points.
func (r *refTool) agrees(b *toolpath.Box) bool {
	if b == nil || len(r.box) == 0 {
		return b == nil && len(r.box) == 0
	}
	low, high := r.box[0], r.box[0]
	for _, p := range r.box {
		for a := range p {
			low[a], high[a] = min(low[a], p[a]), max(high[a], p[a])
		}
	}
	return near(b.XMin, low[0]) && near(b.XMax, high[0]) && near(b.YMin, low[1]) && near(b.YMax, high[1]) && near(b.ZMax, high[2])
}

type reference struct {
	comments bool // layers are begun by comments
	layers   int
	tools    map[int]*refTool
	sequence []int
	heights  []float64 // Z of each layer begun
}

var (
	refComment = regexp.MustCompile(`;.*|\([^)]*\)`)
	refWord    = regexp.MustCompile(`[A-Z]\s*(?:[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))?`)
	refSection = regexp.MustCompile(`(?i)^[;(][ \t]*(?:(?:type|feature|role|section)[ \t]*[:=](.*)|feature[ \t]+([^ \t].*))`)
	refQuoted  = regexp.MustCompile(`^[;(][ \t]*(?:'([^']+)'|"([^"]+)")`)
	refBare    = regexp.MustCompile(`(?i)^[;(][ \t]*((?:purge|flush|prime|wipe|tower|support|part|perimeter|wall|skin|infill|skirt|brim|raft)[a-z]*)[ \t]*$`)
	refLayer   = regexp.MustCompile(`(?i)^[;(][^a-z0-9]*layer[^a-z0-9.,]*?(-?[0-9]+)(?:$|[^a-z0-9.]|\.$|\.[^0-9])`)
	refChange  = regexp.MustCompile(`(?i)^[;(][ \t]*layer[ _]change(?:$|[^a-z0-9_])`)
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
	absolute, m82 := true, true
	at := map[byte]float64{}      // X, Y, Z, E registers in mm
	position := map[int]float64{} // of each tool
	highest := map[int]float64{}  // of each tool
	tool, called := 0, false
	afterChange := false
	class := "part"
	top, below := math.Inf(-1), 0.0 // highest Z of moving extrusions; Z of the layer before the last begun

	lines := refLineEnd.Split(text, -1)
	marks, sections := refMarks(lines)
	ref.comments = len(marks) > 0
	begun := 0 // layers that comments have begun
	flow := map[int]float64{}
	offset := map[byte]float64{} // where the machine is, less the register
	for number, line := range lines {
		begun += marks[number]
		if len(sections) > 0 && number == sections[0] {
			for _, t := range ref.tools {
				t.box = nil
			}
		}
		nextClass := ""
		for _, span := range refComment.FindAllStringIndex(line, -1) {
			words, is := refWords(strings.TrimSuffix(line[span[0]:span[1]], ")"))
			if !is {
				continue
			}
			found := "part"
			for _, c := range slices.Backward(refClasses) {
				if c.words.MatchString(words) {
					found = c.class
				}
			}
			if refBefore(line[:span[0]]) {
				class = found
			} else {
				nextClass = found
			}
		}
		code, _, _ := strings.Cut(refComment.ReplaceAllString(line, " "), "*")
		command := ""
		words := map[byte]float64{}
		code = strings.ReplaceAll(strings.ToUpper(code), "T0_PARK", "")
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
				absolute = name == "G90"
			case name == "M82" || name == "M83":
				m82 = name == "M82"
			case letter == 'G' || letter == 'M' || letter == 'T' && command == "":
				command = name
				if number == "" && strings.Contains(word, "-") {
					command = ""
				}
			default:
				words[letter] = value
			}
		}

		switch {
		case command == "":
		case command[0] == 'T' && (command == "T1000" || command == "T-1"):
		case command == "M221":
			t, ok := words['T']
			if !ok {
				t = float64(tool)
			}
			flow[int(t)] = words['S'] / 100
		case command == "G28":
			_, x := words['X']
			_, z := words['Z']
			for _, axis := range []byte("XYZ") {
				if !x && !z || axis == 'X' && x || axis == 'Z' && z {
					at[axis], offset[axis] = 0, 0
				}
			}
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
				words = map[byte]float64{'X': 0, 'Y': 0, 'Z': 0, 'E': 0}
			}
			for letter, value := range words {
				offset[letter] += at[letter] - value*scale
				at[letter] = value * scale
			}
		case command == "G0" || command == "G1" || command == "G2" || command == "G3":
			from := map[byte]float64{'X': at['X'], 'Y': at['Y'], 'Z': at['Z'], 'E': at['E']}
			for _, letter := range []byte("XYZE") {
				value, ok := words[letter]
				value *= scale
				switch {
				case !ok:
				case letter == 'E' && m82 && absolute, letter != 'E' && absolute:
					at[letter] = value
				default:
					at[letter] += value
				}
			}
			moving := math.Abs(at['X']-from['X']) > tiny || math.Abs(at['Y']-from['Y']) > tiny
			if command == "G2" || command == "G3" {
				moving = moving || words['I'] != 0 || words['J'] != 0
			}
			share, ok := flow[tool]
			if !ok {
				share = 1
			}
			position[tool] += (at['E'] - from['E']) * perMM3 * share
			used := position[tool] - highest[tool]
			if used < tiny {
				break
			}
			highest[tool] = position[tool]

			z, climbs := at['Z']+offset['Z'], at['Z'] > from['Z']+tiny
			if moving {
				if ref.comments {
					climbs = false
				} else if !climbs && z > top+tiny {
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
			if ref.comments {
				layer = max(begun, 1)
			}
			ref.layers = layer
			if ref.tools[tool] == nil {
				ref.tools[tool] = &refTool{classes: map[string]float64{}, first: layer, last: layer}
			}
			t := ref.tools[tool]
			t.last = layer
			if afterChange {
				t.classes["purge"] += used
			} else {
				t.classes[class] += used
			}
			if moving && (class == "part" || class == "support") {
				var path [][3]float64
				for _, p := range refPath(command, from, at, words, scale) {
					path = append(path, [3]float64{p[0] + offset['X'], p[1] + offset['Y'], p[2] + offset['Z']})
				}
				t.box = append(t.box, path...)
			}
			if n := len(ref.sequence); n == 0 || ref.sequence[n-1] != tool {
				ref.sequence = append(ref.sequence, tool)
			}
		}
		if nextClass != "" {
			class = nextClass
		}
	}
	if ref.comments {
		ref.layers = begun
	}
	return ref
}

// refBefore reports whether a comment behind such text stands before all commands of its line.
func refBefore(text string) bool {
	text = strings.Trim(refComment.ReplaceAllString(text, ""), " \t")
	return text == ""
}

// refWords returns the words of a section comment.
func refWords(comment string) (string, bool) {
	for _, form := range []*regexp.Regexp{refSection, refQuoted, refBare} {
		if found := form.FindStringSubmatch(comment); found != nil {
			return strings.Join(found[1:], " "), true
		}
	}
	return "", false
}

// refMarks returns how many layers comments begin before each line, and before which lines sections begin.
func refMarks(lines []string) (map[int]int, []int) {
	numbered, changes := map[int]int{}, map[int]int{}
	var sections []int
	last := ""
	for i, line := range lines {
		for _, span := range refComment.FindAllStringIndex(line, -1) {
			comment, at := strings.TrimSuffix(line[span[0]:span[1]], ")"), i
			if !refBefore(line[:span[0]]) {
				at++
			}
			if _, is := refWords(comment); is {
				sections = append(sections, at)
			}
			if found := refLayer.FindStringSubmatch(comment); found != nil && found[1] != last {
				last = found[1]
				numbered[at]++
			}
			if refChange.MatchString(comment) {
				changes[at]++
			}
		}
	}
	if len(numbered) > 0 {
		return numbered, sections
	}
	return changes, sections
}

// refPath returns the ends of a move and, of an arc, the points on the way that lie farthest out, by plain trigonometry.
func refPath(command string, from, to map[byte]float64, words map[byte]float64, scale float64) [][3]float64 {
	x0, y0, x1, y1 := from['X'], from['Y'], to['X'], to['Y']
	path := [][3]float64{{x0, y0, from['Z']}, {x1, y1, to['Z']}}
	if command != "G2" && command != "G3" {
		return path
	}
	i, hasI := words['I']
	j, hasJ := words['J']
	cx, cy := x0+i*scale, y0+j*scale
	chord := math.Hypot(x1-x0, y1-y0)
	switch {
	case hasI || hasJ:
	case chord == 0:
		return path
	default:
		r := words['R'] * scale
		// The centre lies on the middle line of the chord; of the two, the one that makes the wanted arc.
		h := math.Sqrt(max(0, r*r-chord*chord/4))
		side := 1.0
		if (command == "G2") == (r > 0) {
			side = -1
		}
		cx, cy = (x0+x1)/2-side*h*(y1-y0)/chord, (y0+y1)/2+side*h*(x1-x0)/chord
	}
	r := math.Hypot(x0-cx, y0-cy)
	if r == 0 {
		return path
	}
	start, end := math.Atan2(y0-cy, x0-cx), math.Atan2(y1-cy, x1-cx)
	turn := end - start
	if command == "G3" {
		for turn <= 1e-12 && !(chord > 0 && turn > -1e-12) {
			turn += 2 * math.Pi
		}
	} else {
		for turn >= -1e-12 && !(chord > 0 && turn < 1e-12) {
			turn -= 2 * math.Pi
		}
	}
	for quarter := -8; quarter <= 8; quarter++ { // the directions of the axes within the turn
		angle := float64(quarter) * math.Pi / 2
		if part := (angle - start) / turn; part >= -1e-9 && part <= 1+1e-9 {
			path = append(path, [3]float64{cx + r*math.Cos(angle), cy + r*math.Sin(angle), to['Z']})
		}
	}
	return path
}
