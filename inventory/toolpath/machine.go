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
	axisR
	axisK
	axes
)

const (
	hasX = 1 << axisX
	hasY = 1 << axisY
	hasZ = 1 << axisZ
	hasE = 1 << axisE
	hasI = 1 << axisI
	hasJ = 1 << axisJ
	hasR = 1 << axisR
)

const (
	// maxTool bounds tool numbers: the words from T255 on set states of a machine. Common practice, no source.
	maxTool = 254
	// maxMove bounds what one move extrudes or draws back: 10 km, more than a 25 kg pail of 1.75 mm holds. No source.
	maxMove = 10_000_000 * MM
	// least is what a move must use to be an extrusion, a ten millionth of a millimetre: less is what rounding leaves of a
	// retraction's return. It is kept for the next extrusion.
	least = MM / 10_000_000
)

// A machine holds the state that a sliced file has set so far, and what was used until then. Lengths are in mm whatever the file's unit.
// The fields that every line uses come first: after the options they cost 4 % more time.
type machine struct {
	// The present line.
	begun   bool // a command was read on it
	state   command
	arc     byte        // 2 or 3 of G2 and G3; else 0
	have    uint8       // axis words of the command: a bit for each
	other   bool        // the command has a word that is no axis
	word    [axes]int64 // numbers of the axis words, in the file's unit
	rest    int64       // of the E word, in billionths of a billionth
	moved   bool        // a command was carried out; for the last line alone
	pending bool        // a comment holds from the next line: a section if turned, a layer if layerBy is not byZ

	turned     bool
	next       Class
	layerBy    layersBy
	nextNumber int64

	// What earlier lines have set.
	modal     bool // one of G0 to G3 was read
	modalArc  byte
	inches    bool
	relative  bool    // X, Y, Z
	onlyE     bool    // M83
	relativeE bool    // of onlyE, relative and the options
	sidePlane bool    // G18 or G19
	perMM3    float64 // mm of filament in a mm3 of E; 0 when E counts mm
	register  [registers]Length
	offset    [axisE]Length // where the machine stands, less the register's reading
	restE     int64         // what relative E words leave below a billionth
	section   Class
	sectioned bool // a section comment was read
	purging   bool // no moving extrusion yet since a tool change or M600

	tool   int
	called bool       // a T word was read
	inUse  int        // the tool of the last extrusion; -1 before any
	tools  []*toolUse // by number, nil for one never called
	now    *toolUse   // tools[tool]
	total  Length

	layersBy layersBy
	number   int64   // of the last numbered comment
	layer    Layer   // the one last begun, numbered 0 before any
	zKnown   bool    // layer.Z need not be looked for
	height   Length  // its Z less the Z of the layer before
	top      Length  // highest Z of moving extrusions
	kept     []Layer // to be passed on at the end
	stopped  *File   // what was read where Options.Until was reached

	// What tells how the file may be meant.
	stated                statements
	diameter              float64 // of the last M200, in mm
	before                Length  // used before the first layer
	absolute              Length  // used by absolute E words
	asRelative            climb   // the same words read as relative ones
	eWords, eFalls        int     // absolute E words on the move, and those that are less than the register
	fresh                 bool    // no E word yet since a change of tool
	votesOwn, votesShared int
	flowed                bool // M221 has set another share than all

	// What was asked for, and what was read.
	name  string
	block int // bytes to read at a time
	words *sections
	opts  Options
	file  File
	find  *search
}

// climb is the highest point of a sum, in billionths of a millimetre.
type climb struct{ at, highest float64 }

func newMachine(name string, o Options) *machine {
	m := &machine{name: name, block: blockSize, words: newSections(o), opts: o, inUse: -1, top: math.MinInt64, zKnown: true}
	m.toolOf(0)
	m.now = m.tools[0]
	m.volumetric(o.Volumetric)
	m.chooseE()
	return m
}

// inch turns inches into mm, both in billionths, with what is left below one.
func inch(v, rest int64) (int64, int64) {
	mm := v/10*254 + v%10*254/10
	rest = v%10*254%10*1e8 + rest*254/10
	return mm + rest/1e9, rest % 1e9
}

