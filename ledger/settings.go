package ledger

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// Settings are the shop's own figures. Each has a default, which counts where settings.csv does not set it.
type Settings struct {
	Currency     string  // ISO 4217
	EnoughOdds   float64 // odds from which a spool is enough
	EstimateU    float64 // relative standard uncertainty of a sliced estimate
	LabelU       float64 // relative standard uncertainty of a label's net
	DiameterTol  float64 // half-width in mm (GB/T 42620-2023 as described in trade articles)
	MinIntervals int     // intervals between weigh-ins before the shop's own k is taken
	LeadDays     float64
	ServiceLevel float64
	Scale        string // default scale when recording
	Printer      string // default printer when recording
	PurgeWords   []string
	PrimeWords   []string
	SupportWords []string
	PurgeWeights []PurgeWeight
	Shop         string   // the shop's name, at the head of what a client gets
	ShopLines    []string // its address and the like
}

// PurgeWeight multiplies the wasted grams of a spool (purge and prime) when plans are compared.
type PurgeWeight struct {
	Spool  string
	Weight decimal.Decimal
}

// ParsePurgeWeight parses SPOOL=WEIGHT.
func ParsePurgeWeight(text string) (w PurgeWeight, err error) {
	spool, weight, ok := strings.Cut(text, "=")
	w.Spool = Fold(Trim(spool))
	n, err := ParseNumber(weight)
	if w.Weight = n.Decimal; !ok || err != nil || w.Spool == "" || !n.IsPositive() {
		return w, wrong("write a spool and a number above 0, as PLA-017=10", "%q is no SPOOL=WEIGHT", text)
	}
	return w, nil
}

func defaultSettings() *Settings {
	return &Settings{Currency: "EUR", EnoughOdds: 0.95, EstimateU: 0.03, LabelU: 0.01, DiameterTol: 0.05, MinIntervals: 5,
		LeadDays: 7, ServiceLevel: 0.95}
}

// set applies one line. It ignores an unknown setting, which only verify reports.
func (s *Settings) set(line *Setting) error {
	if line.Value == "" {
		return nil
	}
	number := func(to *float64, limit int64, open bool) error {
		n, err := ParseNumber(line.Value)
		if err != nil {
			f := err.(*RowError)
			return wrong(f.Mend, "%q of %s %s", line.Value, line.Setting, f.What)
		}
		edge := n.Cmp(decimal.New(limit, 0))
		if limit > 0 && (edge > 0 || open && (edge == 0 || n.IsZero())) {
			return wrong("write a share, as 0.95", "%q of %s is not between 0 and %d", line.Value, line.Setting, limit)
		}
		*to = n.Float(0)
		return nil
	}
	switch strings.ToLower(line.Setting) {
	case "currency":
		code := strings.ToUpper(line.Value)
		if _, ok := MinorUnit(code); !ok {
			return wrong("write its three letters, as EUR", "%q is not a currency of ISO 4217", line.Value)
		}
		s.Currency = code
	case "enough_odds":
		return number(&s.EnoughOdds, 1, false)
	case "estimate_u":
		return number(&s.EstimateU, 0, false)
	case "label_u":
		return number(&s.LabelU, 0, false)
	case "diameter_tol_mm":
		return number(&s.DiameterTol, 0, false)
	case "min_intervals":
		var n float64
		if err := number(&n, 0, false); err != nil {
			return err
		}
		if n != float64(int(n)) {
			return wrong("write a count, as 5", "%q of %s is not a whole number", line.Value, line.Setting)
		}
		s.MinIntervals = int(n)
	case "lead_days":
		return number(&s.LeadDays, 0, false)
	case "service_level":
		return number(&s.ServiceLevel, 1, true)
	case "scale":
		s.Scale = line.Value
	case "printer":
		s.Printer = line.Value
	case formatSetting:
		if _, ok := line.format(); !ok {
			return wrong(fmt.Sprintf("write the number of the book's format, which is %d, or leave the line out", Format), "%q of format is not a whole number above 0", line.Value)
		}
	case "shop":
		s.Shop = line.Value
	case "shop_lines":
		for part := range strings.SplitSeq(line.Value, " / ") {
			if part = Trim(part); part != "" {
				s.ShopLines = append(s.ShopLines, part)
			}
		}
	case "purge_words":
		s.PurgeWords = strings.Fields(line.Value)
	case "prime_words":
		s.PrimeWords = strings.Fields(line.Value)
	case "support_words":
		s.SupportWords = strings.Fields(line.Value)
	case "purge_weight":
		for _, text := range strings.Fields(line.Value) {
			w, err := ParsePurgeWeight(text)
			if err != nil {
				return err
			}
			s.PurgeWeights = append(s.PurgeWeights, w)
		}
	}
	return nil
}

// SettingNames are all settings, in the order in which help lists them.
var SettingNames = []string{"currency", "enough_odds", "estimate_u", "label_u", "diameter_tol_mm", "min_intervals",
	"lead_days", "service_level", "scale", "printer", "purge_words", "prime_words", "support_words", "purge_weight", "shop", "shop_lines", formatSetting}
