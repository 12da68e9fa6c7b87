package toolpath

// What G, M and T commands set.

// start begins a command: what came before it on the line is carried out.
func (m *machine) start() error {
	m.begun = true
	if m.have != 0 || m.state == sets {
		return m.carryOut()
	}
	return nil
}

// startMove begins G0 to G3.
func (m *machine) startMove(code byte) {
	if code < 2 {
		code = 0
	}
	m.begun, m.state, m.arc = true, moves, code
	m.modal, m.modalArc = true, code
}

func (m *machine) commandG(b []byte, i int) (int, error) {
	tenths, next := code(b, i+1)
	if tenths < 0 || kinds[b[next]] == other {
		return m.stray(b, i)
	}
	if err := m.start(); err != nil {
		return i, err
	}
	switch tenths {
	case 0, 10, 20, 30:
		m.startMove(byte(tenths / 10))
	case 920:
		m.state, m.other = sets, false
	case 200, 210:
		m.inches = tenths == 200
	case 900, 910:
		m.relative = tenths == 910
		m.chooseE()
	case 170, 180, 190:
		m.sidePlane = tenths != 170
	case 280:
		m.state = bare
		end, err := m.skipWords(b, next)
		m.home(b, next, end)
		return end, err
	case 400, 490, 530, 540, 550, 560, 570, 580, 590, 640, 930, 940: // they take no words (NISTIR 6556, 3.5)
	case 700, 710: // the units of ISO 6983-1 (from memory)
		m.note(NoteUnit, "G%d is passed over; units are G20 for inches and G21 for mm", tenths/10)
		m.state = bare
		return m.skipWords(b, next)
	default:
		m.state = bare
		return m.skipWords(b, next)
	}
	return next, nil
}

// chooseE sets whether E words are relative.
func (m *machine) chooseE() { m.relativeE = m.onlyE || m.relative || m.opts.RelativeE }

// home carries out G28: the axes that it names, or all, stand at 0.
func (m *machine) home(b []byte, i, end int) {
	named := false
	for a := range axisE {
		if wordOf(b, i, end, axisLetters[a]) >= 0 {
			m.register[a], m.offset[a], named = 0, 0, true
		}
	}
	if !named {
		m.register[axisX], m.register[axisY], m.register[axisZ] = 0, 0, 0
		m.offset = [axisE]Length{}
	}
}

func (m *machine) commandM(b []byte, i int) (int, error) {
	tenths, next := code(b, i+1)
	if tenths < 0 || kinds[b[next]] == other {
		return m.stray(b, i)
	}
	if err := m.start(); err != nil {
		return i, err
	}
	switch tenths {
	case 820, 830:
		m.onlyE = tenths == 830
		m.chooseE()
		return next, nil
	case 60: // stands beside the T word that it carries out (NISTIR 6556, 3.6.3)
		return next, nil
	}
	m.state = bare
	switch {
	case tenths == 0 || tenths == 10: // pauses with a message
		m.pause([2]string{"M0", "M1"}[tenths/10])
		return m.skipText(b, next)
	case hasText(tenths):
		return m.skipText(b, next)
	}
	end, err := m.skipWords(b, next)
	if err != nil {
		return i, err
	}
	switch tenths {
	case 2000:
		m.commandM200(b, next, end)
	case 2210:
		return end, m.commandM221(b, next, end)
	case 6000:
		m.purging = true
		m.pause("M600")
	case 250, 2260, 6010: // pauses; common practice, no source
		m.pause(map[int]string{250: "M25", 2260: "M226", 6010: "M601"}[tenths])
	case 1080, 1350, 1630, 1640, 1650, 5670: // tools by other words, mixing; common practice, no source
		m.otherTools(tenths/10, b, next, end)
	}
	return end, nil
}

// hasText reports whether text follows an M command, not words; common practice, no source.
func hasText(tenths int) bool {
	switch tenths {
	case 160, 230, 280, 300, 320, 330, 360, 1170, 1180, 4860, 5500, 9280:
		return true
	}
	// M810 to M819 hold a text to be carried out later. From M1000 on, M and G may be letters of words.
	return tenths >= 8100 && tenths < 8200 || tenths >= 10000
}

// commandM200 looks for D among b[i:end]. Without it nothing changes.
func (m *machine) commandM200(b []byte, i, end int) {
	d := wordOf(b, i, end, 'D')
	if d < 0 {
		return
	}
	v, next, s := number(b, d)
	if s > long || kinds[b[next]] == other || v < 0 {
		m.note(NoteUnit, "M200 D %s is no diameter, so it changes nothing; write it in mm, as M200 D1.75", excerpt(b, d))
		return
	}
	if m.inches && v > 0 {
		m.note(NoteUnit, "M200 D is read in mm, though G20 has set inches")
	}
	m.volumetric(Length(v))
}

// commandM221 sets what share of the E words the tool in use takes, or the one that T names.
func (m *machine) commandM221(b []byte, i, end int) error {
	tool := m.tool
	if t := wordOf(b, i, end, 'T'); t >= 0 {
		tenths, next := code(b, t)
		switch {
		case tenths > maxTool*10 && tenths%10 == 0:
			m.note(NoteState, "T%d of M221 is no tool; the command is passed over", tenths/10)
			return nil
		case tenths < 0 || tenths%10 != 0 || kinds[b[next]] == other:
			return m.fault("write the number of a tool, as T1", "T %s of M221 is no tool", excerpt(b, t))
		}
		tool = tenths / 10
	}
	at := wordOf(b, i, end, 'S')
	if at < 0 {
		return nil
	}
	v, next, s := number(b, at)
	if s > long || kinds[b[next]] == other || v < 0 {
		return m.fault("write a percentage, as M221 S95", "S %s of M221 is no percentage", excerpt(b, at))
	}
	t := m.toolOf(tool)
	t.flow = Length(v).MM() / 100
	m.flowed = m.flowed || t.flow != 1
	t.scale(m.perMM3)
	return nil
}

func (m *machine) commandT(b []byte, i int) (int, error) {
	tenths, next := code(b, i+1)
	switch after := b[next]; {
	case m.state != bare:
		m.note(NoteToolInMove, "%s stands among the words of a move; it is no tool change", excerpt(b, i))
		m.other = true
		if tenths < 0 || kinds[after] == other {
			next = max(skipToken(b, i), i+1)
		}
		return next, nil
	case tenths < 0 && after == '-' && isDigit(b[next+1]):
		m.begun = true
		m.note(NoteState, "%s is a state of the machine, no tool; the one before stays", excerpt(b, i))
		return skipToken(b, next), nil
	case tenths < 0 && (after == '{' || after == '['), tenths > 0 && tenths%10 != 0, tenths >= 0 && (after == '.' || after == ','):
		return i, m.fault("tools are numbered from 0 to 254", "%s is no tool", excerpt(b, i))
	case tenths < 0 || kinds[after] == other: // T? and T0_PARK are names
		return m.foreign(b, i)
	}
	if err := m.start(); err != nil {
		return i, err
	}
	if tenths > maxTool*10 {
		m.note(NoteState, "%s is a state of the machine, no tool; the one before stays", excerpt(b, i))
		return next, nil
	}
	m.change(tenths / 10)
	return next, nil
}
