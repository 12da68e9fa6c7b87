package ledger

import (
	"fmt"
	"slices"
	"strings"
)

// The rows of ledgers, one struct for each file. The csv tags are the columns, in their order in a new file.

// Head is the part that every ledger row begins with.
type Head struct {
	Entry string `csv:"entry"` // a ULID, or empty in a row typed by hand
	At    Time   `csv:"at"`

	Line int    `csv:"-"` // of the row in its file
	ID   string `csv:"-"` // the entry in upper case, else the first 26 hex digits of the row's SHA-256

	raw    string
	layout *layout
}

// Purchase is a spool bought, or wound off another.
type Purchase struct {
	Head
	Spool      string `csv:"spool"`
	Material   string `csv:"material"`
	Colour     string `csv:"colour"`
	Swatch     string `csv:"swatch"`
	Maker      string `csv:"maker"`
	Lot        string `csv:"lot"`
	DiameterMM Number `csv:"diameter_mm"`
	NetG       Grams  `csv:"net_g"`
	Core       string `csv:"core"`
	TareG      Mass   `csv:"tare_g"`
	Price      Number `csv:"price"`
	Currency   string `csv:"currency"`
	Supplier   string `csv:"supplier"`
	Place      string `csv:"place"`
	From       string `csv:"from"`
	GrossG     Mass   `csv:"gross_g"` // of a spool that was begun already: what the scale showed when it was booked
	Scale      string `csv:"scale"`
	Note       string `csv:"note"`

	Twice bool `csv:"-"` // the spool was bought under another entry too: a conflict, in which the earlier counts
}

// Weighin is one reading of a scale.
type Weighin struct {
	Head
	Spool  string `csv:"spool"`
	GrossG Mass   `csv:"gross_g"`
	Scale  string `csv:"scale"`
	State  string `csv:"state"`
	Note   string `csv:"note"`
}

// States of a weigh-in.
const (
	Loaded    = "loaded"
	Dried     = "dried"
	Empty     = "empty"
	Discarded = "discarded"
)

// Ends tells whether the weigh-in ends its spool.
func (w *Weighin) Ends() bool { return w.State == Empty || w.State == Discarded }

// Masses are what a print takes of one filament, by what becomes of it, and how many changes brought that filament to a nozzle.
type Masses struct {
	PartG    Grams `csv:"part_g"`
	SupportG Grams `csv:"support_g"`
	PrimeG   Grams `csv:"prime_g"`
	PurgeG   Grams `csv:"purge_g"`
	Changes  Count `csv:"changes"`
}

// Total returns all grams.
func (m Masses) Total() Grams { return m.PartG + m.SupportG + m.PrimeG + m.PurgeG }

// Consumption is what one job took from one spool.
type Consumption struct {
	Head
	Job     string `csv:"job"`
	Client  string `csv:"client"`
	Printer string `csv:"printer"`
	Spool   string `csv:"spool"`
	Masses
	Outcome string `csv:"outcome"`
	Basis   string `csv:"basis"`
	Slot    string `csv:"slot"` // tool of the sliced file, or a short word; may be blank
	File    string `csv:"file"` // name, size and SHA-256 of the sliced file
	Note    string `csv:"note"`

	SpoolNumber int `csv:"-"` // of the spool in its view, from 1 on; 0 in a row that was not read by a fold
}

// Outcomes of a job, and what its grams rest on.
const (
	Finished = "finished"
	Failed   = "failed"

	Sliced  = "sliced"
	Path    = "path"
	Weighed = "weighed"
)

// Need is what a queued job wants for one slot.
type Need struct {
	Head
	Job      string `csv:"job"`
	Client   string `csv:"client"`
	Printer  string `csv:"printer"`
	Slot     string `csv:"slot"`
	Spool    string `csv:"spool"`
	Material string `csv:"material"`
	Colour   string `csv:"colour"`
	Masses
	Due   Time   `csv:"due"`
	Basis string `csv:"basis"`
	File  string `csv:"file"`
	Note  string `csv:"note"`
}

