package oracle

import (
	"math"
	"math/big"
	"strconv"
)

var defaultSettings = map[string]string{
	"currency": "EUR", "enough_odds": "0.95", "estimate_u": "0.03", "label_u": "0.01",
	"diameter_tol_mm": "0.05", "min_intervals": "5", "lead_days": "7", "service_level": "0.95",
}

func (f folder) setting(name string) string {
	for _, r := range f["settings.csv"] {
		if fold(r.get("setting")) == fold(name) && r.get("value") != "" {
			return r.get("value")
		}
	}
	return defaultSettings[name]
}

func (f folder) number(name string) float64 { return number(f.setting(name), 0) }

// find gives the table row of a folded name, nil if there is none.
func (f folder) find(file, column, name string) *row {
	for _, r := range f[file] {
		if fold(r.get(column)) == fold(name) {
			return r
		}
	}
	return nil
}

func number(text string, blank float64) float64 {
	if text == "" {
		return blank
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return math.NaN() // the generator writes no such book
	}
	return x
}

func rational(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		return new(big.Rat)
	}
	return r
}

// milligrams reads grams exactly; blank is 0.
func milligrams(text string) int64 {
	if text == "" {
		return 0
	}
	r := rational(text)
	r.Mul(r, big.NewRat(1000, 1))
	return r.Num().Int64() / r.Denom().Int64()
}

func grams(mg int64) float64 { return float64(mg) / 1000 }

func square(x float64) float64 { return x * x }
