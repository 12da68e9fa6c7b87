package ledger

import (
	"cmp"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"
)

// A table row, one struct per file: facts that a person edits and the program only ever appends to.

// Setting is one line of settings.csv.
type Setting struct {
	Setting string `csv:"setting"`
	Value   string `csv:"value"`
	Line    int    `csv:"-"`
}

// Material gives a polymer's density and the standard uncertainty of it, in g/cm3.
type Material struct {
	Material       string `csv:"material"`
	DensityGCM3    Number `csv:"density_g_cm3"`
	DensityUGCM3   Number `csv:"density_u_g_cm3"`
	Note           string `csv:"note"`
	Line           int    `csv:"-"`
	densityFloat   float64
	densityUnknown float64
}

// Density returns g/cm3 and its standard uncertainty (0.02 where the table is silent).
func (m *Material) Density() (rho, u float64) { return m.densityFloat, m.densityUnknown }

// Core is a kind of empty spool.
type Core struct {
	Core   string `csv:"core"`
	TareG  Mass   `csv:"tare_g"`
	TareUG Mass   `csv:"tare_u_g"`
	Note   string `csv:"note"`
}

// Scale is a weighing instrument: its division, largest error and repeatability in grams.
type Scale struct {
	Scale     string `csv:"scale"`
	DivisionG Mass   `csv:"division_g"`
	ErrorG    Mass   `csv:"error_g"`
	RepeatG   Mass   `csv:"repeat_g"`
	Note      string `csv:"note"`
}

// Printer is a machine: its feeds and what a change costs on it.
type Printer struct {
	Printer  string `csv:"printer"`
	Feeds    string `csv:"feeds"`
	PurgeMM3 Number `csv:"purge_mm3"`
	PrimeMM3 Number `csv:"prime_mm3"`
	SwapS    Number `csv:"swap_s"`
	LoadS    Number `csv:"load_s"`
	TailMM   Number `csv:"tail_mm"`
	Note     string `csv:"note"`
	HourCost Number `csv:"hour_cost"` // of an hour of the machine, in the settings' currency
	Price    Number `csv:"price"`     // of the machine, likewise
	Owned    string `csv:"owned"`     // 0: a candidate, or gone; blank or 1: the shop's own
	feeds    []int
}

// IsOwned reports whether the shop has the printer: one that it has not is shown by `machines` alone, unless it is named.
func (p *Printer) IsOwned() bool { return p.Owned != "0" }

// FeedsOf returns the feeds on each nozzle.
func (p *Printer) FeedsOf() []int { return p.feeds }

// PairPurge is what a printer flushes when one filament follows another in a nozzle, in mm3; * is any printer, material or colour, and a
// blank material is any too.
type PairPurge struct {
	Printer      string `csv:"printer"`
	FromMaterial string `csv:"from_material"`
	FromColour   string `csv:"from_colour"`
	ToMaterial   string `csv:"to_material"`
	ToColour     string `csv:"to_colour"`
	PurgeMM3     Number `csv:"purge_mm3"`
}

// Client is a client's rates from a day on.
type Client struct {
	Client      string `csv:"client"`
	Name        string `csv:"name"`
	WasteBilled Number `csv:"waste_billed"`
	ScrapBilled Number `csv:"scrap_billed"`
	From        string `csv:"from"`
	Note        string `csv:"note"`
}

func (*Setting) file() string  { return SettingsFile }
func (*Material) file() string { return Materials }
func (*Core) file() string     { return Cores }
func (*Scale) file() string    { return Scales }
func (*Printer) file() string  { return Printers }
func (*Client) file() string   { return Clients }

func (*PairPurge) file() string { return Purges }

// A table row also has a key and, for messages, a name.
type tableRow interface {
	row
	key() string
	label() string
}

// tableRowOf is a pointer to T that is a row of a table.
type tableRowOf[T any] interface {
	*T
	tableRow
}

func (s *Setting) key() string  { return Fold(s.Setting) }
func (m *Material) key() string { return Fold(m.Material) }
func (c *Core) key() string     { return Fold(c.Core) }
func (s *Scale) key() string    { return Fold(s.Scale) }
func (p *Printer) key() string  { return Fold(p.Printer) }
func (c *Client) key() string   { return Fold(c.Client) + "\x1f" + c.From }
func (p *PairPurge) key() string {
	return strings.Join([]string{Fold(p.Printer), Fold(cmp.Or(p.FromMaterial, "*")), Fold(p.FromColour), Fold(cmp.Or(p.ToMaterial, "*")), Fold(p.ToColour)}, "\x1f")
}