// Move is a spool brought to a place.
type Move struct {
	Head
	Spool string `csv:"spool"`
	Place string `csv:"place"`
	Note  string `csv:"note"`
}

// Void cancels the entry it names.
type Void struct {
	Head
	Target string `csv:"target"`
	Why    string `csv:"why"`
}

// Seal closes one ledger for one calendar month, UTC.
type Seal struct {
	Head
	Through Time   `csv:"through"`
	Ledger  string `csv:"ledger"`
	Month   string `csv:"month"`
	Rows    Count  `csv:"rows"`
	SHA256  string `csv:"sha256"`
}

// A Row is one ledger row that can be recorded.
type Row interface {
	row
	head() *Head
}

// RowOf is a pointer to T that is a Row, as a constraint of generic functions.
type RowOf[T any] interface {
	*T
	Row
}

// row is a row of a table or a ledger.
type row interface {
	file() string
	columns() []field // the fields of its columns, in the order of the contract
	check(c *checker) // reports what breaks a rule that holds within the row
}

// rowOf is RowOf with the rows of tables.
type rowOf[T any] interface {
	*T
	row
}

func (h *Head) head() *Head { return h }

func (*Purchase) file() string    { return Purchases }
func (*Weighin) file() string     { return Weighins }
func (*Consumption) file() string { return ConsumptionFile }
func (*Need) file() string        { return Queue }
func (*Move) file() string        { return Moves }
func (*Void) file() string        { return Voids }
func (*Seal) file() string        { return Seals }

func (p *Purchase) columns() []field {
	return []field{text(&p.Entry), &p.At, text(&p.Spool), text(&p.Material), text(&p.Colour), text(&p.Swatch), text(&p.Maker), text(&p.Lot), &p.DiameterMM,
		&p.NetG, text(&p.Core), &p.TareG, &p.Price, text(&p.Currency), text(&p.Supplier), text(&p.Place), text(&p.From),
		&p.GrossG, text(&p.Scale), text(&p.Note)}
}

func (p *Purchase) check(c *checker) {
	c.head(&p.Head)
	c.spool(&p.Spool)
	c.needed("material", p.Material != "")
	c.name("material", p.Material)
	c.colour("colour", p.Colour)
	if p.Swatch != "" && !validSwatch(p.Swatch) {
		c.bad("swatch", quoted(p.Swatch)+" is no swatch", "write #RRGGBB, as #1A1A1A")
	}
	c.needed("diameter_mm", p.DiameterMM.Given)
	if p.DiameterMM.Given && !p.DiameterMM.IsPositive() {
		c.bad("diameter_mm", "is not above 0", "write millimetres, as 1.75")
	}
	if p.NetG <= 0 {
		c.bad("net_g", "is blank or 0", "write the grams of filament on the label")
	}
	c.name("core", p.Core)
	c.name("scale", p.Scale)
	c.currency(&p.Currency)
	if p.From = Fold(p.From); p.From != "" && p.From == p.Spool {
		c.bad("from", "names the spool itself", "name the spool it was wound off")
	}
}

func validSwatch(s string) bool {
	if len(s) != 7 || s[0] != '#' {
		return false
	}
	for _, c := range s[1:] {
		if !strings.ContainsRune("0123456789abcdefABCDEF", c) {
			return false
		}
	}
	return true
}

func (w *Weighin) columns() []field {
	return []field{text(&w.Entry), &w.At, text(&w.Spool), &w.GrossG, text(&w.Scale), text(&w.State), text(&w.Note)}
}

func (w *Weighin) check(c *checker) {
	c.head(&w.Head)
	c.spool(&w.Spool)
	c.oneOf("state", &w.State, Loaded, Dried, Empty, Discarded)
	if !w.GrossG.Given && !w.Ends() {
		c.bad("gross_g", "is blank", "write what the scale said, as 812.5")
	}
	c.name("scale", w.Scale)
}

func (r *Consumption) columns() []field {
	return []field{text(&r.Entry), &r.At, text(&r.Job), text(&r.Client), text(&r.Printer), text(&r.Spool), &r.PartG, &r.SupportG, &r.PrimeG,
		&r.PurgeG, &r.Changes, text(&r.Outcome), text(&r.Basis), text(&r.Slot), text(&r.File), text(&r.Note)}
}

