package ledger

import (
	"slices"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"
)

// What machines can and can't do: rows of nozzles.csv and limits.csv.

// Nozzle is where one nozzle of a printer can lay material, in the machine's own millimetres. A bound that is blank is not known.
type Nozzle struct {
	Printer string `csv:"printer"`
	Nozzle  Count  `csv:"nozzle"` // from 1, in the order of the printer's feeds
	XMinMM  Bound  `csv:"x_min_mm"`
	XMaxMM  Bound  `csv:"x_max_mm"`
	YMinMM  Bound  `csv:"y_min_mm"`
	YMaxMM  Bound  `csv:"y_max_mm"`
	ZMaxMM  Number `csv:"z_max_mm"`
	Note    string `csv:"note"`
}

// Limit is something that can't be done: a material not through a nozzle or, with Beside, not in one nozzle with that other material
// within one print. Printer and Nozzle may be *, any.
type Limit struct {
	Printer  string `csv:"printer"`
	Nozzle   string `csv:"nozzle"`
	Material string `csv:"material"`
	Beside   string `csv:"beside"`
	Why      string `csv:"why"`
}

// Of reports whether the limit holds for a printer.
func (l *Limit) Of(printer string) bool {
	return l.Printer == "*" || Fold(l.Printer) == Fold(printer)
}

// At returns the nozzle, counted from 1; 0 for any.
func (l *Limit) At() int {
	n, _ := strconv.Atoi(l.Nozzle)
	return n
}

func (*Nozzle) file() string { return Nozzles }
func (*Limit) file() string  { return Limits }

func (n *Nozzle) key() string { return Fold(n.Printer) + "\x1f" + strconv.Itoa(n.Nozzle.N) }
func (l *Limit) key() string {
	return strings.Join([]string{Fold(l.Printer), l.Nozzle, Fold(l.Material), Fold(l.Beside)}, "\x1f")
}

func (n *Nozzle) label() string { return n.Printer + " nozzle " + strconv.Itoa(n.Nozzle.N) }
func (l *Limit) label() string {
	name := l.Printer + " nozzle " + l.Nozzle + " " + l.Material
	if l.Beside != "" {
		name += " beside " + l.Beside
	}
	return name
}

func (n *Nozzle) columns() []field {
	return []field{text(&n.Printer), &n.Nozzle, &n.XMinMM, &n.XMaxMM, &n.YMinMM, &n.YMaxMM, &n.ZMaxMM, text(&n.Note)}
}
func (l *Limit) columns() []field {
	return []field{text(&l.Printer), text(&l.Nozzle), text(&l.Material), text(&l.Beside), text(&l.Why)}
}

func (n *Nozzle) check(c *checker) {
	c.needed("printer", n.Printer != "")
	c.name("printer", n.Printer)
	if n.Nozzle.N < 1 {
		c.bad("nozzle", "is blank or 0", "write its number from 1, in the order of the printer's feeds")
	}
	c.ordered("x_min_mm", n.XMinMM, "x_max_mm", n.XMaxMM)
	c.ordered("y_min_mm", n.YMinMM, "y_max_mm", n.YMaxMM)
}

func (c *checker) ordered(low string, least Bound, high string, greatest Bound) {
	if least.Given && greatest.Given && least.GreaterThan(greatest.Decimal) {
		c.bad(low, least.Decimal.String()+" is above "+high+" "+greatest.Decimal.String(), "swap the two")
	}
}

func (l *Limit) check(c *checker) {
	c.needed("printer", l.Printer != "")
	c.needed("material", l.Material != "")
	c.needed("why", l.Why != "")
	c.name("printer", l.Printer)
	c.name("material", l.Material)
	c.name("beside", l.Beside)
	if l.Nozzle != "*" {
		n, err := strconv.Atoi(l.Nozzle)
		if err != nil || n < 1 || l.Nozzle[0] == '+' {
			c.bad("nozzle", quoted(l.Nozzle)+" is no nozzle", "write its number from 1, or * for any")
			return
		}
		l.Nozzle = strconv.Itoa(n)
	}
}

// Bound is an exact number of millimetres that may begin with a minus sign; blank where it is not known.
type Bound struct {
	decimal.Decimal
	Given bool
	text  string
}

// UnmarshalCSV reads a field.
func (b *Bound) UnmarshalCSV(s string) error {
	digits, below := strings.CutPrefix(Trim(s), "-")
	n, err := ParseNumber(digits)
	if err != nil || below && !n.Given {
		return wrong("write millimetres with a dot, as 12.5 or -12.5", "is not a number")
	}
	*b = Bound{n.Decimal, n.Given, Trim(s)}
	if below {
		b.Decimal = n.Neg()
	}
	return nil
}

// MarshalCSV writes the text that was read.
func (b Bound) MarshalCSV() (string, error) { return b.text, nil }

// belowZero reports whether a cell is a bound below 0, which a spreadsheet reads as a number.
func belowZero(column, s string) bool {
	return slices.Contains([]string{"x_min_mm", "x_max_mm", "y_min_mm", "y_max_mm"}, column) && new(Bound).UnmarshalCSV(s) == nil
}

// Float returns the bound in mm, nil where it is not known.
func (b Bound) Float() *float64 {
	if !b.Given {
		return nil
	}
	mm := b.InexactFloat64()
	return &mm
}
