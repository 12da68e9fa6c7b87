package toolpath

import "bytes"

// Comments begin layers if the file has such comments, numbered ones before others; only otherwise Z does. A file is read once, so the
// first comment of a better kind corrects what was counted before it: all of that belongs to the first layer.

// layersBy says what begins layers. A greater value takes precedence.
type layersBy uint8

const (
	byZ       layersBy = iota
	byNames            // comments such as: layer num/total: 12/150
	byChanges          // comments such as: layer change
	byNumbers          // comments such as: layer 12
)

// layerComment returns which kind of layer comment a trimmed comment is, and its number; byZ if it is none.
func layerComment(text []byte) (layersBy, int64) {
	const key = "layer"
	i := 0
	for i < len(text) && (isPunct(text[i]) || text[i] == ' ' || text[i] == '\t') {
		i++
	}
	if len(text) < i+len(key) || text[i]|0x20 != 'l' || !bytes.EqualFold(text[i:i+len(key)], []byte(key)) {
		return byZ, 0
	}
	if i == 0 {
		for _, change := range []string{"layer change", "layer_change"} {
			if n := len(change); len(text) >= n && bytes.EqualFold(text[:n], []byte(change)) && !isName(text[n:]) {
				return byChanges, 0
			}
		}
	}
	rest := text[i+len(key):]
	if number, ok := wholeNumber(rest); ok {
		return byNumbers, number
	}
	if number, ok := wholeNumber(afterNum(rest)); ok {
		return byNames, number
	}
	return byZ, 0
}

// afterNum returns the text from the colon on, if text begins with num:, number: or num/NAME:, which some files write between the word
// layer and its number; else nil.
func afterNum(text []byte) []byte {
	word := bytes.TrimLeft(text, " \t_")
	colon := bytes.IndexByte(word, ':')
	if len(word) == len(text) || colon < 0 {
		return nil
	}
	name, _, _ := bytes.Cut(word[:colon], []byte("/"))
	if bytes.ContainsAny(word[:colon], " \t") || !bytes.EqualFold(name, []byte("num")) && !bytes.EqualFold(name, []byte("number")) {
		return nil
	}
	return word[colon:]
}

func isPunct(c byte) bool {
	return c > ' ' && c < 0x7f && !isDigit(c) && (c|0x20 < 'a' || c|0x20 > 'z')
}

// isName reports whether rest continues the word before it or assigns a value to it, as a setting does.
func isName(rest []byte) bool {
	if len(rest) > 0 && (rest[0] == '_' || rest[0] >= 0x80 || isDigit(rest[0]) || rest[0] > ' ' && !isPunct(rest[0])) {
		return true
	}
	rest = bytes.TrimLeft(rest, " \t")
	return len(rest) > 0 && rest[0] == '='
}

// wholeNumber reads the whole number that text begins with after signs and blanks; there must be at least one of these.
func wholeNumber(text []byte) (n int64, ok bool) {
	i := 0
	for i < len(text) && (text[i] == ' ' || text[i] == '\t' || isPunct(text[i]) && text[i] != '.' && text[i] != ',') {
		i++
	}
	d := digits(text[i:])
	if i == 0 || d == 0 {
		return 0, false
	}
	for _, c := range text[i : i+d] {
		n = min(n*10+int64(c-'0'), 1e15)
	}
	if text[i-1] == '-' {
		n = -n
	}
	rest := text[i+d:]
	switch {
	case len(rest) == 0:
		return n, true
	case rest[0] == '.' && len(rest) > 1 && isDigit(rest[1]), rest[0] >= 0x80, rest[0] > ' ' && !isPunct(rest[0]):
		return 0, false
	}
	return n, true
}

// layerSaid carries out a comment that begins a layer on a line.
func (m *machine) layerSaid(by layersBy, number int64, line int) error {
	if by != m.layersBy {
		if done := m.startLayersAnew(); done {
			return errReached
		}
		m.layersBy = by
		m.file.ByComments = true
	}
	m.number = number
	return m.begin(1, m.register[axisZ]+m.offset[axisZ], 0, line)
}

// startLayersAnew makes all layers so far part of the first one. It reports whether the stop was reached before.
func (m *machine) startLayersAnew() bool {
	for _, t := range m.tools {
		if t != nil {
			t.layer.add(&t.Use)
			t.Use = Use{}
			t.FirstLayer, t.LastLayer = 0, 0
		}
	}
	m.layer, m.kept = Layer{}, nil
	for i := range m.file.Pauses {
		m.file.Pauses[i].Layer = 1
	}
	if m.find != nil {
		m.find.startLayersAnew()
	}
	if m.stopped == nil {
		return false
	}
	if m.opts.Until.kind == afterLayer { // the layers that it counted were none
		m.stopped = nil
		return false
	}
	m.stopped.Layers, m.stopped.Stopped.Layer = 1, 1
	for i := range m.stopped.Tools {
		m.stopped.Tools[i].FirstLayer, m.stopped.Tools[i].LastLayer = 1, 1
	}
	return true
}

// rise is called where Z begins layers, for each moving extrusion that ends above all earlier ones.
func (m *machine) rise(z Length, climbing bool) error {
	m.top = z
	if !climbing {
		return m.begin(1, z, z-m.layer.Z, m.file.Lines)
	}
	// A spiral: the layers begun on the way are as high as the one before, however far apart its moves are.
	if m.height <= 0 {
		return nil
	}
	if n := (z - m.layer.Z) / m.height; n > 0 {
		return m.begin(int(n), m.layer.Z+n*m.height, m.height, m.file.Lines)
	}
	return nil
}

// begin begins n layers on a line. The present extrusion belongs to the last of them.
func (m *machine) begin(n int, z, height Length, line int) error {
	if until := m.opts.Until; until.kind == afterLayer && m.stopped == nil && m.layer.Layer+n > until.layer {
		if err := m.stop(); err != nil {
			return err
		}
	}
	if m.layer.Layer > 0 { // what was extruded before any layer belongs to the first
		if err := m.endLayer(); err != nil {
			return err
		}
	} else {
		m.before = m.total
	}
	m.layer = Layer{Layer: m.layer.Layer + n, Z: z, Line: line}
	m.height, m.zKnown = height, m.layersBy == byZ
	return nil
}

// endLayer ends the layer begun last. It calls Options.Layer, or keeps the layer as long as comments may show that it is none.
func (m *machine) endLayer() error {
	layer := m.layer
	layer.Layer = max(layer.Layer, 1)
	for _, t := range m.tools {
		if t == nil || t.layer == (Use{}) {
			continue
		}
		if m.opts.Layer != nil {
			layer.Tools = append(layer.Tools, Tool{Tool: t.Tool.Tool, Use: t.layer, FirstLayer: layer.Layer, LastLayer: layer.Layer})
		}
		t.endLayer(layer.Layer)
	}
	switch {
	case len(layer.Tools) == 0:
	case m.layersBy == byNumbers:
		return m.opts.Layer(layer)
	default:
		m.kept = append(m.kept, layer)
	}
	return nil
}

// endLayer adds what the tool used in the layer begun last to its total.
func (t *toolUse) endLayer(layer int) {
	if t.layer == (Use{}) {
		return
	}
	if t.FirstLayer == 0 {
		t.FirstLayer = layer
	}
	t.LastLayer = layer
	t.Use.add(&t.layer)
	t.layer = Use{}
}
