package reports

import (
	"slices"
	"strconv"

	"tarebook/inventory/cost"
	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// Waste is what filament went where and what it cost, by one key.
type Waste struct {
	By     string     `json:"by"`
	Rows   []WasteRow `json:"rows"`
	Totals []WasteRow `json:"totals"`
}

// WasteRow is one key in one currency. Every sum is the sum of rounded cells.
type WasteRow struct {
	Key      string `json:"key" csv:"key"`
	Currency string `json:"currency" csv:"currency"`
	Jobs     int    `json:"jobs" csv:"jobs"`
	KindGrams
	WasteG ledger.Grams `json:"waste_g" csv:"waste_g"`
	KindCosts
	WasteCost  Money        `json:"waste_cost" csv:"waste_cost"`
	UnpricedG  ledger.Grams `json:"unpriced_g" csv:"unpriced_g"`
	WasteShare float64      `json:"waste_share" csv:"waste_share"`

	changes    int
	perChangeG *float64
}

// machineRow is a row by printer: also what a change purges on the average, of the rows that know their changes.
type machineRow struct {
	WasteRow
	Changes         int      `json:"changes" csv:"changes"`
	PurgePerChangeG *float64 `json:"purge_per_change_g" csv:"purge_per_change_g"` // null without changes
}

func machineRows(rows []WasteRow) []machineRow {
	out := []machineRow{}
	for _, r := range rows {
		out = append(out, machineRow{r, r.changes, r.perChangeG})
	}
	return out
}

// NewWaste returns the view of a costing.
func NewWaste(by string, c *cost.Costing) Waste {
	rows, totals := c.Rows()
	return Waste{by, wasteRows(rows), wasteRows(totals)}
}

func wasteRows(rows []cost.Row) []WasteRow {
	out := []WasteRow{}
	for _, r := range rows {
		var costs [cost.Kinds]Money
		for kind, amount := range r.Costs {
			costs[kind] = money(amount, r.Currency)
		}
		row := WasteRow{Key: r.Key, Currency: r.Currency, Jobs: r.Jobs, KindGrams: kindGrams(r.Grams), WasteG: r.Waste(),
			KindCosts: kindCosts(costs), WasteCost: money(r.WasteCost(), r.Currency), UnpricedG: r.Unpriced, changes: r.Changes}
		if purge := planning.ChangePurgeOf(r); purge.Changes > 0 {
			row.perChangeG = number(purge.PerChange())
		}
		if all := r.All(); all > 0 {
			row.WasteShare = r.Waste().Float() / all.Float()
		}
		out = append(out, row)
	}
	return out
}

// JSON returns the value of the contract.
func (w Waste) JSON() any {
	if w.By == "printer" {
		return struct {
			By     string       `json:"by"`
			Rows   []machineRow `json:"rows"`
			Totals []machineRow `json:"totals"`
		}{w.By, machineRows(w.Rows), machineRows(w.Totals)}
	}
	return w
}

// CSV returns the rows, without totals.
func (w Waste) CSV() any {
	if w.By == "printer" {
		return machineRows(w.Rows)
	}
	return w.Rows
}

// Sheets returns grams and money for people.
func (w Waste) Sheets() Pages {
	grams := Sheet{Spare: []string{"unpriced", "jobs", "support", "prime"}, Title: "Grams by " + w.By, Columns: slices.Concat(left(w.By), right("jobs", "part", "support", "prime", "purge", "scrap", "waste", "share", "unpriced"))}
	costs := Sheet{Spare: []string{"support", "prime"}, Title: "Cost by " + w.By, Columns: slices.Concat(left(w.By), right("part", "support", "prime", "purge", "scrap", "waste"), left(""))}
	if w.By == "printer" {
		grams.Columns = append(grams.Columns, right("changes", "purge g/change")...)
		grams.Spare = append([]string{"changes"}, grams.Spare...)
	}
	masses := func(r WasteRow, key string) []string {
		cells := slices.Concat([]string{key, strconv.Itoa(r.Jobs)}, r.KindGrams.cells(), []string{gram(r.WasteG), percent(r.WasteShare), gram(r.UnpricedG)})
		if w.By == "printer" {
			each := "-"
			if r.perChangeG != nil {
				each = strconv.FormatFloat(*r.perChangeG, 'f', 3, 64)
			}
			cells = append(cells, strconv.Itoa(r.changes), each)
		}
		return cells
	}
	cost := func(r WasteRow, key string) []string {
		return slices.Concat([]string{key}, r.KindCosts.cells(), []string{r.WasteCost.String(), r.Currency})
	}
	for _, r := range w.Rows {
		key := named(r.Key)
		grams.Rows = append(grams.Rows, masses(r, key))
		costs.Rows = append(costs.Rows, cost(r, key))
	}
	for _, r := range w.Totals {
		grams.Totals = append(grams.Totals, masses(r, "total "+r.Currency))
		costs.Totals = append(costs.Totals, cost(r, "total "+r.Currency))
	}
	if len(w.Rows) == 0 {
		return Pages{{Notes: []string{"No consumption in this time."}}}
	}
	costs.Picture = func(width int) (lines []string) {
		for _, b := range wasteBars(w) {
			lines = append(lines, b.plot(width)...)
		}
		return lines
	}
	return Pages{grams, costs}
}
