package reports

import (
	"fmt"
	"io"
	"slices"

	"github.com/shopspring/decimal"

	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// Statement is the bill of one client.
type Statement struct {
	Client string           `json:"client"`
	Name   string           `json:"name"`
	Listed bool             `json:"listed"` // in clients.csv
	From   Date             `json:"from"`
	To     Date             `json:"to"`
	Rates  []StatementRates `json:"rates"` // by which the rows were billed
	Rows   []StatementRow   `json:"rows"`
	Totals []StatementRow   `json:"totals"`
	Notes  []string         `json:"notes"`
}

// Date is a calendar date, as 2026-10-31, or none.
type Date string

// MarshalJSON writes a text, or null.
func (d Date) MarshalJSON() ([]byte, error) {
	if d == "" {
		return []byte("null"), nil
	}
	return []byte(`"` + string(d) + `"`), nil
}

// StatementRates are the shares that were billed from a day on.
type StatementRates struct {
	From        Date  `json:"from"`
	Listed      bool  `json:"listed"` // in clients.csv
	WasteBilled Exact `json:"waste_billed"`
	ScrapBilled Exact `json:"scrap_billed"`
}

// StatementRow is one job in one currency. Bill and house together are the cost, and every sum is one of rounded cells; what of a
// kind is not its bill is the house's. Money is missing where all grams are of spools without a price.
type StatementRow struct {
	Job      string      `json:"job" csv:"job"`
	Ended    ledger.Time `json:"ended" csv:"ended"` // its last print; null in a total
	Outcome  string      `json:"outcome" csv:"outcome"`
	Currency string      `json:"currency" csv:"currency"`
	KindGrams
	AllG ledger.Grams `json:"all_g" csv:"all_g"`
	KindCosts
	PartBill    Money        `json:"part_bill" csv:"part_bill"`
	SupportBill Money        `json:"support_bill" csv:"support_bill"`
	PrimeBill   Money        `json:"prime_bill" csv:"prime_bill"`
	PurgeBill   Money        `json:"purge_bill" csv:"purge_bill"`
	ScrapBill   Money        `json:"scrap_bill" csv:"scrap_bill"`
	Bill        Money        `json:"bill" csv:"bill"`
	House       Money        `json:"house" csv:"house"`
	Cost        Money        `json:"cost" csv:"cost"`
	UnpricedG   ledger.Grams `json:"unpriced_g" csv:"unpriced_g"`
	Flags       Flags        `json:"flags" csv:"flags"`
}

// Outcomes of a job's prints.
const (
	finished = "finished"
	failed   = "failed"
	mixed    = "finished and failed"
)

// NewStatement returns the view of a client's bill.
func NewStatement(s *cost.Statement) Statement {
	v := Statement{Client: s.Client, Name: s.Name, Listed: s.Listed, From: Date(s.From), To: Date(s.To),
		Rates: []StatementRates{}, Rows: statementRows(s.Rows), Totals: statementRows(s.Totals), Notes: []string{}}
	for _, t := range s.Terms {
		v.Rates = append(v.Rates, StatementRates{Date(t.From), t.Listed, share(t.Waste), share(t.Scrap)})
	}
	for _, r := range v.Rates {
		v.Notes = append(v.Notes, v.rates(r))
	}
	for _, r := range v.Totals {
		if r.UnpricedG > 0 {
			v.Notes = append(v.Notes, unpricedNote(r.UnpricedG, r.Currency, len(v.Totals) > 1))
		}
	}
	return v
}

func unpricedNote(g ledger.Grams, currency string, several bool) string {
	in := ""
	if several {
		in = " of the rows in " + currency
	}
	return fmt.Sprintf("unpriced: %s g%s are of spools without a price; no money stands here for them", g, in)
}

// rates says which shares are billed.
func (s Statement) rates(r StatementRates) string {
	since := "rates from " + string(r.From)
	switch {
	case !s.Listed:
		since = s.Client + " is not in " + ledger.Clients
	case !r.Listed:
		since = "before the first rates in " + ledger.Clients
	case r.From == "":
		since = "rates"
	}
	return fmt.Sprintf("%s: part in full; support, prime and purge %s; scrap %s", since, byShare(r.WasteBilled), byShare(r.ScrapBilled))
}

func byShare(e Exact) string {
	switch {
	case e.Decimal.IsZero():
		return "not billed"
	case e.Decimal.Equal(decimal.New(1, 0)):
		return "in full"
	}
	return "by " + e.Decimal.String()
}

func statementRows(rows []cost.BillRow) []StatementRow {
	out := []StatementRow{}
	for _, r := range rows {
		in := func(c cost.BillCell, amount decimal.Decimal) Money {
			if !c.Priced() {
				return Money{}
			}
			return money(amount, r.Currency)
		}
		var grams [cost.Kinds]ledger.Grams
		var costs, bills [cost.Kinds]Money
		for kind, c := range r.Cells {
			grams[kind], costs[kind], bills[kind] = c.Grams, in(c, c.Cost()), in(c, c.Billed)
		}
		sum := r.Sum()
		row := StatementRow{Job: r.Job, Ended: r.Last, Currency: r.Currency, KindGrams: kindGrams(grams), AllG: sum.Grams, KindCosts: kindCosts(costs),
			PartBill: bills[cost.Part], SupportBill: bills[cost.Support], PrimeBill: bills[cost.Prime], PurgeBill: bills[cost.Purge], ScrapBill: bills[cost.Scrap],
			Bill: in(sum, sum.Billed), House: in(sum, sum.House), Cost: in(sum, sum.Cost()),
			UnpricedG: sum.Unpriced, Flags: flags(unpriced, sum.Unpriced > 0)}
		switch {
		case r.Finished && r.Failed:
			row.Outcome = mixed
		case r.Failed:
			row.Outcome = failed
		case r.Finished:
			row.Outcome = finished
		}
		out = append(out, row)
	}
	return out
}

// CSV returns the rows, without totals.
func (s Statement) CSV() any { return s.Rows }

// Sheets returns grams, and the money billed and carried, for people.
func (s Statement) Sheets() Pages {
	if len(s.Rows) == 0 {
		return Pages{{Title: s.title(), Notes: slices.Concat([]string{s.nothing()}, s.Notes)}}
	}
	grams := Sheet{Title: "Grams", Spare: []string{"ended", "prime", "support", "outcome"},
		Columns: slices.Concat(left("job", "ended", "outcome"), right("part", "support", "prime", "purge", "scrap", "all"))}
	bills := Sheet{Title: "Billed", Spare: []string{"prime", "support", "flags"}, Notes: s.Notes,
		Columns: slices.Concat(left("job"), right("part", "support", "prime", "purge", "scrap", "billed", "house", "cost"), left("", "flags"))}
	mass := func(r StatementRow, key string) []string {
		return slices.Concat([]string{key, r.ended(), r.Outcome}, r.KindGrams.cells(), []string{gram(r.AllG)})
	}
	bill := func(r StatementRow, key string) []string {
		return slices.Concat([]string{key}, r.bills(), amounts(r.House, r.Cost), []string{r.Currency, r.Flags.words()})
	}
	for _, r := range s.Rows {
		grams.Rows = append(grams.Rows, mass(r, named(r.Job)))
		bills.Rows = append(bills.Rows, bill(r, named(r.Job)))
	}
	for _, r := range s.Totals {
		grams.Totals = append(grams.Totals, mass(r, "total "+r.Currency))
		bills.Totals = append(bills.Totals, bill(r, "total "+r.Currency))
	}
	return Pages{{Notes: []string{s.title()}}, grams, bills}
}

// bills are the cells of what is billed, of each kind and in all.
func (r StatementRow) bills() []string {
	return amounts(r.PartBill, r.SupportBill, r.PrimeBill, r.PurgeBill, r.ScrapBill, r.Bill)
}

func (r StatementRow) ended() string {
	if r.Ended.IsZero() { // of a total
		return ""
	}
	return r.Ended.Date()
}

func (s Statement) title() string { return s.who() + ", " + period(s.From, s.To) }

func (s Statement) who() string {
	if s.Name == "" || s.Name == s.Client {
		return s.Client
	}
	return s.Name + " (" + s.Client + ")"
}

func (s Statement) nothing() string { return "Nothing was booked for " + s.Client + " in this time." }

func period(from, to Date) string {
	switch {
	case from != "" && to != "":
		return string(from) + " to " + string(to)
	case from != "":
		return "from " + string(from)
	case to != "":
		return "to " + string(to)
	}
	return "all that is booked"
}

// paperRow is a row as it is printed: grams, and below them what is billed.
type paperRow struct {
	Job, Small   string
	Grams, Bills []string // of each kind, and in all
	House, Cost  string
}

func paper(r StatementRow, job string, small ...string) paperRow {
	if r.UnpricedG > 0 {
		small = append(small, gram(r.UnpricedG)+" g unpriced")
	}
	return paperRow{Job: job, Small: join(small...), Grams: append(r.KindGrams.cells(), gram(r.AllG)), Bills: r.bills(), House: r.House.String(), Cost: r.Cost.String()}
}

// WriteHTML writes the statement as a page to print.
func (s Statement) WriteHTML(w io.Writer) error {
	type table struct {
		Currency, Pay string
		Rows          []paperRow
		Total         paperRow
	}
	var tables []table
	for _, total := range s.Totals {
		t := table{Currency: total.Currency, Pay: total.Bill.in(total.Currency), Total: paper(total, "total")}
		if total.UnpricedG > 0 {
			t.Pay += ", without what is unpriced"
		}
		for _, r := range s.Rows {
			if r.Currency == total.Currency {
				t.Rows = append(t.Rows, paper(r, named(r.Job), r.ended(), r.Outcome))
			}
		}
		tables = append(tables, t)
	}
	return document{"statement", ledger.Clean("Statement: " + s.title()), map[string]any{
		"Who": s.who(), "Period": period(s.From, s.To), "Tables": tables, "Notes": s.Notes, "Nothing": s.nothing(),
	}}.write(w)
}