// scale turns the words of the command from inches into mm.
func (m *machine) scale() error {
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
		m.have = hasX | hasY | hasZ | hasE
		m.word = [axes]int64{}
	}
	if m.inches {
		if err := m.scale(); err != nil {
			return err
		}
	}
	for a := range axisE {
		if m.have&(1<<a) == 0 {
			continue
		}
		v := Length(m.word[a])
		if m.offset[a] += m.register[a] - v; m.offset[a] > largest || m.offset[a] < -largest {
			return m.beyond(axisLetters[a])
		}
		m.register[a] = v
	}
	if m.have&hasE != 0 {
		m.register[axisE] = Length(m.word[axisE])
		m.fresh = false
	}
	return nil
}

// move carries out G0 to G3.
func (m *machine) move() error {
	if m.inches {
		if err := m.scale(); err != nil {
			return err
		}
	}
	moving := false
	from := [axisE]Length{m.register[axisX], m.register[axisY], m.register[axisZ]}
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
	if m.arc != 0 && !moving {
		moving = m.centred()
	}
	e := Length(m.word[axisE])
	t := m.now
	if m.rest == 0 && !t.scaled && !m.fresh { // most moves; advance would do the same
		if m.relativeE {
			m.register[axisE] += e
		} else {
			e = m.advanceTo(e, moving)
		}
		if at := m.register[axisE]; at > largest || at < -largest {
			return m.beyond('E')
		}
	} else {
		var err error
		if e, err = m.advance(e, moving); err != nil {
			return err
		}
	}
	if e > maxMove || e < -maxMove {
		return m.fault("look for a digit too many, or a G92 or M83 too few", "E moves %.0f m of filament at once, more than any spool holds", e.MM()/1000)
	}
	if t.back -= e; t.back > -least {
		if t.back > largest {
			return m.beyond('E')
		}
		return nil
	}
	used := -t.back
	t.back = 0
	return m.extrude(used, moving, &from)
}

// centred tells whether the centre of an arc lies away from its start.
func (m *machine) centred() bool {
	for _, a := range [...]int{axisI, axisJ, axisK} {
		if m.have&(1<<a) != 0 && m.word[a] != 0 {
			return true
		}
	}
	return false
}

// advance sets the E register by the E word and returns by how much the tool's position changes.
func (m *machine) advance(e Length, moving bool) (Length, error) {
	if m.relativeE {
		m.fresh = false
		m.restE += m.rest
		e += Length(m.restE / 1e9)
		m.restE %= 1e9
		m.rest = 0
		m.register[axisE] += e
		if m.register[axisE] > largest || m.register[axisE] < -largest {
			return 0, m.beyond('E')
		}
	} else {
		if m.fresh { // that it falls says nothing of the mode
			m.fresh, moving = false, false
			m.vote(e)
		}
		e = m.advanceTo(e, moving)
	}
	if m.now.scaled {
		return m.devolve(e)
	}
	return e, nil
}

// advanceTo carries out an absolute E word, and counts what tells whether it is meant so.
func (m *machine) advanceTo(v Length, moving bool) Length {
	at := m.register[axisE]
	m.register[axisE] = v
	if moving {
		m.eWords++
		if v < at {
			m.eFalls++
		}
	}
	if m.asRelative.at += float64(v); m.asRelative.at > m.asRelative.highest {
		m.asRelative.highest = m.asRelative.at
	}
	return v - at
}

// vote counts whether the first absolute E word after a change of tool goes on from that tool's last one, or from the register.
func (m *machine) vote(v Length) {
	switch own, shared := distance(v, m.now.register), distance(v, m.register[axisE]); {
	case own < shared:
		m.votesOwn++
	case own > shared:
		m.votesShared++
	}
}

func distance(a, b Length) Length { return max(a-b, b-a) }

// devolve turns what E counts into mm of filament. It rounds the whole since the factor was set, so that no error adds up
// from move to move.
func (m *machine) devolve(e Length) (Length, error) {
	t := m.now
	t.raw += int64(e)
	mm := math.Round(float64(t.raw) * t.factor)
	if math.Abs(mm) > largest || t.raw > largest || t.raw < -largest {
		return 0, m.beyond('E')
	}
	e = Length(int64(mm) - t.mm)
	t.mm = int64(mm)
	return e, nil
}

// volumetric carries out M200 D.
func (m *machine) volumetric(d Length) {
	m.perMM3 = 0
	if d > 0 {
		m.perMM3 = 4 / (math.Pi * d.MM() * d.MM())
		m.diameter = d.MM()
	}
	for _, t := range m.tools {
		if t != nil {
			t.scale(m.perMM3)
		}
	}
}