func (r *Consumption) check(c *checker) {
	c.head(&r.Head)
	c.spool(&r.Spool)
	c.name("job", r.Job)
	c.name("client", r.Client)
	c.name("printer", r.Printer)
	c.oneOf("outcome", &r.Outcome, Finished, Failed)
	c.oneOf("basis", &r.Basis, Sliced, Path, Weighed)
	c.slot(r.Slot)
}

func (n *Need) columns() []field {
	return []field{text(&n.Entry), &n.At, text(&n.Job), text(&n.Client), text(&n.Printer), text(&n.Slot), text(&n.Spool), text(&n.Material), text(&n.Colour), &n.PartG,
		&n.SupportG, &n.PrimeG, &n.PurgeG, &n.Changes, &n.Due, text(&n.Basis), text(&n.File), text(&n.Note)}
}

func (n *Need) check(c *checker) {
	c.head(&n.Head)
	c.turn(&n.Spool)
	c.name("job", n.Job)
	c.name("client", n.Client)
	c.name("printer", n.Printer)
	c.slot(n.Slot)
	c.name("material", n.Material)
	c.colour("colour", n.Colour)
	c.oneOf("basis", &n.Basis, Sliced, Path, Weighed)
}

// MostInTurn is how many spools a need may use one after another.
const MostInTurn = 8

// Turn returns the ids of the spools that the need names, in the order in which they are used.
func (n *Need) Turn() []string {
	if n.Spool == "" {
		return nil
	}
	return strings.Split(n.Spool, "+")
}

// turn checks ids joined by +.
func (c *checker) turn(value *string) {
	if *value == "" {
		return
	}
	ids := strings.Split(*value, "+")
	for i, id := range ids {
		if ids[i] = Trim(id); ids[i] == "" {
			c.bad("spool", quoted(*value)+" has a + with no spool beside it", "name the spools in their turn, as PLA-08+PLA-06")
			return
		}
		c.spool(&ids[i])
		if slices.Contains(ids[:i], ids[i]) {
			c.bad("spool", "names "+ids[i]+" twice", "each spool stands once in its turn, as PLA-08+PLA-06")
		}
	}
	if len(ids) > MostInTurn {
		c.bad("spool", fmt.Sprintf("names %d spools", len(ids)), fmt.Sprintf("at most %d are used in turn", MostInTurn))
	}
	*value = strings.Join(ids, "+")
}

func (m *Move) columns() []field {
	return []field{text(&m.Entry), &m.At, text(&m.Spool), text(&m.Place), text(&m.Note)}
}

func (m *Move) check(c *checker) {
	c.head(&m.Head)
	c.spool(&m.Spool)
}

func (v *Void) columns() []field {
	return []field{text(&v.Entry), &v.At, text(&v.Target), text(&v.Why)}
}

func (v *Void) check(c *checker) {
	c.head(&v.Head)
	c.needed("target", v.Target != "")
	v.Target = strings.ToUpper(v.Target)
}

func (s *Seal) columns() []field {
	return []field{text(&s.Entry), &s.At, &s.Through, text(&s.Ledger), text(&s.Month), &s.Rows, text(&s.SHA256)}
}

func (s *Seal) check(c *checker) {
	c.head(&s.Head)
	c.needed("through", !s.Through.IsZero())
	if c.needed("ledger", s.Ledger != ""); s.Ledger != "" {
		c.oneOf("ledger", &s.Ledger, append(slices.Clone(Sealable), Clients)...)
	}
	if s.Ledger == Clients {
		if s.Month != "" {
			c.bad("month", quoted(s.Month)+" stands in a seal of "+Clients, "leave it blank")
		}
	} else if !hasShape(s.Month, "0000-00") || s.Month[5:] < "01" || s.Month[5:] > "12" {
		c.bad("month", quoted(s.Month)+" is no month", "write it as 2026-10")
	}
	c.needed("rows", s.Rows.Given)
	c.sum(&s.SHA256)
}
