package ledger

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// SlicedFile is what the book keeps of a sliced file, so that the file itself may go: how many layers it has, the order of its tools, and
// where each lays material.
type SlicedFile struct {
	Head
	File     string   `csv:"file"` // name, size and SHA-256, parted by blanks
	Layers   Count    `csv:"layers"`
	Sequence Sequence `csv:"sequence"`
	Boxes    Boxes    `csv:"boxes"`
	Note     string   `csv:"note"`
}

func (*SlicedFile) file() string { return SlicedFiles }

func (s *SlicedFile) columns() []field {
	return []field{text(&s.Entry), &s.At, text(&s.File), &s.Layers, &s.Sequence, &s.Boxes, text(&s.Note)}
}

func (s *SlicedFile) check(c *checker) {
	c.head(&s.Head)
	c.needed("file", s.File != "")
}

// FileSum returns the sum by which a file column names its file, its last word in upper case; blank for none.
func FileSum(file string) string {
	words := strings.Fields(file)
	if len(words) == 0 {
		return ""
	}
	return Fold(words[len(words)-1])
}

// SlicedFiles returns the rows of sliced.csv that count, in the order of the ledger.
func (v *View) SlicedFiles() ([]*SlicedFile, error) {
	if v.sliced.read {
		return v.sliced.live, v.sliced.err
	}
	_, err := readLedger(v, &v.sliced, SlicedFiles, func(*SlicedFile, func(what, mend string)) {})
	v.sliced.err = err
	return v.sliced.live, v.sliced.err
}

// MostTools is how many tools a sequence may unfold to.
const MostTools = 1 << 22

// Sequence is the order in which a print uses its tools, repeats joined, as text: tools parted by blanks, where (1 2 0)x54 stands for a
// part that comes 54 times, and may hold such parts itself. Where parts meet, repeats are joined too.
type Sequence string

// UnmarshalCSV reads a field.
func (s *Sequence) UnmarshalCSV(text string) error {
	*s = Sequence(Trim(text))
	p := sequenceParser{text: string(*s)}
	return p.all(nil)
}

// MarshalCSV writes the text.
func (s Sequence) MarshalCSV() (string, error) { return string(s), nil }

// Unfold returns the tools in order of use.
func (s Sequence) Unfold() []uint8 {
	var tools []uint8
	p := sequenceParser{text: string(s)}
	if p.all(&tools) != nil {
		return nil // it was refused when it was read
	}
	return slices.Compact(tools)
}

// sequenceParser reads a folded sequence. It counts what it unfolds to before it does so.
type sequenceParser struct {
	text  string
	at    int
	depth int
}

const sequenceMend = "write tools parted by blanks, and a part that repeats as (1 2 0)x54"

var errSequence = errors.New("")

// mostDepth bounds how deep parts may stand in parts.
const mostDepth = 64

func (p *sequenceParser) all(tools *[]uint8) error {
	n, err := p.part(tools)
	switch {
	case err == nil && p.at < len(p.text):
		return wrong(sequenceMend, "closes a part that was not opened")
	case err == nil && n > MostTools:
		return wrong("", "unfolds to more than %d tools", MostTools)
	}
	return err
}

// part reads up to the end of the text or of the part at hand, appends its tools if they are wanted, and returns their number.
func (p *sequenceParser) part(tools *[]uint8) (n int, err error) {
	for {
		for p.at < len(p.text) && (p.text[p.at] == ' ' || p.text[p.at] == '\t') {
			p.at++
		}
		if p.at == len(p.text) || p.text[p.at] == ')' {
			return n, nil
		}
		inner := 1
		if p.text[p.at] == '(' {
			inner, err = p.repeated(tools)
		} else {
			err = p.tool(tools)
		}
		if n += inner; err == nil && n > MostTools {
			err = wrong("", "unfolds to more than %d tools", MostTools)
		}
		if err != nil {
			return 0, err
		}
	}
}

// repeated reads (PART)xTIMES.
func (p *sequenceParser) repeated(tools *[]uint8) (int, error) {
	if p.depth++; p.depth > mostDepth {
		return 0, wrong("", "has parts within more than %d parts", mostDepth)
	}
	p.at++
	from := 0
	if tools != nil {
		from = len(*tools)
	}
	n, err := p.part(tools)
	if err != nil {
		return 0, err
	}
	p.depth--
	if !strings.HasPrefix(p.text[p.at:], ")x") {
		return 0, wrong(sequenceMend, "has a part without )x and a number behind it")
	}
	p.at += 2
	times, err := p.number()
	switch {
	case err != nil || times == 0:
		return 0, wrong(sequenceMend, "has a part that comes no whole number of times")
	case n > 0 && times > MostTools/n:
		return 0, wrong("", "unfolds to more than %d tools", MostTools)
	}
	if tools != nil {
		once := (*tools)[from:]
		for range times - 1 {
			*tools = append(*tools, once...)
		}
	}
	return n * times, nil
}

