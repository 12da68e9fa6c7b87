package inventory

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory/filament"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

// A Sliced is a sliced file that was read: what each tool takes, and what the file is recognized by.
type Sliced struct {
	*toolpath.File
	Name   string // as messages name it
	Size   int64  // bytes
	SHA256 string // of them; blank when it was not asked for
}

// ReadSliced reads a sliced file to its end, or to where o stops. With known it also sums the file, so that it can be recognized later; that takes a fifth longer.
func ReadSliced(r io.Reader, name string, o toolpath.Options, known bool) (*Sliced, error) {
	if !known {
		file, err := toolpath.Read(r, name, o)
		if err != nil {
			return nil, err
		}
		return &Sliced{File: file, Name: name}, nil
	}
	sum := sha256.New()
	count := &counter{r: io.TeeReader(r, sum), under: r}
	file, err := toolpath.Read(count, name, o)
	if err != nil {
		return nil, err
	}
	if _, err := io.Copy(io.Discard, count); err != nil { // what stands behind a stop
		return nil, err
	}
	return &Sliced{file, name, count.n, hex.EncodeToString(sum.Sum(nil))}, nil
}

type counter struct {
	r, under io.Reader
	n        int64
}

// Unwrap returns what is read, so that a zip container can be read at random.
func (c *counter) Unwrap() io.Reader { return c.under }

func (c *counter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += int64(n)
	return n, err
}

// Reference is what the queue keeps of a file: its name, size and SHA-256, parted by blanks.
func (s *Sliced) Reference(name string) string {
	return fmt.Sprintf("%s %d %s", name, s.Size, s.SHA256)
}

// FileReference parts the queue's file column again; the name may hold blanks. ok is false when it is no such reference.
func FileReference(text string) (name string, size int64, sum string, ok bool) {
	head, sum, ok1 := cutLast(text)
	name, digits, ok2 := cutLast(head)
	size, err := strconv.ParseInt(digits, 10, 64)
	return name, size, sum, ok1 && ok2 && err == nil && name != "" && len(sum) == 2*sha256.Size
}

func cutLast(text string) (before, after string, ok bool) {
	i := strings.LastIndexByte(text, ' ')
	if i < 0 {
		return "", "", false
	}
	return text[:i], text[i+1:], true
}

// An OnTool is what is loaded on a tool: a spool, or several that are used in turn, or any of a material and colour.
type OnTool struct {
	Tool             int
	Spool            *Spool   // nil: any of Material and Colour
	Turn             []*Spool // the spools in turn, Spool the first; nil for one alone
	Material, Colour string
	Filament         filament.Stock
}

// NewOnTool returns what is loaded where the spools are used in turn.
func NewOnTool(spools ...*Spool) OnTool {
	first := spools[0]
	l := OnTool{Spool: first, Material: first.Material, Colour: first.Colour, Filament: first.Filament}
	if len(spools) > 1 {
		l.Turn = spools
	}
	return l
}

// Spools returns the spools in turn; none for any of a material and colour.
func (l OnTool) Spools() []*Spool {
	switch {
	case l.Spool == nil:
		return nil
	case l.Turn == nil:
		return []*Spool{l.Spool}
	}
	return l.Turn
}

// IDs joins the ids of spools in turn, as the queue has them.
func IDs(spools []*Spool) string {
	ids := make([]string, len(spools))
	for i, spool := range spools {
		ids[i] = spool.ID
	}
	return strings.Join(ids, "+")
}

// Name is what it is called: its spools, or material and colour; blank for filament of which only figures are known.
func (l OnTool) Name() string {
	switch {
	case l.Spool != nil:
		return IDs(l.Spools())
	case l.Material == "":
		return ""
	}
	return l.Material + "/" + l.Colour
}

// MassesOf turns the millimetres of a tool into grams of a filament, each class to 0.001 g half up.
func MassesOf(t toolpath.Tool, f filament.Stock) ledger.Masses {
	g := func(c toolpath.Class) ledger.Grams { return thousandth(f.Mass(t.Use[c].MM() / 1000)) }
	return ledger.Masses{PartG: g(toolpath.Part), SupportG: g(toolpath.Support), PrimeG: g(toolpath.Prime), PurgeG: g(toolpath.Purge),
		Changes: ledger.Count{N: t.Changes, Given: true}}
}

