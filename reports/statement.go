package reports

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// Statement is the bill of one client.
type Statement struct {
	Client string           `json:"client"`         // as clients.csv has it
	Name   string           `json:"name"`           // the client's name in full
	Listed bool             `json:"listed"`         // whether clients.csv has the client
	From   Date             `json:"from"`           // first day; null for the beginning of the book
	To     Date             `json:"to"`             // last day; null for its end
	Rates  []StatementRates `json:"rates"`          // rates by which the rows were billed
	Rows   []StatementRow   `json:"rows"`           // a row for each job and currency
	Totals []StatementRow   `json:"totals"`         // a row for each currency
	Bill   *StatementBill   `json:"bill,omitempty"` // what was sent; left out unless a bill is looked at or issued
	Notes  []string         `json:"notes"`          // what is to be known of the figures, in words
	At     Date             `json:"-"`              // the day of a bill, else of the page

	Unbilled bool `json:"-"` // only what no bill has

	shop cost.Shop
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
	From        Date  `json:"from"`         // first day on which they hold; null for the beginning of the book
	Listed      bool  `json:"listed"`       // whether clients.csv has them
	WasteBilled Exact `json:"waste_billed"` // share of support, prime and purge that the client pays, from 0 to 1
	ScrapBilled Exact `json:"scrap_billed"` // share of failed prints that the client pays, from 0 to 1
}

// StatementRow is one job in one currency. Bill and house together are the cost, and every amount is a sum of lines; what of a kind
// is not its bill is the house's. Money is missing where all grams are of spools without a price.
type StatementRow struct {
	Job      string      `json:"job" csv:"job"`
	Ended    ledger.Time `json:"ended" csv:"ended"`     // when its last print ended; null in a total
	Outcome  string      `json:"outcome" csv:"outcome"` // outcome of its prints; blank in a total
	Currency string      `json:"currency" csv:"currency"`
	KindGrams
	AllG ledger.Grams `json:"all_g" csv:"all_g"` // grams of all kinds
	KindCosts
	PartBill    Money        `json:"part_bill" csv:"part_bill"`       // what the client pays of part_cost; null where no price is known
	SupportBill Money        `json:"support_bill" csv:"support_bill"` // what the client pays of support_cost; null where no price is known
	PrimeBill   Money        `json:"prime_bill" csv:"prime_bill"`     // what the client pays of prime_cost; null where no price is known
	PurgeBill   Money        `json:"purge_bill" csv:"purge_bill"`     // what the client pays of purge_cost; null where no price is known
	ScrapBill   Money        `json:"scrap_bill" csv:"scrap_bill"`     // what the client pays of scrap_cost; null where no price is known
	Bill        Money        `json:"bill" csv:"bill"`                 // what the client pays in all; null where no price is known
	House       Money        `json:"house" csv:"house"`               // what the client does not pay of cost; null where no price is known
	Cost        Money        `json:"cost" csv:"cost"`                 // cost of all_g; null where no price is known
	UnpricedG   ledger.Grams `json:"unpriced_g" csv:"unpriced_g"`     // grams of spools without a price, for which no money stands here
	Flags       Flags        `json:"flags" csv:"flags"`               // doubts about the figures

	Lines []StatementLine `json:"lines,omitzero" csv:"-"` // what it took by spool, kind and share; left out in a total
}

// StatementLine is what a job took of one spool, of one kind and at one share. Cost is grams times the price of a gram, billed is that
// times the share, each half up; both are missing without a price.
type StatementLine struct {
	Spool     string       `json:"spool"`
	Material  string       `json:"material"`
	Colour    string       `json:"colour"`
	Kind      string       `json:"kind"`        // what became of it; scrap is all that a failed print took
	Grams     ledger.Grams `json:"grams"`       // grams that the job took
	PricePerG Exact        `json:"price_per_g"` // price of a gram, half up to 12 decimals; null without a price
	Share     Exact        `json:"share"`       // share that the client pays, from 0 to 1
	Cost      Money        `json:"cost"`        // grams times the exact price of a gram, half up; null without a price
	Billed    Money        `json:"billed"`      // that times share, half up; null without a price

	house Money
	price string // of a gram, for a pocket calculator
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
		Rates: []StatementRates{}, Rows: statementRows(s.Rows), Totals: statementRows(s.Totals), Notes: []string{}, shop: s.Shop}
	for i, r := range s.Rows {
		v.Rows[i].Lines = statementLines(r.Lines)
	}
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

// CSV returns the lines, each with all that is to be known of it and without totals.
func (s Statement) CSV() any {
	rows := []statementCSV{}
	for _, r := range s.Rows {
		for _, l := range r.Lines {
			rows = append(rows, statementCSV{s.Client, r.Job, r.Ended, r.Outcome, r.Currency, l.Spool, l.Material, l.Colour, l.Kind, l.Grams, l.PricePerG, l.Share,
				l.Cost, l.Billed, l.house, flags(unpriced, !l.Cost.given)})
		}
	}
	return rows
}

type statementCSV struct {
	Client    string       `csv:"client"`
	Job       string       `csv:"job"`
	Ended     ledger.Time  `csv:"ended"`
	Outcome   string       `csv:"outcome"` // of the job
	Currency  string       `csv:"currency"`
	Spool     string       `csv:"spool"`
	Material  string       `csv:"material"`
	Colour    string       `csv:"colour"`
	Kind      string       `csv:"kind"`
	Grams     ledger.Grams `csv:"grams"`
	PricePerG Exact        `csv:"price_per_g"`
	Share     Exact        `csv:"share"`
	Cost      Money        `csv:"cost"`
	Billed    Money        `csv:"billed"`
	House     Money        `csv:"house"`
	Flags     Flags        `csv:"flags"`
}

