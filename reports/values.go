package reports

import (
	"cmp"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// Money is an amount in a currency's minor unit, or none.
type Money struct {
	Amount   decimal.Decimal
	decimals int32
	given    bool
}

func money(amount decimal.Decimal, currency string) Money {
	decimals, _ := ledger.MinorUnit(currency)
	return Money{amount, decimals, true}
}

// String returns the amount with all decimals of its currency, or a dash for none.
func (m Money) String() string {
	if !m.given {
		return "-"
	}
	return m.Amount.StringFixed(m.decimals)
}

// in returns the amount with its currency, or a dash for none.
func (m Money) in(currency string) string {
	if !m.given {
		return "-"
	}
	return m.String() + " " + currency
}

// currency returns the currency beside the amount; "" if there is no amount.
func (m Money) currency(code string) string {
	if !m.given {
		return ""
	}
	return code
}

// MarshalJSON writes a number, or null.
func (m Money) MarshalJSON() ([]byte, error) {
	if !m.given {
		return []byte("null"), nil
	}
	return []byte(m.String()), nil
}

// MarshalCSV writes a number, or nothing.
func (m Money) MarshalCSV() (string, error) {
	if !m.given {
		return "", nil
	}
	return m.String(), nil
}

// Exact is a number of money that is not rounded to the minor unit, or none.
type Exact struct{ decimal.NullDecimal }

// MarshalJSON writes a number, or null.
func (e Exact) MarshalJSON() ([]byte, error) {
	if !e.Valid {
		return []byte("null"), nil
	}
	return []byte(e.Decimal.String()), nil
}

// MarshalCSV writes a number, or nothing.
func (e Exact) MarshalCSV() (string, error) {
	if !e.Valid {
		return "", nil
	}
	return e.Decimal.String(), nil
}

// share returns a share of 0 to 1 with a limited number of decimals, or none for nil.
func share(r *big.Rat) Exact {
	if r == nil {
		return Exact{}
	}
	digits, _ := r.FloatPrec()
	return Exact{decimal.NewNullDecimal(decimal.RequireFromString(r.FloatString(int(digits))))}
}

// percent formats a share for people.
func (e Exact) percent() string { return e.Decimal.Shift(2).String() + " %" }

// pricePerGram returns a price to 12 decimals, none for nil.
func pricePerGram(price *big.Rat) Exact {
	if price == nil {
		return Exact{}
	}
	return Exact{decimal.NewNullDecimal(cost.RoundHalfUp(price, 12))}
}

// gram formats grams with at least one decimal, so that columns line up.
func gram(g ledger.Grams) string {
	s := g.String()
	if strings.Contains(s, ".") {
		return s
	}
	return s + ".0"
}

// tenthGram formats grams of which more decimals than one would be finer than they are known, as those that a slicer reckons.
func tenthGram(g ledger.Grams) string { return noMinusZero(g.Decimal().StringFixed(1)) }

func tenth(x float64) string { return noMinusZero(strconv.FormatFloat(x, 'f', 1, 64)) }

func noMinusZero(s string) string {
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

func percent(share float64) string { return strconv.FormatFloat(100*share, 'f', 1, 64) + " %" }

// odds formats odds for people. It never shows 0 % or 100 %, since nothing is certain.
func odds(p float64) string {
	switch {
	case p > 0.999:
		return "> 99.9 %"
	case p < 0.001:
		return "< 0.1 %"
	}
	return percent(p)
}

func day(t ledger.Time) string {
	if t.IsZero() {
		return "-"
	}
	return t.Date()
}

func minute(t ledger.Time) string {
	if t.IsZero() {
		return "-"
	}
	return t.Std().Format("2006-01-02 15:04")
}

func number(x float64) *float64 { return &x }

func dash(s string) string { return cmp.Or(s, "-") }

// named returns a name, or words for a blank one.
func named(s string) string { return cmp.Or(s, "(none)") }

// join joins the parts that are not empty.
func join(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), "; ")
}
