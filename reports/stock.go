package reports

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// Stock is the shelf: what is on every spool.
type Stock struct {
	Rows []StockRow
	All  bool // tables show the ended too
	Some bool // not all spools were asked for

	Empty []string // feeds of the printer asked for at which none stands
}

// StockRow is one spool; an ended one stays with figures 0.
type StockRow struct {
	Spool       string        `json:"spool" csv:"spool"`
	Material    string        `json:"material" csv:"material"`
	Colour      string        `json:"colour" csv:"colour"`
	Maker       string        `json:"maker" csv:"maker"`
	Place       string        `json:"place" csv:"place"`
	DiameterMM  ledger.Number `json:"diameter_mm" csv:"diameter_mm"`     // diameter of the filament
	DensityGCM3 float64       `json:"density_g_cm3" csv:"density_g_cm3"` // density of its material
	TareG       ledger.Mass   `json:"tare_g" csv:"tare_g"`               // the empty spool, by the best tare known; null where none is
	TareFrom    string        `json:"tare_from" csv:"tare_from"`         // where the tare comes from, the best first: its own weigh-in when empty, the purchase, the core, the first weigh-in less the label
	NetG        ledger.Grams  `json:"net_g" csv:"net_g"`                 // what the book says is left; 0 once it has ended
	UG          float64       `json:"u_g" csv:"u_g"`                     // standard uncertainty of net_g
	LikelyG     float64       `json:"likely_g" csv:"likely_g"`           // net_g corrected by how estimates have run in this shop
	LengthM     float64       `json:"length_m" csv:"length_m"`           // length of net_g as filament
	UM          float64       `json:"u_m" csv:"u_m"`                     // standard uncertainty of length_m
	LastWeighed ledger.Time   `json:"last_weighed" csv:"last_weighed"`   // the last weigh-in with a gross; null where there is none
	DrawnSinceG ledger.Grams  `json:"drawn_since_g" csv:"drawn_since_g"` // all that went since the last weigh-in that moved the book, else since it was bought
	PricePerG   SpoolPrice    `json:"price_per_g" csv:"price_per_g"`     // what a gram cost, half up to 12 decimals; null without a price
	Value       Money         `json:"value" csv:"value"`                 // what net_g is worth, half up; null without a price
	Currency    string        `json:"currency" csv:"currency"`           // currency of its price, ISO 4217
	Ended       bool          `json:"ended" csv:"ended"`                 // whether it was weighed in as empty or discarded; its figures are 0 then
	Flags       Flags         `json:"flags" csv:"flags"`                 // doubts about the figures
}

// SpoolPrice is what one gram of a spool cost, to 12 decimals, or none. It is computed only where it is written: a table does not
// show it, and for all spools it takes 4 % of the instructions of stock.
type SpoolPrice struct{ purchase *ledger.Purchase }

func (p SpoolPrice) exact() Exact {
	if p.purchase == nil {
		return Exact{}
	}
	return Exact{decimal.NewNullDecimal(cost.ShareOf(p.purchase, 1000, 12))}
}

// MarshalJSON writes a number, or null.
func (p SpoolPrice) MarshalJSON() ([]byte, error) { return p.exact().MarshalJSON() }

// MarshalCSV writes a number, or nothing.
func (p SpoolPrice) MarshalCSV() (string, error) { return p.exact().MarshalCSV() }

// StockKeys are what stock can be sorted by.
var StockKeys = []string{"spool", "material", "place", "net", "length", "value", "weighed"}

// NewStock returns the view of spools by id; all lets tables show the ended ones too.
func NewStock(spools []*inventory.Spool, all bool) Stock {
	byID := slices.SortedFunc(slices.Values(spools), func(a, b *inventory.Spool) int { return cmp.Compare(a.ID, b.ID) })
	s := Stock{Rows: make([]StockRow, len(byID)), All: all}
	for i, spool := range byID {
		s.Rows[i] = stockRow(spool)
	}
	return s
}

// Flagged returns the rows with a flag.
func (s Stock) Flagged(flag string) (Stock, error) {
	flag = strings.ToLower(ledger.Trim(flag))
	if !slices.Contains(StockFlags, flag) {
		return s, fmt.Errorf("no flag %q; the flags are %s", flag, strings.Join(StockFlags, ", "))
	}
	s.Rows = slices.DeleteFunc(s.Rows, func(r StockRow) bool { return !slices.Contains(r.Flags, flag) })
	s.Some = true
	return s, nil
}

