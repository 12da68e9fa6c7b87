package reports

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Reorder is what to buy and by when; what must be bought first is first.
type Reorder struct {
	AsOf         ledger.Time  `json:"as_of"`         // the time that is taken for now
	From         string       `json:"from"`          // first day of use that was looked at
	To           string       `json:"to"`            // last day of use that was looked at
	LeadDays     float64      `json:"lead_days"`     // days from an order until it has come
	ServiceLevel float64      `json:"service_level"` // odds that it lasts until then, from 0 to 1
	Rows         []ReorderRow `json:"rows"`          // a row for each material and colour
}

// ReorderRow is one material and colour. Without enough history the figures that need it are null, and why says so.
type ReorderRow struct {
	Material      string       `json:"material" csv:"material"`
	Colour        string       `json:"colour" csv:"colour"`
	Spools        int          `json:"spools" csv:"spools"`                   // how many are on the shelf
	OnHandG       float64      `json:"on_hand_g" csv:"on_hand_g"`             // what is likely on them
	QueuedG       ledger.Grams `json:"queued_g" csv:"queued_g"`               // what the queue wants
	FreeG         float64      `json:"free_g" csv:"free_g"`                   // on_hand_g less queued_g
	Days          int          `json:"days" csv:"days"`                       // days of history
	UseDays       int          `json:"use_days" csv:"use_days"`               // days on which some was used
	UsedG         ledger.Grams `json:"used_g" csv:"used_g"`                   // in all those days
	DailyG        *float64     `json:"daily_g" csv:"daily_g"`                 // mean use of a day; null where the history is too short
	DailySDG      *float64     `json:"daily_sd_g" csv:"daily_sd_g"`           // standard deviation of the use of a day; null where the history is too short
	CoverDays     *float64     `json:"cover_days" csv:"cover_days"`           // how long free_g lasts; null where the history is too short
	ReorderPointG *float64     `json:"reorder_point_g" csv:"reorder_point_g"` // buy when free_g is below; null where the history is too short
	BuyG          *float64     `json:"buy_g" csv:"buy_g"`                     // what free_g lacks of it; null where the history is too short
	SpoolG        ledger.Mass  `json:"spool_g" csv:"spool_g"`                 // net of the spool last bought full; null where there is none
	BuySpools     *int         `json:"buy_spools" csv:"buy_spools"`           // how many of spool_g make up buy_g; null where one of them is
	BuyBy         *string      `json:"buy_by" csv:"buy_by"`                   // the day by which to order; null where nothing is to be bought
	Why           string       `json:"why" csv:"why"`                         // why the history is too short; else blank

	Supplier string        `json:"supplier" csv:"supplier"` // who sold that spool
	Price    ledger.Number `json:"price" csv:"price"`       // what that spool cost; null where it has none
	Currency string        `json:"currency" csv:"currency"` // currency of price, ISO 4217; may be blank
}

// NewReorder returns the view of what to buy, as of that time.
func NewReorder(r *inventory.Reorder, asOf ledger.Time) Reorder {
	out := Reorder{AsOf: asOf, From: r.From, To: r.To, LeadDays: r.LeadDays, ServiceLevel: r.ServiceLevel, Rows: []ReorderRow{}}
	for _, s := range r.Supplies {
		row := ReorderRow{Material: s.Material, Colour: s.Colour, Spools: s.Spools, OnHandG: s.OnHand, QueuedG: s.Queued, FreeG: s.Free(),
			Days: s.Days, UseDays: s.UseDays, UsedG: s.Used, SpoolG: s.SpoolG, Why: s.Why}
		if s.Last != nil {
			row.Supplier, row.Price, row.Currency = s.Last.Supplier, s.Last.Purchase.Price, s.Last.Currency()
		}
		if s.Why == "" {
			row.DailyG, row.DailySDG, row.CoverDays = number(s.Mean), number(s.SD), number(s.Cover())
			row.ReorderPointG, row.BuyG = number(s.Point), number(s.Buy)
			if s.SpoolG.Given {
				row.BuySpools = &s.BuySpools
			}
			if s.By != "" {
				row.BuyBy = &s.By
			}
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// CSV returns the rows.
func (r Reorder) CSV() any { return r.Rows }

// Sheets returns the table for people, with a note on the rows whose history is too short.
func (r Reorder) Sheets() Pages {
	if len(r.Rows) == 0 {
		return Pages{{Notes: []string{"There is nothing on the shelf, in the queue or used of late; book a spool with: tarebook buy"}}}
	}
	sheet := Sheet{
		Title: fmt.Sprintf("Use from %s to %s; lead time %s days, service level %s %%", r.From, r.To, short(r.LeadDays), short(100*r.ServiceLevel)),
		Spare: [][]string{{"sd g"}, {"g a day"}, {"last bought"}, {"for"}, {"on hand g", "queued g"}, {"days of cover"}},
		Columns: slices.Concat(texts("material", "colour"), masses("on hand g", "queued g", "free g", "g a day", "sd g"), right("days of cover"), masses("reorder point g", "buy g"), right("spools"),
			left("by"), texts("last bought"), right("for"))}
	var short []ReorderRow
	for _, row := range r.Rows {
		cells := []string{dash(row.Material), dash(row.Colour), tenth(row.OnHandG), gram(row.QueuedG), tenth(row.FreeG)}
		if row.Why != "" {
			sheet.Rows = append(sheet.Rows, append(cells, "-", "-", "-", "-", "-", "-", "-", dash(row.Supplier), row.price()))
			short = append(short, row)
			continue
		}
		buy, spools, by := "-", "-", "-"
		if *row.BuyG > 0 {
			if buy = tenth(*row.BuyG); row.BuySpools != nil {
				spools = fmt.Sprintf("%d x %s", *row.BuySpools, row.SpoolG.Grams)
			}
		}
		if row.BuyBy != nil {
			by = *row.BuyBy
		}
		sheet.Rows = append(sheet.Rows, append(cells, tenth(*row.DailyG), tenth(*row.DailySDG), strconv.FormatFloat(*row.CoverDays, 'f', 0, 64), tenth(*row.ReorderPointG), buy, spools, by, dash(row.Supplier), row.price()))
	}
	sheet.Notes = shortHistories(short)
	return Pages{sheet}
}

// price is what the last full spool cost in all, as it was typed.
func (row ReorderRow) price() string {
	if !row.Price.Given {
		return "-"
	}
	return inventory.PriceText(row.Price, row.Currency)
}

// shortHistories says once of which rows the history is too short for figures, by why it is, and what the queue lacks all the same.
func shortHistories(rows []ReorderRow) (notes []string) {
	var whys []string
	named := map[string][]string{}
	for _, row := range rows {
		what := strings.TrimSpace(row.Material + " " + row.Colour)
		if what == "" {
			what = "a need without spool or material"
		}
		if named[row.Why] == nil {
			whys = append(whys, row.Why)
		}
		named[row.Why] = append(named[row.Why], what)
		if row.FreeG < 0 {
			notes = append(notes, fmt.Sprintf("%s: the queue alone wants %s g more than there is", what, tenth(-row.FreeG)))
		}
	}
	for i, why := range whys {
		whys[i] = inventory.List(named[why], "and") + " (" + why + ")"
	}
	if whys == nil {
		return nil
	}
	return slices.Insert(notes, 0, "too little history for a reorder point: "+strings.Join(whys, "; "))
}

// short writes a number with no more decimals than it has, up to six.
func short(x float64) string {
	s := strconv.FormatFloat(x, 'f', 6, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}