// statementLines are the lines of a job.
func statementLines(lines []cost.Line) []StatementLine {
	out := []StatementLine{}
	for i := range lines {
		l := &lines[i]
		price, currency := l.Spool.Price()
		line := StatementLine{Spool: l.Spool.ID, Material: l.Spool.Material, Colour: l.Spool.Colour, Kind: cost.KindNames[l.Kind], Grams: l.Grams,
			PricePerG: pricePerGram(price), Share: share(l.Share), price: "-"}
		if price != nil {
			line.Cost, line.Billed, line.house = money(l.Cost, currency), money(l.Billed, currency), money(l.House(), currency)
			line.price = pocketPrice(l.Spool)
		}
		out = append(out, line)
	}
	return out
}

// pocketPrice is the price of a gram as a pocket calculator takes it: itself, or where 12 decimals do not give it exactly, what the
// spool cost by its grams.
func pocketPrice(s *inventory.Spool) string {
	price, _ := s.Price()
	if rounded := pricePerGram(price).Decimal; rounded.Rat().Cmp(price) == 0 {
		return rounded.String()
	}
	bought := s.PricedBy()
	return bought.Price.Decimal.String() + "/" + bought.NetG.String()
}

// Sheets returns lines, grams, and the money billed and carried, for people. Grams have one total, whatever was paid for them.
func (s Statement) Sheets() Pages {
	head := Pages{{Notes: []string{s.title()}}}
	if s.Bill != nil {
		head = append(head, s.Bill.sheet())
	}
	if len(s.Rows) == 0 {
		head[0] = Sheet{Title: s.title(), Notes: slices.Concat([]string{s.nothing()}, s.Notes)}
		return head
	}
	grams := Sheet{Title: "Grams", Spare: [][]string{{"ended"}, {"outcome"}, kindColumns},
		Columns: slices.Concat(texts("job"), left("ended", "outcome"), masses(append(kindColumns, "all")...))}
	bills := Sheet{Title: "Billed", Spare: [][]string{kindColumns, {"house", "cost"}},
		Columns: slices.Concat(texts("job"), left(""), right(append(kindColumns, "billed", "house", "cost")...), left(""))}
	var flagged flagNotes
	mass := func(r StatementRow, key string) []string {
		return slices.Concat([]string{key, r.ended(), r.Outcome}, r.KindGrams.cells(), []string{gram(r.AllG)})
	}
	bill := func(r StatementRow, key string) []string {
		return slices.Concat([]string{key, ""}, r.bills(), amounts(r.House, r.Cost), []string{r.Cost.currency(r.Currency)})
	}
	for _, r := range s.Rows {
		grams.Rows = append(grams.Rows, mass(r, named(r.Job)))
		row := bill(r, named(r.Job))
		row[1] = flagged.of(named(r.Job), r.Flags...)
		bills.Rows = append(bills.Rows, row)
	}
	all := StatementRow{}
	for _, r := range s.Totals {
		all.KindGrams = all.KindGrams.plus(r.KindGrams)
		all.AllG += r.AllG
		bills.Totals = append(bills.Totals, bill(r, "total "+r.Currency))
	}
	grams.Totals = [][]string{mass(all, "total")}
	bills.Notes = append(flagged.lines(), s.Notes...)
	return append(head, s.lines(), grams, bills)
}

// lines is the sheet of lines, a block for each job.
func (s Statement) lines() Sheet {
	sheet := Sheet{Title: "Lines: grams x price of a gram x share, half up", Spare: [][]string{{"filament"}, {"house", "cost"}},
		Columns: slices.Concat(texts("spool", "filament"), left("kind"), masses("grams"), right("a gram", "share", "billed", "house", "cost"), left(""))}
	for _, r := range s.Rows {
		block := Block{Head: named(r.Job) + " (ended " + r.ended() + ")"}
		for _, l := range r.Lines {
			block.Rows = append(block.Rows, slices.Concat([]string{l.Spool, filamentOf(l.Material, l.Colour), l.Kind, gram(l.Grams), l.price, l.Share.Decimal.String()},
				amounts(l.Billed, l.house, l.Cost), []string{l.Cost.currency(r.Currency)}))
		}
		sheet.Blocks = append(sheet.Blocks, block)
	}
	for _, r := range s.Totals {
		sheet.Totals = append(sheet.Totals, slices.Concat([]string{"total " + r.Currency, "", "", "", "", ""}, amounts(r.Bill, r.House, r.Cost), []string{r.Bill.currency(r.Currency)}))
	}
	return sheet
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

func (s Statement) title() string {
	if s.Unbilled {
		return s.who() + ", on no bill, " + period(s.From, s.To)
	}
	return s.who() + ", " + period(s.From, s.To)
}

func (s Statement) who() string {
	if s.Name == "" || s.Name == s.Client {
		return s.Client
	}
	return s.Name + " (" + s.Client + ")"
}

func (s Statement) nothing() string {
	if s.Unbilled {
		return "Nothing of " + s.Client + " in this time is left to bill."
	}
	return "Nothing was booked for " + s.Client + " in this time."
}

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
