package toolpath

import "io"

type stopKind uint8

const (
	nowhere stopKind = iota
	atTool
	atTotal
	afterLayer
)

// A Stop is a place in a print at which reading ends. The zero value is its end. The move that passes a length is counted
// up to that length.
type Stop struct {
	kind   stopKind
	tool   int
	layer  int
	length Length
}

// AtTool stops where a tool would use more than a length.
func AtTool(tool int, length Length) Stop { return Stop{kind: atTool, tool: tool, length: length} }

// AtTotal stops where all tools together would use more than a length. For a percentage of the print take it of the
// total that an earlier reading told.
func AtTotal(length Length) Stop { return Stop{kind: atTotal, length: length} }

// AfterLayer stops where the first layer after layer n begins.
func AfterLayer(n int) Stop { return Stop{kind: afterLayer, layer: n} }

// Find returns where a tool would use more than each of the lengths, in one reading: where a spool with that much on it runs out or
// hands over to the next. A point is nil if the file does not use so much.
func Find(r io.Reader, name string, o Options, tool int, lengths ...Length) ([]*Point, error) {
	m := newMachine(name, o)
	m.find = &search{tool: tool, lengths: lengths, points: make([]*Point, len(lengths)), left: len(lengths)}
	if _, err := m.run(r); err != nil {
		return nil, err
	}
	return m.find.points, nil
}

// search looks for the points at which a tool has used each of some lengths.
type search struct {
	tool    int
	lengths []Length
	points  []*Point
	left    int // number of points that were not found yet
}

// reached is called when the tool's use grows to used.
func (s *search) reached(used Length, at Point) {
	for i, length := range s.lengths {
		if s.points[i] == nil && used > length {
			s.points[i] = &at
			s.left--
		}
	}
}

func (s *search) startLayersAnew() {
	for _, p := range s.points {
		if p != nil {
			p.Layer = 1
		}
	}
}

// here returns the present point.
func (m *machine) here() Point {
	return Point{Line: m.file.Lines, Layer: max(m.layer.Layer, 1), Z: m.layer.Z, Tool: m.tool}
}

// until returns how much of a move counts, and whether the stop is reached within it.
func (m *machine) until(used Length) (Length, bool) {
	if m.find != nil && m.find.tool == m.tool {
		m.find.reached(m.now.used+used, m.here())
	}
	var before Length
	switch stop := m.opts.Until; {
	case m.stopped != nil:
		return used, false
	case stop.kind == atTool && stop.tool == m.tool:
		before = m.now.used
	case stop.kind == atTotal:
		before = m.total
	default:
		return used, false
	}
	if left := m.opts.Until.length - before; used > left {
		return max(left, 0), true
	}
	return used, false
}

// stop keeps the result at the stop. Reading goes on as long as a later comment may show that the layers so far were none.
func (m *machine) stop() error {
	file := m.answer()
	at := m.here()
	file.Stopped = &at
	m.stopped = file
	if m.layersBy == byNumbers {
		return errReached
	}
	return nil
}
