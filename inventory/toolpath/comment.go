package toolpath

import "bytes"

// Comments say what the moves are for, where layers begin, and what filament the file takes.

// maxComment is how many bytes of a comment are read. Thumbnails are longer, but say nothing here.
const maxComment = 4096

// comment reads a comment without its delimiters. After a command it takes effect on the next line.
func (m *machine) comment(text []byte) error {
	text = bytes.Trim(text[:min(len(text), maxComment)], " \t")
	if len(text) == 0 {
		return nil
	}
	if class, ok := m.words.section(text); ok {
		m.pending, m.turned, m.next = true, true, class
	}
	by, number := layerComment(text)
	if same := by != byChanges && by == m.layersBy && number == m.number; by > byZ && by >= m.layersBy && !same {
		m.pending, m.layerBy, m.nextNumber = true, by, number
	}
	m.stated.read(text, m.file.Lines)
	if m.pending && !m.begun {
		return m.turn()
	}
	return nil
}

// turn carries out the comments that are pending.
func (m *machine) turn() error {
	if m.turned {
		m.section, m.turned = m.next, false
		if !m.sectioned { // what came before may be a line of priming beside the print
			m.sectioned = true
			for _, t := range m.tools {
				if t != nil {
					t.box = noBox
				}
			}
		}
	}
	by := m.layerBy
	m.pending, m.layerBy = false, byZ
	if by == byZ {
		return nil
	}
	line := m.file.Lines
	if m.begun {
		line++
	}
	return m.layerSaid(by, m.nextNumber, line)
}
