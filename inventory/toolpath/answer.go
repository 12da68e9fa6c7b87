package toolpath

// Length is a length of filament, or a height, in billionths of a millimetre: a count, so sums are exact.
type Length int64

// MM is one millimetre.
const MM Length = 1e9

// MM returns the length in millimetres, the nearest float64.
func (l Length) MM() float64 { return float64(l) / float64(MM) }

// Class is what an extrusion is for.
type Class uint8

const (
	Part Class = iota
	Support
	Prime
	Purge
)

// Classes lists all classes in the order in which they are shown.
var Classes = [...]Class{Part, Support, Prime, Purge}

func (c Class) String() string { return [...]string{"part", "support", "prime", "purge"}[c] }

// Use is filament used, by class.
type Use [len(Classes)]Length

// Total returns the sum of all classes.
func (u Use) Total() Length { return u[Part] + u[Support] + u[Prime] + u[Purge] }

func (u *Use) add(v *Use) {
	for i := range u {
		u[i] += v[i]
	}
}

// Less returns u minus v.
func (u Use) Less(v Use) Use {
	for i := range u {
		u[i] -= v[i]
	}
	return u
}

// A Tool is a tool that used filament, and the layers, counted from 1, in which it did so first and last.
type Tool struct {
	Tool int
	Use
	FirstLayer, LastLayer int
	Changes               int  // that brought the tool into use; 0 in a Layer
	Box                   *Box // nil without part and support, and in a Layer
}

// NoPurge reports whether changes bring the tool into use and the file lays no purge for it.
func (t *Tool) NoPurge() bool { return t.Changes > 0 && t.Use[Purge] == 0 }

// A Box encloses what a tool lays of part and support on the move, in the machine's coordinates.
type Box struct{ XMin, XMax, YMin, YMax, ZMax Length }

// A Layer is the filament of one layer.
type Layer struct {
	Layer int    // counted from 1
	Z     Length // height of the machine at its first moving extrusion; 0 for what is extruded before any layer
	Line  int    // the line that begins it
	Tools []Tool // by number; those that use filament in it
}

// A File is what was read from a sliced file, up to its end or to where [Options.Until] stopped.
type File struct {
	// Layers counts those that comments begin, if ByComments; else it is the number of the last one with an extrusion in it.
	Layers     int
	ByComments bool // the file's comments begin the layers, not Z
	Changes    int  // of the tool in use; a tool that is called and uses nothing is none
	Lines      int  // lines read
	Tools      []Tool
	// Sequence holds the tools in order of use, repeats joined, when Options asked for it.
	Sequence []uint8
	// Stated is the filament of all tools by the file's own comments; 0 when they state none.
	Stated Length
	Notes  []Note
	// Pauses are the stops at which a person may change filament, if their tool uses filament both before and after.
	Pauses []Pause
	// Stopped is where Options.Until was reached, nil when it was not.
	Stopped *Point
}

// Tool returns what a tool uses, all 0 for one that uses nothing.
func (f *File) Tool(tool int) Tool {
	for _, t := range f.Tools {
		if t.Tool == tool {
			return t
		}
	}
	return Tool{Tool: tool}
}

// Use returns what all tools use.
func (f *File) Use() (all Use) {
	for i := range f.Tools {
		all.add(&f.Tools[i].Use)
	}
	return all
}

// A Point is a place in a sliced file.
type Point struct {
	Line  int
	Layer int
	Z     Length // of the layer
	Tool  int    // in use
}

// A Pause is a stop at which a person may change the filament of the tool in use.
type Pause struct {
	Point
	Word   string // the command: M600, M0, M1, M25, M226, M601 or PAUSE
	Before Use    // what the tool has used until then
}