// thousandth rounds grams half up to 0.001 g.
func thousandth(g float64) ledger.Grams { return ledger.Grams(math.Floor(g*1000 + 0.5)) }

// Loaded returns an error if loads do not fit the tools of the file: one that uses no filament has some, a tool is loaded twice, or a
// spool is on two.
func (s *Sliced) Loaded(loads []OnTool) error {
	var errs []error
	by := map[int]bool{}
	serves := map[*Spool]int{}
	for _, l := range loads {
		if by[l.Tool] {
			errs = append(errs, fmt.Errorf("tool %d is loaded twice", l.Tool))
		}
		by[l.Tool] = true
		for _, spool := range l.Spools() {
			if other, twice := serves[spool]; twice && other != l.Tool {
				errs = append(errs, fmt.Errorf("%s cannot serve the tools %d and %d", spool.ID, other, l.Tool))
			}
			serves[spool] = l.Tool
		}
		if s.Tool(l.Tool).Total() == 0 {
			errs = append(errs, fmt.Errorf("%s uses nothing of tool %d; it uses %s", s.Name, l.Tool, s.toolNames()))
		}
	}
	return errors.Join(errs...)
}

func (s *Sliced) toolNames() string {
	if len(s.Tools) == 0 {
		return "no filament"
	}
	var names []string
	for _, t := range s.Tools {
		names = append(names, strconv.Itoa(t.Tool))
	}
	return List(names, "and")
}

// A RunOut is where in a sliced file a spool runs out, or hands over to the next.
type RunOut struct {
	Layer int
	ZMM   float64 // where the layer begins
	Share float64 // of what the file takes of that spool
	Line  int
}

// TakenFrom reports whether the masses of the need are what the tool of its file takes: every class within 5 % of the whole, in what
// it has of all. They are not when the file is read in another way than it was for the need.
func (n *Need) TakenFrom(tool toolpath.Tool) bool {
	if n.Spool == nil {
		return false
	}
	queued, read := n.Row.Masses, MassesOf(tool, n.Spool.Filament)
	near := func(a, b ledger.Grams) bool {
		return math.Abs(a.Float()-b.Float()) <= 0.05*queued.Total().Float()+0.002
	}
	return near(queued.PartG, read.PartG) && near(queued.SupportG, read.SupportG) && near(queued.PrimeG, read.PrimeG) && near(queued.PurgeG, read.PurgeG)
}

// Reaches reports whether a place in its file is worth looking for: where its spool likely runs out, or where one hands over to the next.
func (n *Need) Reaches() bool {
	return n.Spool != nil && (n.Verdict != Enough && n.Margin < 0 || slices.ContainsFunc(n.HandsOver, within))
}

// within reports whether a share of a need is neither its begin nor its end.
func within(share float64) bool { return share > 0 && share < 1 }

// FindIn finds where in its file the spools of a need hand over, and where the last of them runs out if it likely does: where its tool
// has used the grams that they hold above their tails, over k. A place that is not reached is nil.
func (n *Need) FindIn(r io.Reader, name string, tool toolpath.Tool, o toolpath.Options) error {
	if !n.Reaches() || tool.Total() == 0 {
		return nil
	}
	shares := slices.Clone(n.HandsOver)
	if n.Verdict != Enough && n.Margin < 0 {
		shares = append(shares, n.RunsOut)
	}
	lengths := make([]toolpath.Length, len(shares))
	for i, share := range shares {
		lengths[i] = toolpath.Length(share * float64(tool.Total()))
	}
	points, err := toolpath.Find(r, name, o, tool.Tool, lengths...)
	if err != nil {
		return err
	}
	places := make([]*RunOut, len(points))
	for i, p := range points {
		if p != nil {
			places[i] = &RunOut{p.Layer, p.Z.MM(), float64(lengths[i]) / float64(tool.Total()), p.Line}
		}
	}
	n.Handed = places[:len(n.HandsOver)]
	if len(places) > len(n.HandsOver) {
		n.Where = places[len(n.HandsOver)]
	}
	return nil
}
