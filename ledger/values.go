package ledger

import (
	"strconv"
	"strings"

	"github.com/shopspring/decimal"
)

// Trim removes spaces and tabs around a value.
func Trim(s string) string {
	if s == "" || (s[0] > ' ' && s[len(s)-1] > ' ') {
		return s
	}
	return strings.Trim(s, " \t")
}

// Grams is a mass in thousandths of a gram.
type Grams int64

// MaxGrams is the largest mass that a field may hold, 1000 t, so that sums of millions of rows fit an int64.
const MaxGrams Grams = 1e12

const gramsMend = "write grams with a dot, as 180.2"

// ParseGrams parses digits, optionally followed by a dot and at most three digits. Blank is 0.
func ParseGrams(s string) (Grams, error) {
	s = Trim(s)
	if s == "" {
		return 0, nil
	}
	var n Grams
	decimals := -1
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			if decimals >= 0 {
				decimals++
			}
			if decimals > 3 {
				return 0, wrong("write at most three decimals of a gram", "has more than three decimals")
			}
			n = n*10 + Grams(c-'0')
			if n > MaxGrams {
				return 0, wrong("", "is more than any spool")
			}
		case c == '.' && decimals < 0 && i > 0 && i < len(s)-1:
			decimals = 0
		default:
			return 0, wrong(gramsMend, "is not a number")
		}
	}
	for d := max(decimals, 0); d < 3; d++ {
		n *= 10
	}
	if n > MaxGrams {
		return 0, wrong("", "is more than any spool")
	}
	return n, nil
}

// String formats grams with as few decimals as needed.
func (g Grams) String() string {
	sign := ""
	if g < 0 {
		sign, g = "-", -g
	}
	if g%1000 == 0 {
		return sign + strconv.FormatInt(int64(g/1000), 10)
	}
	thousandths := strconv.FormatInt(int64(1000+g%1000), 10)[1:]
	return sign + strconv.FormatInt(int64(g/1000), 10) + "." + strings.TrimRight(thousandths, "0")
}

// Float returns g in grams, as a float64.
func (g Grams) Float() float64 { return float64(g) / 1000 }

// Decimal returns g in grams, as an exact decimal.
func (g Grams) Decimal() decimal.Decimal { return decimal.New(int64(g), -3) }

// MarshalJSON implements json.Marshaler: a number of grams.
func (g Grams) MarshalJSON() ([]byte, error) { return []byte(g.String()), nil }

// MarshalCSV implements gocsv's TypeMarshaller.
func (g Grams) MarshalCSV() (string, error) { return g.String(), nil }

// UnmarshalCSV parses a field as ParseGrams does.
func (g *Grams) UnmarshalCSV(s string) (err error) {
	*g, err = ParseGrams(s)
	return err
}

// Mass is a mass that may be unknown.
type Mass struct {
	Grams
	Given bool
}

// Known returns g as a known mass.
func Known(g Grams) Mass { return Mass{g, true} }

// MarshalCSV returns a blank field for an unknown mass.
func (m Mass) MarshalCSV() (string, error) {
	if !m.Given {
		return "", nil
	}
	return m.Grams.String(), nil
}

// UnmarshalCSV parses a field; blank is an unknown mass.
func (m *Mass) UnmarshalCSV(s string) (err error) {
	if Trim(s) == "" {
		*m = Mass{}
		return nil
	}
	m.Grams, err = ParseGrams(s)
	m.Given = err == nil
	return err
}

// MarshalJSON returns a number of grams, or null for an unknown mass.
func (m Mass) MarshalJSON() ([]byte, error) {
	if !m.Given {
		return []byte("null"), nil
	}
	return m.Grams.MarshalJSON()
}

// Number is an exact number without a sign that may be blank. It keeps the text that it was read from.
type Number struct {
	decimal.Decimal
	Given bool
	text  string
}

// ParseNumber parses digits, optionally followed by a dot and digits. Blank is the zero Number.
func ParseNumber(s string) (Number, error) {
	s = Trim(s)
	if s == "" {
		return Number{}, nil
	}
	dots := 0
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
		case c == '.' && dots == 0 && i > 0 && i < len(s)-1:
			dots++
		default:
			return Number{}, wrong("write digits with a dot, as 24.90", "is not a number")
		}
	}
	if len(s) > 40 {
		return Number{}, wrong("", "has too many digits")
	}
	d, err := decimal.NewFromString(s)
	if err != nil {
		return Number{}, wrong("write digits with a dot, as 24.90", "is not a number")
	}
	return Number{d, true, s}, nil
}

// NewNumber returns d, which must not be negative, as a Number.
func NewNumber(d decimal.Decimal) Number { return Number{d, true, d.String()} }

// Float returns the number, or the argument if it is blank.
func (n Number) Float(blank float64) float64 {
	if !n.Given {
		return blank
	}
	return n.InexactFloat64()
}

// MarshalCSV returns the text that the number was read from.
func (n Number) MarshalCSV() (string, error) {
	if n.Given && n.text == "" { // of NewNumber
		return n.Decimal.String(), nil
	}
	return n.text, nil
}

// UnmarshalCSV parses a field as ParseNumber does.
func (n *Number) UnmarshalCSV(s string) (err error) {
	*n, err = ParseNumber(s)
	return err
}

// MarshalJSON returns a number, or null for a blank one.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.Given {
		return []byte("null"), nil
	}
	return []byte(n.Decimal.String()), nil
}

// Count is a whole number that may be blank.
type Count struct {
	N     int
	Given bool
}

// MarshalCSV returns a blank field for a count that is not given.
func (c Count) MarshalCSV() (string, error) {
	if !c.Given {
		return "", nil
	}
	return strconv.Itoa(c.N), nil
}

// UnmarshalCSV parses a field. It accepts a fraction of zeros, as 12.00, since spreadsheets write that.
func (c *Count) UnmarshalCSV(s string) error {
	*c = Count{}
	if s = Trim(s); s == "" {
		return nil
	}
	n, dot := 0, -1
	for i := 0; i < len(s); i++ {
		switch d := int(s[i] - '0'); {
		case s[i] == '.' && dot < 0 && i > 0 && i < len(s)-1:
			dot = i
		case dot < 0 && d >= 0 && d <= 9 && i < 9:
			n = n*10 + d
		case dot >= 0 && d == 0:
		default:
			return wrong("write a count, as 12", "is not a whole number")
		}
	}
	*c = Count{n, true}
	return nil
}
