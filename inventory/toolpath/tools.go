package toolpath

// The filament that tools use.

// toolUse is the state of one tool.
type toolUse struct {
	Tool
	layer Use    // in the layer last begun
	back  Length // how far its position is below its highest one; negative, by less than least, if rounding has left it above
	used  Length
	box   Box

	register Length // E when another tool was picked
	flow     float64
	scaled   bool    // factor is not 1
	factor   float64 // mm of filament that 1 of E takes
	raw, mm  int64   // extruded since it was set: as E counts it, and as mm
}

// toolOf returns a tool.
func (m *machine) toolOf(tool int) *toolUse {
	for len(m.tools) <= tool {
		m.tools = append(m.tools, nil)
	}
	if m.tools[tool] == nil {
		m.tools[tool] = &toolUse{Tool: Tool{Tool: tool}, box: noBox, flow: 1}
		m.tools[tool].scale(m.perMM3)
	}
	return m.tools[tool]
}

// scale sets the tool's factor by its flow and M200.
func (t *toolUse) scale(perMM3 float64) {
	t.factor, t.raw, t.mm = t.flow, 0, 0
	if perMM3 != 0 {
		t.factor *= perMM3
	}
	t.scaled = t.factor != 1
}

// change carries out a T word.
func (m *machine) change(tool int) {
	if m.called && tool == m.tool {
		return
	}
	m.called, m.purging = true, true
	if tool == m.tool {
		return
	}
	m.now.register = m.register[axisE]
	m.tool, m.now = tool, m.toolOf(tool)
	if m.opts.OwnRegisters {
		m.register[axisE] = m.now.register
	}
	m.fresh = !m.opts.OwnRegisters
}

// maxPauses bounds the memory of pauses.
const maxPauses = 1000

// pause keeps a stop at which a person may change the filament of the tool in use.
func (m *machine) pause(word string) {
	switch {
	case m.now.used == 0:
	case m.stoppedAt(m.here().Line): // two words of one line stop once
	case len(m.file.Pauses) == maxPauses:
		m.note(NotePauses, "more than %d pauses; the others are left out", maxPauses)
	default:
		before := m.now.Use
		before.add(&m.now.layer)
		m.file.Pauses = append(m.file.Pauses, Pause{m.here(), word, before})
	}
}

func (m *machine) stoppedAt(line int) bool {
	n := len(m.file.Pauses)
	return n > 0 && m.file.Pauses[n-1].Line == line
}

// extrude counts what a move uses.
func (m *machine) extrude(used Length, moving bool, from *[axisE]Length) error {
	z := m.register[axisZ] + m.offset[axisZ]
	if moving {
		m.purging = false
		if m.layersBy == byZ && z > m.top {
			if err := m.rise(z, m.register[axisZ] > from[axisZ]); err != nil {
				return err
			}
		}
	}
	if !m.zKnown {
		m.layer.Z, m.zKnown = z, moving
	}
	class := m.section
	if m.purging {
		class = Purge
	}
	t := m.now
	if moving && class <= Support {
		m.enclose(&t.box, from)
	}
	reached := false
	if m.opts.Until.kind != nowhere || m.find != nil {
		used, reached = m.until(used)
	}
	if used > 0 {
		if m.tool != m.inUse {
			if err := m.use(); err != nil {
				return err
			}
		}
		t.layer[class] += used
		t.used += used
		m.total += used
		if !m.relativeE {
			m.absolute += used
		}
		if m.total > largest {
			return m.beyond('E')
		}
	}
	switch {
	case reached:
		return m.stop()
	case m.find != nil && m.find.left == 0 && m.layersBy == byNumbers:
		return errReached
	}
	return nil
}

// maxSequence bounds the memory of a sequence; at a change a second it is six weeks of printing.
const maxSequence = 1 << 22

// use begins the use of another tool.
func (m *machine) use() error {
	if m.inUse >= 0 {
		m.file.Changes++
		m.now.Changes++
	}
	m.inUse = m.tool
	if m.opts.Sequence {
		if len(m.file.Sequence) == maxSequence {
			return m.fault("read it without its sequence", "more than %d tool changes", maxSequence)
		}
		m.file.Sequence = append(m.file.Sequence, uint8(m.tool))
	}
	return nil
}

// answer returns what was read so far.
func (m *machine) answer() *File {
	file := m.file
	file.Sequence = append([]uint8(nil), m.file.Sequence...)
	file.Notes = append([]Note(nil), m.file.Notes...)
	file.Tools, file.Pauses = nil, nil
	if m.layersBy != byZ {
		file.Layers = m.layer.Layer
	}
	for _, t := range m.tools {
		if t == nil || t.used == 0 {
			continue
		}
		done := *t
		done.endLayer(max(m.layer.Layer, 1))
		if done.box != noBox {
			done.Box = &done.box
		}
		if m.layersBy == byZ {
			file.Layers = max(file.Layers, done.LastLayer)
		}
		file.Tools = append(file.Tools, done.Tool)
	}
	for _, p := range m.file.Pauses {
		if p.Before != file.Tool(p.Tool).Use {
			file.Pauses = append(file.Pauses, p)
		}
	}
	return &file
}
