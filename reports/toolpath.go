package reports

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

// Toolpaths are sliced files: what each takes of each tool.
type Toolpaths []Toolpath

// Toolpath is one sliced file.
type Toolpath struct {
	File       string         `json:"file"`              // name of the file
	Layers     int            `json:"layers"`            // how many layers
	LayersFrom string         `json:"layers_from"`       // what tells layers apart: the file's comments, or the height
	StatedMM   *float64       `json:"stated_mm"`         // what the file itself says that it takes; null where it says nothing
	Notes      []string       `json:"notes"`             // what is to be known of the file, in words
	Changes    int            `json:"changes"`           // how many changes from one tool to another
	Tools      []ToolpathTool `json:"tools"`             // what each tool takes
	Sequence   []int          `json:"sequence,omitzero"` // the tools in order of use; left out unless it was asked for

	turns []string // where spools in turn hand over, in words
}

// ToolpathTool is what one tool takes; grams only of what stands on it.
type ToolpathTool struct {
	File       string        `json:"-" csv:"file"`
	Tool       int           `json:"tool" csv:"tool"`                     // number of the tool
	PartMM     float64       `json:"part_mm" csv:"part_mm"`               // filament for the parts
	SupportMM  float64       `json:"support_mm" csv:"support_mm"`         // filament for support
	PrimeMM    float64       `json:"prime_mm" csv:"prime_mm"`             // filament laid on the tower
	PurgeMM    float64       `json:"purge_mm" csv:"purge_mm"`             // filament flushed
	TotalMM    float64       `json:"total_mm" csv:"total_mm"`             // all four together
	FirstLayer int           `json:"first_layer" csv:"first_layer"`       // first layer in which it is used
	LastLayer  int           `json:"last_layer" csv:"last_layer"`         // last layer in which it is used
	Changes    int           `json:"changes" csv:"changes"`               // how many changes bring it to the nozzle
	Of         string        `json:"of,omitempty" csv:"of"`               // what is loaded: a spool, several in turn, or a material and colour; left out where nothing is
	PartG      *ledger.Grams `json:"part_g,omitempty" csv:"part_g"`       // part_mm in grams of what is loaded; left out where nothing is
	SupportG   *ledger.Grams `json:"support_g,omitempty" csv:"support_g"` // support_mm in grams of what is loaded; left out where nothing is
	PrimeG     *ledger.Grams `json:"prime_g,omitempty" csv:"prime_g"`     // prime_mm in grams of what is loaded; left out where nothing is
	PurgeG     *ledger.Grams `json:"purge_g,omitempty" csv:"purge_g"`     // purge_mm in grams of what is loaded; left out where nothing is
	TotalG     *ledger.Grams `json:"total_g,omitempty" csv:"total_g"`     // total_mm in grams of what is loaded; left out where nothing is
	HandsOver  HandOvers     `json:"hands_over,omitempty" csv:"-"`        // of spools in turn, where one is used up and the next begins; else left out
	XMinMM     *float64      `json:"x_min_mm" csv:"x_min_mm"`             // least X of part and support, in the machine's coordinates; null without any
	XMaxMM     *float64      `json:"x_max_mm" csv:"x_max_mm"`             // greatest X of them; null without any
	YMinMM     *float64      `json:"y_min_mm" csv:"y_min_mm"`             // least Y of them; null without any
	YMaxMM     *float64      `json:"y_max_mm" csv:"y_max_mm"`             // greatest Y of them; null without any
	ZMaxMM     *float64      `json:"z_max_mm" csv:"z_max_mm"`             // greatest Z of them; null without any
}

// NewToolpath returns the view of a file, with grams of the tools that something stands on. turns are the needs of tools with several
// spools in turn.
func NewToolpath(f *inventory.Sliced, loads []inventory.OnTool, turns []*inventory.Need, sequence bool) Toolpath {
	t := Toolpath{File: f.Name, Layers: f.Layers, LayersFrom: "z", Notes: []string{}, Changes: f.Changes, Tools: []ToolpathTool{}}
	if f.ByComments {
		t.LayersFrom = "comments"
	}
	if f.Stated > 0 {
		t.StatedMM = millimetres(f.Stated)
	}
	for _, n := range f.Notes {
		t.Notes = append(t.Notes, ledger.Clean(n.String()))
	}
	for _, stop := range recording.Stops(f, loads) {
		t.Notes = append(t.Notes, ledger.Clean(stop))
	}
	for _, tool := range f.Tools {
		row := ToolpathTool{File: f.Name, Tool: tool.Tool, PartMM: tool.Use[toolpath.Part].MM(), SupportMM: tool.Use[toolpath.Support].MM(),
			PrimeMM: tool.Use[toolpath.Prime].MM(), PurgeMM: tool.Use[toolpath.Purge].MM(), TotalMM: tool.Total().MM(),
			FirstLayer: tool.FirstLayer, LastLayer: tool.LastLayer, Changes: tool.Changes}
		if b := tool.Box; b != nil {
			row.XMinMM, row.XMaxMM, row.YMinMM, row.YMaxMM, row.ZMaxMM = millimetres(b.XMin), millimetres(b.XMax), millimetres(b.YMin), millimetres(b.YMax), millimetres(b.ZMax)
		}
		if i := slices.IndexFunc(loads, func(l inventory.OnTool) bool { return l.Tool == tool.Tool }); i >= 0 {
			m := inventory.MassesOf(tool, loads[i].Filament)
			total := m.Total()
			row.Of = loads[i].Name()
			row.PartG, row.SupportG, row.PrimeG, row.PurgeG, row.TotalG = &m.PartG, &m.SupportG, &m.PrimeG, &m.PurgeG, &total
		}
		for _, n := range turns {
			if n.Slot == strconv.Itoa(tool.Tool) {
				row.HandsOver = handOvers(n)
				t.turns = append(t.turns, "tool "+n.Slot+": "+inTurn(n))
			}
		}
		t.Tools = append(t.Tools, row)
	}
	if sequence {
		t.Sequence = []int{}
		for _, tool := range f.Sequence {
			t.Sequence = append(t.Sequence, int(tool))
		}
	}
	return t
}

