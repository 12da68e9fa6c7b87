package toolpath

import "math"

// axes of the registers and of the words of a move. The registers come first.
const (
	axisX = iota
	axisY
	axisZ
	axisE
	registers
	axisI = registers + iota - 5
	axisJ
	axisK
	axes
)

const (
	hasX = 1 << axisX
	hasY = 1 << axisY
	hasZ = 1 << axisZ
	hasE = 1 << axisE
)

const (
	// maxTool bounds tool numbers; common practice knows a few dozen feeds, and a number fits a byte. No source.
	maxTool = 255
	// maxMove bounds what one move extrudes or draws back: 10 km, more than a 25 kg pail of 1.75 mm holds. No source.
	maxMove = 10_000_000 * MM
	// least is what a move must use to be an extrusion, a ten millionth of a millimetre: less is what rounding leaves of a
	// retraction's return. It is kept for the next extrusion.
	least = MM / 10_000_000
)

// A machine holds what a sliced file has set so far, and what was used until then. Lengths are in mm whatever the file's
// unit.
type machine struct {
	name  string
	block int // bytes to read at a time
	words *sections
	opts  Options
	file  File

	// The present line.
	begun   bool // a command was read on it
	state   command
	arc     bool
	have    uint8       // axis words of the command: a bit for each
	other   bool        // the command has a word that is no axis
	word    [axes]int64 // numbers of the axis words, in the file's unit
	rest    int64       // of the E word, in billionths of a billionth
	moved   bool        // a command was carried out; for the last line alone
	pending bool        // a section comment holds from the next line
	next    Class

	// What earlier lines have set.
	modal      bool // one of G0 to G3 was read
	modalArc   bool
	inches     bool
	relative   bool // X, Y, Z
	relativeE  bool
	perMM3     float64 // mm of filament in a mm3 of E; 0 when E counts mm
	volume, mm int64   // extruded since M200: as E counts it, and as mm
	register   [registers]Length
	restE      int64 // what relative E words leave below a billionth
	section    Class
	purging    bool // no moving extrusion yet since a tool change or M600

	tool   int
	called bool       // a T word was read
	inUse  int        // the tool of the last extrusion; -1 before any
	tools  []*toolUse // by number, nil for one never called
	now    *toolUse   // tools[tool]
	total  Length

	layer  Layer  // the one last begun, numbered 0 before any
	height Length // its Z less the Z of the layer before
	top    Length // highest Z of moving extrusions
}

// toolUse is what is known of one tool.
type toolUse struct {
	Tool
	layer Use    // in the layer last begun
	back  Length // how far its position is below its highest; above it by less than least when negative
	used  Length
}

func newMachine(name string, o Options) *machine {
	m := &machine{name: name, block: blockSize, words: newSections(o), opts: o, inUse: -1, top: math.MinInt64}
	m.pick(0)
	return m
}

func (m *machine) pick(tool int) {
	for len(m.tools) <= tool {
		m.tools = append(m.tools, nil)
	}
	if m.tools[tool] == nil {
		m.tools[tool] = &toolUse{Tool: Tool{Tool: tool}}
	}
	m.tool, m.now = tool, m.tools[tool]
}

// change carries out a T word.
func (m *machine) change(tool int) {
	if m.called && tool == m.tool {
		return
	}
	m.called, m.purging = true, true
	m.pick(tool)
}

// inch turns inches into mm, both in billionths, with what is left below one.
func inch(v, rest int64) (int64, int64) {
	mm := v/10*254 + v%10*254/10
	rest = v%10*254%10*1e8 + rest*254/10
	return mm + rest/1e9, rest % 1e9
}

// scale turns the words of the command into mm.
func (m *machine) scale() error {
	if !m.inches {
		return nil
	}
	const most = largest / 254 * 10
	for a, v := range m.word {
		switch {
		case m.have&(1<<a) == 0:
		case v > most || v < -most:
			return m.beyond(axisLetters[a])
		case a == axisE:
			m.word[a], m.rest = inch(v, m.rest)
		default:
			m.word[a], _ = inch(v, 0)
		}
	}
	return nil
}

func (m *machine) beyond(axis byte) error {
	return m.fault("look for a digit too many, or a G92 or M83 too few", "%c is beyond every spool and every machine", axis)
}

