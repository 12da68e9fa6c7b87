package inventory

import (
	"errors"
	"fmt"
	"strings"

	"github.com/shopspring/decimal"

	"tarebook/inventory/filament"
	"tarebook/ledger"
)

// ParseMass reads a typed mass: grams (182.4, 182.4g), kilograms (0.18kg), or a length (61.2m, 61200mm), also
// with a decimal comma. A length is turned into grams by the filament's diameter and density, to 0.001 g half up; stock is nil
// where a length makes no sense.
func ParseMass(text string, stock *filament.Stock) (ledger.Grams, error) {
	dotted, err := Dotted(text)
	if err != nil {
		return 0, err
	}
	number, unit := dotted, ""
	if i := strings.IndexFunc(dotted, func(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' }); i >= 0 {
		number, unit = ledger.Trim(dotted[:i]), strings.ToLower(dotted[i:])
	}
	if ledger.Trim(number) == "" {
		return 0, fmt.Errorf("%q is not a mass; write grams with a dot, as 182.4, or 0.18kg, 61.2m, 61200mm", text)
	}
	switch unit {
	case "", "g":
		g, err := ledger.ParseGrams(number)
		if err != nil {
			return 0, fmt.Errorf("%q %w", text, err)
		}
		return g, nil
	case "kg", "m", "mm":
		n, err := ledger.ParseNumber(number)
		if err != nil {
			return 0, fmt.Errorf("%q %w", text, err)
		}
		if unit == "kg" {
			return grams(text, n.Shift(6), true)
		}
		if stock == nil {
			return 0, fmt.Errorf("%q is a length, which only a known spool turns into grams; write grams, as 812.5", text)
		}
		metres := n.Decimal
		if unit == "mm" {
			metres = metres.Shift(-3)
		}
		perMetre := decimal.NewFromFloat(stock.Mass(1))
		return grams(text, metres.Mul(perMetre).Shift(3).Round(0), false)
	}
	return 0, fmt.Errorf("%q has the unit %q; write g, kg, m or mm", text, unit)
}

func grams(text string, thousandths decimal.Decimal, exact bool) (ledger.Grams, error) {
	if exact && !thousandths.IsInteger() {
		return 0, fmt.Errorf("%q has more than three decimals of a gram", text)
	}
	if thousandths.GreaterThan(decimal.New(int64(ledger.MaxGrams), 0)) {
		return 0, errors.New(text + " is more than any spool")
	}
	return ledger.Grams(thousandths.IntPart()), nil
}

// Dotted returns a typed number with a dot in place of its decimal comma. Three digits behind a comma may be decimals or the last
// of thousands, so these are refused unless only 0 stands before the comma or kg behind them.
func Dotted(text string) (string, error) {
	whole, decimals, ok := strings.Cut(text, ",")
	if !ok || strings.ContainsAny(text, ".") || strings.Contains(decimals, ",") || !digits(whole) {
		return text, nil
	}
	n := 0
	for n < len(decimals) && decimals[n] >= '0' && decimals[n] <= '9' {
		n++
	}
	if n == 3 && strings.Trim(whole, " \t0") != "" && !strings.EqualFold(ledger.Trim(decimals[n:]), "kg") {
		return "", fmt.Errorf("%q may be %s.%s or %s%s; write one of them", text, whole, decimals, whole, decimals)
	}
	if n == 0 {
		return text, nil
	}
	return whole + "." + decimals, nil
}

func digits(text string) bool {
	return ledger.Trim(text) != "" && strings.Trim(ledger.Trim(text), "0123456789") == ""
}

// TypedNumber reads a typed number, which may have a decimal comma.
func TypedNumber(text string) (ledger.Number, error) {
	dotted, err := Dotted(text)
	if err != nil {
		return ledger.Number{}, err
	}
	return ledger.ParseNumber(dotted)
}