func millimetres(l toolpath.Length) *float64 {
	mm := l.MM()
	return &mm
}

// JSON returns the value of the contract; of several files a list of them.
func (t Toolpaths) JSON() any {
	if len(t) == 1 {
		return t[0]
	}
	return t
}

// CSV returns a row a tool.
func (t Toolpaths) CSV() any {
	rows := []ToolpathTool{}
	for _, f := range t {
		rows = append(rows, f.Tools...)
	}
	return rows
}

// Sheets returns a table a file.
func (t Toolpaths) Sheets() Pages {
	var pages Pages
	for _, f := range t {
		sheet := Sheet{Title: fmt.Sprintf("%s: %s, %s", f.File, inventory.Plural(f.Layers, "layer", "layers"), inventory.Plural(f.Changes, "change", "changes")),
			Spare:   [][]string{{"changes"}, {"layers"}, {"part m", "support m", "prime m", "purge m"}, {"of"}},
			Columns: slices.Concat(right("tool"), ids("of"), masses("part m", "support m", "prime m", "purge m", "total m", "total g"), right("layers", "changes"))}
		for _, r := range f.Tools {
			grams := "-"
			if r.TotalG != nil {
				grams = gram(*r.TotalG)
			}
			m := func(mm float64) string { return strconv.FormatFloat(mm/1000, 'f', 3, 64) }
			sheet.Rows = append(sheet.Rows, []string{strconv.Itoa(r.Tool), dash(r.Of), m(r.PartMM), m(r.SupportMM), m(r.PrimeMM), m(r.PurgeMM), m(r.TotalMM),
				grams, fmt.Sprintf("%d-%d", r.FirstLayer, r.LastLayer), strconv.Itoa(r.Changes)})
		}
		sheet.Notes = append(sheet.Notes, f.turns...)
		if len(f.Sequence) > 0 {
			sheet.Notes = append(sheet.Notes, "tools in order of use: "+runs(f.Sequence))
		}
		pages = append(pages, sheet)
	}
	return pages
}

// runs writes a sequence, with what repeats at its end left to a number.
func runs(sequence []int) string {
	const most = 60
	var text []byte
	for i, tool := range sequence {
		if i == most {
			return string(text) + fmt.Sprintf(" and %d more; see all with --format json", len(sequence)-most)
		}
		if i > 0 {
			text = append(text, ' ')
		}
		text = strconv.AppendInt(text, int64(tool), 10)
	}
	return string(text)
}

// LayerWriter writes a CSV line for each tool of each layer, for plotting.
type LayerWriter struct{ w *csv.Writer }

// NewLayerWriter writes the header.
func NewLayerWriter(w io.Writer) (*LayerWriter, error) {
	l := &LayerWriter{csv.NewWriter(w)}
	return l, l.w.Write([]string{"layer", "z_mm", "line", "tool", "part_mm", "support_mm", "prime_mm", "purge_mm", "total_mm"})
}

// Layer writes one layer.
func (l *LayerWriter) Layer(layer toolpath.Layer) error {
	mm := func(n toolpath.Length) string { return strconv.FormatFloat(n.MM(), 'f', -1, 64) }
	for _, t := range layer.Tools {
		err := l.w.Write([]string{strconv.Itoa(layer.Layer), mm(layer.Z), strconv.Itoa(layer.Line), strconv.Itoa(t.Tool), mm(t.Use[toolpath.Part]),
			mm(t.Use[toolpath.Support]), mm(t.Use[toolpath.Prime]), mm(t.Use[toolpath.Purge]), mm(t.Total())})
		if err != nil {
			return err
		}
	}
	return nil
}

// Flush writes out what is left.
func (l *LayerWriter) Flush() error {
	l.w.Flush()
	return l.w.Error()
}