// Sorted returns the rows by one of StockKeys, least or oldest first; what is equal stays by id.
func (s Stock) Sorted(key string) (Stock, error) {
	key = strings.ToLower(ledger.Trim(key))
	if key == StockKeys[0] { // as it is
		return s, nil
	}
	compare := map[string]func(a, b StockRow) int{
		"material": func(a, b StockRow) int {
			return cmp.Or(cmp.Compare(a.Material, b.Material), cmp.Compare(a.Colour, b.Colour))
		},
		"place":  func(a, b StockRow) int { return cmp.Compare(a.Place, b.Place) },
		"net":    func(a, b StockRow) int { return cmp.Compare(a.NetG, b.NetG) },
		"length": func(a, b StockRow) int { return cmp.Compare(a.LengthM, b.LengthM) },
		"value": func(a, b StockRow) int {
			return cmp.Or(cmp.Compare(a.Currency, b.Currency), a.Value.Amount.Cmp(b.Value.Amount))
		},
		"weighed": func(a, b StockRow) int { return a.LastWeighed.Compare(b.LastWeighed) },
	}[key]
	if compare == nil {
		return s, fmt.Errorf("stock is not sorted by %q; write one of %s", key, strings.Join(StockKeys, ", "))
	}
	slices.SortStableFunc(s.Rows, compare)
	return s, nil
}

func stockRow(s *inventory.Spool) StockRow {
	row := StockRow{Spool: s.ID, Material: s.Material, Colour: s.Colour, Maker: s.Maker, Place: s.Place,
		DiameterMM: s.Purchase.DiameterMM, DensityGCM3: s.Filament.Density, TareG: s.Tare.Grams, TareFrom: s.Tare.From,
		Currency: s.Currency(), Ended: s.Ended, PricePerG: SpoolPrice{s.PricedBy()}}
	if w := s.LastWeighed(); w != nil {
		row.LastWeighed = w.At
	}
	if !s.Ended {
		row.NetG, row.UG, row.LikelyG = s.Net, s.NetU(), s.Likely()
		row.LengthM = s.Filament.Length(s.Net.Float())
		row.UM = s.Filament.LengthU(s.Net.Float(), row.UG)
		row.DrawnSinceG = s.Weighed + s.Others
	}
	if s.Priced() {
		row.Value = money(cost.Value(s), row.Currency)
	}
	var last inventory.Reading // the next one that fits clears its flags
	if r := s.LastReading(); r != nil {
		last = *r
	}
	row.Flags = flags(noTare, s.Tare.From == inventory.TareNone, neverWeighed, row.LastWeighed.IsZero(),
		overdrawn, row.NetG < 0, afterEnd, s.AfterEnd, outside, last.Outside, heavier, last.Heavier,
		unpriced, !s.Priced(), conflict, s.Purchase.Twice)
	return row
}

// JSON returns the value of the contract.
func (s Stock) JSON() any { return s.Rows }

// CSV returns the rows.
func (s Stock) CSV() any { return s.Rows }

// Sheets returns the table for people, without the ended spools unless all are asked for. Of the columns that a narrow terminal can spare,
// what a spool is worth is the office's, and likely grams are close to net.
func (s Stock) Sheets() Pages {
	sheet := Sheet{Spare: [][]string{{"value"}, {"weighed"}, {"likely g"}, {"length m", "2u m"}, {"material"}}, Columns: slices.Concat(texts("spool"), left(""), texts("material", "colour", "place"),
		right("net g", "2u g", "likely g", "length m", "2u m", "value"), left("weighed"))}
	f := s.figures()
	ended := 0
	var flagged flagNotes
	for _, r := range s.Rows {
		if r.Ended {
			ended++
			if !s.All {
				continue
			}
		}
		mark := flagged.of(r.Spool, r.Flags...)
		weighed := day(r.LastWeighed)
		if r.Ended {
			weighed = "ended"
		}
		sheet.Rows = append(sheet.Rows, []string{r.Spool, mark, r.Material, dash(r.Colour), dash(r.Place), fixed(r.NetG.Float(), f.grams), fixed(2*r.UG, f.grams),
			fixed(r.LikelyG, f.grams), fixed(r.LengthM, f.metres), fixed(2*r.UM, f.metres), r.Value.in(r.Currency), weighed})
	}
	sheet.Notes = flagged.lines()
	if len(s.Empty) > 0 {
		sheet.Notes = append(sheet.Notes, "Empty: "+strings.Join(s.Empty, ", "))
	}
	if len(s.Rows) == 0 && s.Some {
		sheet.Notes = append(sheet.Notes, "No spool is like that.")
	} else if len(s.Rows) == 0 {
		sheet.Notes = append(sheet.Notes, "The shelf is empty; book a spool with: tarebook buy")
	}
	for _, worth := range s.worth() {
		sheet.Totals = append(sheet.Totals, []string{"", "", "", "", "", "", "", "", "", "", worth, ""})
	}
	if ended > 0 && !s.All {
		sheet.Notes = append(sheet.Notes, fmt.Sprintf("%s ended; see them with: tarebook stock --all", inventory.Plural(ended, "spool has", "spools have")))
	}
	return Pages{sheet}
}

// worth is what all spools are worth together, by currency.
func (s Stock) worth() (all []string) {
	totals := map[string]decimal.Decimal{}
	for _, r := range s.Rows {
		if r.Value.given && (s.All || !r.Ended) {
			totals[r.Currency] = totals[r.Currency].Add(r.Value.Amount)
		}
	}
	for _, currency := range slices.Sorted(maps.Keys(totals)) {
		all = append(all, money(totals[currency], currency).in(currency))
	}
	return all
}