func (s *Setting) label() string  { return s.Setting }
func (m *Material) label() string { return m.Material }
func (c *Core) label() string     { return c.Core }
func (s *Scale) label() string    { return s.Scale }
func (p *Printer) label() string  { return p.Printer }
func (c *Client) label() string   { return c.Client }
func (p *PairPurge) label() string {
	from, to := strings.TrimSpace(p.FromMaterial+" "+p.FromColour), strings.TrimSpace(p.ToMaterial+" "+p.ToColour)
	return p.Printer + " from " + from + " to " + to
}

func (s *Setting) columns() []field { return []field{text(&s.Setting), text(&s.Value)} }
func (m *Material) columns() []field {
	return []field{text(&m.Material), &m.DensityGCM3, &m.DensityUGCM3, text(&m.Note)}
}
func (c *Core) columns() []field { return []field{text(&c.Core), &c.TareG, &c.TareUG, text(&c.Note)} }
func (s *Scale) columns() []field {
	return []field{text(&s.Scale), &s.DivisionG, &s.ErrorG, &s.RepeatG, text(&s.Note)}
}
func (p *Printer) columns() []field {
	return []field{text(&p.Printer), text(&p.Feeds), &p.PurgeMM3, &p.PrimeMM3, &p.SwapS, &p.LoadS, &p.TailMM, text(&p.Note), &p.HourCost, &p.Price, text(&p.Owned)}
}
func (c *Client) columns() []field {
	return []field{text(&c.Client), text(&c.Name), &c.WasteBilled, &c.ScrapBilled, text(&c.From), text(&c.Note)}
}
func (p *PairPurge) columns() []field {
	return []field{text(&p.Printer), text(&p.FromMaterial), text(&p.FromColour), text(&p.ToMaterial), text(&p.ToColour), &p.PurgeMM3}
}

func (s *Setting) check(c *checker) {
	c.needed("setting", s.Setting != "")
	if err := new(Settings).set(s); err != nil {
		f := err.(*RowError)
		c.bad("value", f.What, f.Mend)
	}
}

func (m *Material) check(c *checker) {
	c.needed("material", m.Material != "")
	c.name("material", m.Material)
	if !m.DensityGCM3.IsPositive() {
		c.bad("density_g_cm3", "is blank or 0", "write g/cm3 from the maker's data sheet, as 1.24")
	}
	m.densityFloat, m.densityUnknown = m.DensityGCM3.Float(0), m.DensityUGCM3.Float(0.02)
}

func (r *Core) check(c *checker) {
	c.needed("core", r.Core != "")
	c.name("core", r.Core)
}

func (r *Scale) check(c *checker) {
	c.needed("scale", r.Scale != "")
	c.name("scale", r.Scale)
}

func (p *Printer) check(c *checker) {
	c.needed("printer", p.Printer != "")
	c.name("printer", p.Printer)
	if p.Owned != "" && p.Owned != "0" && p.Owned != "1" {
		c.bad("owned", quoted(p.Owned)+" is neither 1 nor 0", "write 1 for a printer of the shop, 0 for one that it has not")
	}
	var ok bool
	if p.feeds, ok = parseFeeds(p.Feeds); !ok {
		c.bad("feeds", quoted(p.Feeds)+" is no layout", "write the feeds on each nozzle joined by +, as 1+4")
	}
}

func (p *PairPurge) check(c *checker) {
	c.needed("printer", p.Printer != "")
	c.needed("from_colour", p.FromColour != "")
	c.needed("to_colour", p.ToColour != "")
	c.name("printer", p.Printer)
	c.name("from_material", p.FromMaterial)
	c.name("to_material", p.ToMaterial)
	c.colour("from_colour", p.FromColour)
	c.colour("to_colour", p.ToColour)
	if !p.PurgeMM3.Given {
		c.bad("purge_mm3", "is blank", "write mm3, as 180")
	}
}

func (r *Client) check(c *checker) {
	c.needed("client", r.Client != "")
	c.name("client", r.Client)
	c.share("waste_billed", r.WasteBilled)
	c.share("scrap_billed", r.ScrapBilled)
	c.date("from", r.From)
}

func (c *checker) share(column string, n Number) {
	if n.Given && n.GreaterThan(decimal.New(1, 0)) {
		c.bad(column, quoted(n.text)+" is no share", "write 0 to 1, as 0.5")
	}
}

// parseFeeds reads the feeds on each nozzle, as 1+4.
func parseFeeds(s string) ([]int, bool) {
	var feeds []int
	for part := range strings.SplitSeq(s, "+") {
		n, err := strconv.Atoi(Trim(part))
		if err != nil || n < 1 || n > 64 || Trim(part)[0] == '+' {
			return nil, false
		}
		feeds = append(feeds, n)
	}
	return feeds, true
}