// set carries out G92.
func (m *machine) set() error {
	if m.have == 0 && !m.other {
		m.register = [registers]Length{}
		return nil
	}
	if err := m.scale(); err != nil {
		return err
	}
	for a := range m.register {
		if m.have&(1<<a) != 0 {
			m.register[a] = Length(m.word[a])
		}
	}
	return nil
}

// move carries out G0 to G3.
func (m *machine) move() error {
	if err := m.scale(); err != nil {
		return err
	}
	moving := false
	z := m.register[axisZ]
	if m.relative {
		for a := range axisE {
			if m.have&(1<<a) == 0 {
				continue
			}
			v := m.register[a] + Length(m.word[a])
			if v > largest || v < -largest {
				return m.beyond(axisLetters[a])
			}
			moving = moving || a != axisZ && v != m.register[a]
			m.register[a] = v
		}
	} else {
		if m.have&hasX != 0 {
			v := Length(m.word[axisX])
			moving = v != m.register[axisX]
			m.register[axisX] = v
		}
		if m.have&hasY != 0 {
			v := Length(m.word[axisY])
			moving = moving || v != m.register[axisY]
			m.register[axisY] = v
		}
		if m.have&hasZ != 0 {
			m.register[axisZ] = Length(m.word[axisZ])
		}
	}
	if m.have&hasE == 0 {
		return nil
	}
	if m.arc && !moving {
		moving = m.centred()
	}
	e := Length(m.word[axisE])
	if m.relativeE {
		if m.rest != 0 {
			m.restE += m.rest
			e += Length(m.restE / 1e9)
			m.restE %= 1e9
			m.rest = 0
		}
		m.register[axisE] += e
		if m.register[axisE] > largest || m.register[axisE] < -largest {
			return m.beyond('E')
		}
	} else {
		e, m.register[axisE] = e-m.register[axisE], e
	}
	if m.perMM3 != 0 {
		var err error
		if e, err = m.devolve(e); err != nil {
			return err
		}
	}
	if e > maxMove || e < -maxMove {
		return m.fault("look for a digit too many, or a G92 or M83 too few", "E moves %.0f m of filament at once, more than any spool holds", e.MM()/1000)
	}
	t := m.now
	if t.back -= e; t.back > -least {
		if t.back > largest {
			return m.beyond('E')
		}
		return nil
	}
	used := -t.back
	t.back = 0
	return m.extrude(used, moving, m.register[axisZ] > z)
}

// centred tells whether the centre of an arc lies away from its start.
func (m *machine) centred() bool {
	for a := axisI; a < axes; a++ {
		if m.have&(1<<a) != 0 && m.word[a] != 0 {
			return true
		}
	}
	return false
}

// devolve turns mm3 into mm. It rounds the whole since M200, so that no error adds up from move to move.
func (m *machine) devolve(e Length) (Length, error) {
	m.volume += int64(e)
	mm := math.Round(float64(m.volume) * m.perMM3)
	if math.Abs(mm) > largest || m.volume > largest || m.volume < -largest {
		return 0, m.beyond('E')
	}
	e = Length(int64(mm) - m.mm)
	m.mm = int64(mm)
	return e, nil
}

// volumetric carries out M200 D.
func (m *machine) volumetric(d Length) {
	m.perMM3, m.volume, m.mm = 0, 0, 0
	if d > 0 {
		m.perMM3 = 4 / (math.Pi * d.MM() * d.MM())
	}
}

// extrude counts what a move uses.
func (m *machine) extrude(used Length, moving, climbing bool) error {
	if moving {
		if z := m.register[axisZ]; z > m.top {
			if err := m.rise(z, climbing); err != nil {
				return err
			}
		}
		m.purging = false
	}
	class := m.section
	if m.purging {
		class = Purge
	}
	var reached bool
	if m.opts.Until.kind != nowhere {
		used, reached = m.until(used)
	}
	t := m.now
	if used > 0 {
		if m.tool != m.inUse {
			if err := m.use(); err != nil {
				return err
			}
		}
		t.layer[class] += used
		t.used += used
		m.total += used
		if m.total > largest {
			return m.beyond('E')
		}
	}
	if reached {
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