func (p *sequenceParser) tool(tools *[]uint8) error {
	n, err := p.number()
	if err != nil || n > 254 {
		return wrong(sequenceMend, "has something that is no tool")
	}
	if tools != nil {
		*tools = append(*tools, uint8(n))
	}
	return nil
}

// number reads digits that end at a blank, a bracket or the end of the text.
func (p *sequenceParser) number() (int, error) {
	from := p.at
	for p.at < len(p.text) && p.text[p.at] >= '0' && p.text[p.at] <= '9' {
		p.at++
	}
	if p.at < len(p.text) && strings.IndexByte(" \t()", p.text[p.at]) < 0 || p.at-from > 9 {
		return 0, errSequence
	}
	return strconv.Atoi(p.text[from:p.at])
}

// FoldSequence folds tools in order of use, so that it unfolds to the same. At each place it takes the part whose repeats cover most.
func FoldSequence(tools []uint8) Sequence {
	var b strings.Builder
	fold(&b, tools, longestPart)
	return Sequence(b.String())
}

// longestPart is how many tools a part that repeats may have: a layer or two of a print.
const longestPart = 512

func fold(b *strings.Builder, tools []uint8, longest int) {
	for i := 0; i < len(tools); {
		if b.Len() > 0 && !strings.HasSuffix(b.String()[b.Len()-1:], "(") {
			b.WriteByte(' ')
		}
		part, times := 0, 1
		for n := 1; n <= min(longest, (len(tools)-i)/2); n++ {
			if tools[i] != tools[i+n] {
				continue
			}
			same := n
			for i+same < len(tools) && tools[i+same] == tools[i+same-n] {
				same++
			}
			// A part of one tool does not repeat; what is written twice must be worth its brackets.
			if t := same / n; t > 1 && t*n > part*times && t*n-n > 2 {
				part, times = n, t
			}
		}
		if part == 0 {
			b.WriteString(strconv.Itoa(int(tools[i])))
			i++
			continue
		}
		b.WriteByte('(')
		fold(b, tools[i:i+part], min(longest, part-1))
		fmt.Fprintf(b, ")x%d", times)
		i += part * times
	}
}

// Boxes are where the tools of a sliced file lay part and support, in the machine's own millimetres.
type Boxes struct {
	Of   []ToolBox
	text string
}

// ToolBox is the box of one tool.
type ToolBox struct {
	Tool                         int
	XMin, XMax, YMin, YMax, ZMax float64
}

// NewBoxes returns boxes to be written.
func NewBoxes(of []ToolBox) Boxes {
	var parts []string
	for _, b := range of {
		words := []string{strconv.Itoa(b.Tool)}
		for _, mm := range []float64{b.XMin, b.XMax, b.YMin, b.YMax, b.ZMax} {
			words = append(words, strconv.FormatFloat(mm, 'f', -1, 64))
		}
		parts = append(parts, strings.Join(words, " "))
	}
	return Boxes{of, strings.Join(parts, "; ")}
}

// UnmarshalCSV reads a field.
func (b *Boxes) UnmarshalCSV(text string) error {
	*b = Boxes{text: Trim(text)}
	if b.text == "" {
		return nil
	}
	for part := range strings.SplitSeq(b.text, ";") {
		words := strings.Fields(part)
		if len(words) != 6 {
			return wrong(boxMend, "has a box of %d words", len(words))
		}
		var box ToolBox
		var err error
		if box.Tool, err = strconv.Atoi(words[0]); err != nil || box.Tool < 0 || box.Tool > 254 {
			return wrong(boxMend, "has a box of no tool")
		}
		if slices.ContainsFunc(b.Of, func(other ToolBox) bool { return other.Tool == box.Tool }) {
			return wrong(boxMend, "has two boxes of tool %d", box.Tool)
		}
		for i, mm := range []*float64{&box.XMin, &box.XMax, &box.YMin, &box.YMax, &box.ZMax} {
			var bound Bound
			if err := bound.UnmarshalCSV(words[i+1]); err != nil || i == 4 && strings.HasPrefix(words[5], "-") {
				return wrong(boxMend, "has a bound that is not a number")
			}
			*mm = *bound.Float()
		}
		if box.XMin > box.XMax || box.YMin > box.YMax {
			return wrong(boxMend, "has a least bound above its greatest")
		}
		b.Of = append(b.Of, box)
	}
	return nil
}

const boxMend = "write TOOL x_min x_max y_min y_max z_max for each tool, parted by ;"

// MarshalCSV writes the text.
func (b Boxes) MarshalCSV() (string, error) { return b.text, nil }
