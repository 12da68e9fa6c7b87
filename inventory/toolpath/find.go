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

// Find returns where a tool would use more than a length: where a spool with just that much on it runs out. It returns
// nil when the file does not use so much.
func Find(r io.Reader, name string, o Options, tool int, length Length) (*Point, error) {
	o.Until = AtTool(tool, length)
	f, err := Read(r, name, o)
	if err != nil {
		return nil, err
	}
	return f.Stopped, nil
}

// until returns what may still be used of a move, and whether the stop is reached within it.
func (m *machine) until(used Length) (Length, bool) {
	var before Length
	switch stop := m.opts.Until; {
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
