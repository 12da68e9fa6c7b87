package reports

import (
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory/cost"
	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// Waste is what filament went where and what it cost, by one key.
type Waste struct {
	By     string     `json:"by"`     // what a row is
	Rows   []WasteRow `json:"rows"`   // a row for each key and currency
	Totals []WasteRow `json:"totals"` // a row for each currency

	allJobs int
}

// WasteRow is one key in one currency. Every sum is the sum of rounded cells.
type WasteRow struct {
	Key      string `json:"key" csv:"key"` // name of what the row is of; blank where the book has none
	Currency string `json:"currency" csv:"currency"`
	Jobs     int    `json:"jobs" csv:"jobs"` // how many distinct names of jobs
	KindGrams
	WasteG     ledger.Grams `json:"waste_g" csv:"waste_g"` // grams of support, prime, purge and scrap
	KindCosts               // never null: 0 where no price is known
	WasteCost  Money        `json:"waste_cost" csv:"waste_cost"`   // cost of waste_g
	UnpricedG  ledger.Grams `json:"unpriced_g" csv:"unpriced_g"`   // grams of spools without a price
	WasteShare float64      `json:"waste_share" csv:"waste_share"` // share of waste_g in all grams, from 0 to 1

	changes    int
	perChangeG *float64
	clients    []string
}

// jobRow is a row by job: also whose job it is; "" is nobody's.
type jobRow struct {
	*WasteRow
	Clients Names `json:"clients" csv:"clients"` // whose job it is; a blank one is nobody
}

// Names are names in order.
type Names []string

// MarshalCSV joins the names.
func (n Names) MarshalCSV() (string, error) { return strings.Join(n, "; "), nil }

func jobRows(rows []WasteRow) []jobRow {
	out := make([]jobRow, 0, len(rows))
	for i := range rows {
		out = append(out, jobRow{&rows[i], append(Names{}, rows[i].clients...)})
	}
	return out
}

// machineRow is a row by printer: also what a change purges on the average, of the rows that know their changes.
type machineRow struct {
	WasteRow
	Changes         int      `json:"changes" csv:"changes"`                       // how many changes there were, by the rows that know theirs
	PurgePerChangeG *float64 `json:"purge_per_change_g" csv:"purge_per_change_g"` // what one of those purges, on the average; null without changes
}

func machineRows(rows []WasteRow) []machineRow {
	out := make([]machineRow, 0, len(rows))
	for _, r := range rows {
		out = append(out, machineRow{r, r.changes, r.perChangeG})
	}
	return out
}

// wasteByJob is waste by job.
type wasteByJob struct {
	By     string     `json:"by"`     // what a row is
	Rows   []jobRow   `json:"rows"`   // a row for each job and currency
	Totals []WasteRow `json:"totals"` // a row for each currency
}

// wasteByPrinter is waste by printer.
type wasteByPrinter struct {
	By     string       `json:"by"`     // what a row is
	Rows   []machineRow `json:"rows"`   // a row for each printer and currency
	Totals []machineRow `json:"totals"` // a row for each currency
}

// NewWaste returns the view of a costing.
func NewWaste(by string, c *cost.Costing) Waste {
	rows, totals := c.Rows()
	return Waste{by, wasteRows(rows), wasteRows(totals), c.AllJobs()}
}

func wasteRows(rows []cost.Row) []WasteRow {
	out := make([]WasteRow, 0, len(rows))
	for _, r := range rows {
		var costs [cost.Kinds]Money
		for kind, amount := range r.Costs {
			costs[kind] = money(amount, r.Currency)
		}
		row := WasteRow{Key: r.Key, Currency: r.Currency, Jobs: r.Jobs, KindGrams: kindGrams(r.Grams), WasteG: r.Waste(),
			KindCosts: kindCosts(costs), WasteCost: money(r.WasteCost(), r.Currency), UnpricedG: r.Unpriced, changes: r.Changes, clients: r.Clients}
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
	switch w.By {
	case "job":
		return wasteByJob{w.By, jobRows(w.Rows), w.Totals}
	case "printer":
		return wasteByPrinter{w.By, machineRows(w.Rows), machineRows(w.Totals)}
	}
	return w
}

// CSV returns the rows, without totals.
func (w Waste) CSV() any {
	switch w.By {
	case "job":
		return jobRows(w.Rows)
	case "printer":
		return machineRows(w.Rows)
	}
	return w.Rows
}

// Sheets returns grams and money for people. Grams have one total, whatever was paid for them.
func (w Waste) Sheets() Pages {
	if len(w.Rows) == 0 {
		return Pages{{Notes: []string{"No consumption fits."}}}
	}
	costs := Sheet{Spare: [][]string{{"part"}, wasteColumns}, Title: "Cost by " + w.By, Columns: slices.Concat(texts(w.By), right("part", "support", "prime", "purge", "scrap", "waste"), left(""))}
	cells := func(r *WasteRow, key string) []string {
		if all := r.PartG + r.WasteG; all > 0 && r.UnpricedG == all { // no money stands for any of it
			return []string{key, "-", "-", "-", "-", "-", "-", ""}
		}
		return slices.Concat([]string{key}, r.KindCosts.cells(), []string{r.WasteCost.String(), r.Currency})
	}
	costs.fill = func(s *Sheet) {
		for i := range w.Rows {
			s.Rows = append(s.Rows, cells(&w.Rows[i], named(w.Rows[i].Key)))
		}
	}
	for i := range w.Totals {
		costs.Totals = append(costs.Totals, cells(&w.Totals[i], "total "+w.Totals[i].Currency))
	}
	costs.Picture = func(s Style) (lines []string) {
		for _, b := range wasteBars(w) {
			lines = append(lines, b.plot(s)...)
		}
		return lines
	}
	return Pages{w.grams(), costs}
}

// wasteColumns add up to waste.
var wasteColumns = []string{"support", "prime", "purge", "scrap"}

// grams is the sheet of grams; by job with whose job it is, by printer with what a change purges.
func (w Waste) grams() Sheet {
	sheet := Sheet{Spare: [][]string{{"unpriced"}, {"jobs"}, wasteColumns, {"part"}}, Title: "Grams by " + w.By}
	keys := texts(w.By)
	if w.By == "job" {
		keys = texts(w.By, "client")
	}
	sheet.Columns = slices.Concat(keys, right("jobs"), masses("part", "support", "prime", "purge", "scrap", "waste"), right("share"), masses("unpriced"))
	if w.By == "printer" {
		sheet.Columns = append(sheet.Columns, right("changes", "purge g/change")...)
		sheet.Spare = append([][]string{{"changes"}}, sheet.Spare...)
	}
	cells := func(r WasteRow, keys ...string) []string {
		row := slices.Concat(keys, []string{strconv.Itoa(r.Jobs)}, r.KindGrams.cells(), []string{gram(r.WasteG), percent(r.WasteShare), gram(r.UnpricedG)})
		if w.By == "printer" {
			each := "-"
			if r.perChangeG != nil {
				each = strconv.FormatFloat(*r.perChangeG, 'f', 3, 64)
			}
			row = append(row, strconv.Itoa(r.changes), each)
		}
		return row
	}
	sheet.fill = func(s *Sheet) {
		for _, r := range w.Rows {
			keys := []string{named(r.Key)}
			if w.By == "job" {
				var clients []string
				for _, client := range r.clients {
					clients = append(clients, named(client))
				}
				keys = append(keys, strings.Join(clients, ", "))
			}
			s.Rows = append(s.Rows, cells(r, keys...))
		}
	}
	total := []string{"total", ""}
	sheet.Totals = [][]string{cells(w.allGrams(), total[:len(keys)]...)}
	return sheet
}

// allGrams are the grams of all currencies together.
func (w Waste) allGrams() WasteRow {
	all := WasteRow{Jobs: w.allJobs}
	purged := 0.0
	for _, r := range w.Totals {
		all.KindGrams = all.KindGrams.plus(r.KindGrams)
		all.WasteG += r.WasteG
		all.UnpricedG += r.UnpricedG
		if all.changes += r.changes; r.perChangeG != nil {
			purged += *r.perChangeG * float64(r.changes)
		}
	}
	if all.changes > 0 {
		all.perChangeG = number(purged / float64(all.changes))
	}
	if grams := all.PartG + all.WasteG; grams > 0 {
		all.WasteShare = all.WasteG.Float() / grams.Float()
	}
	return all
}
