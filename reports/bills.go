package reports

import (
	"slices"
	"strconv"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// StatementBill is a bill that was issued, beside what the book says of it.
type StatementBill struct {
	Number string      `json:"bill"`   // its number
	Issued ledger.Time `json:"issued"` // when it was issued
	Sent   []BillRow   `json:"sent"`   // a row for each currency

	Receipt *Receipt `json:"receipt,omitempty"` // where it is booked; left out unless it is issued just now

	fresh bool // it is issued just now
}

// BillRow is one currency of a bill that was issued: what was sent, and what the book says now.
type BillRow struct {
	Bill      string      `json:"bill" csv:"bill"`     // its number
	Issued    ledger.Time `json:"issued" csv:"issued"` // when it was issued
	Client    string      `json:"client" csv:"client"`
	From      Date        `json:"from" csv:"from"` // first day of its time; null for the beginning of the book
	To        Date        `json:"to" csv:"to"`     // last day of its time
	Currency  string      `json:"currency" csv:"currency"`
	Billed    Money       `json:"billed" csv:"billed"`         // what was sent
	Lines     int         `json:"lines" csv:"lines"`           // how many lines were sent
	SHA256    string      `json:"sha256" csv:"sha256"`         // SHA-256 of the lines that were sent; blank where none was
	BilledNow Money       `json:"billed_now" csv:"billed_now"` // what the book says now
	LinesNow  int         `json:"lines_now" csv:"lines_now"`   // how many lines the book has now
	Agrees    bool        `json:"agrees" csv:"agrees"`         // whether the book still says what was sent
	LateRows  int         `json:"late_rows" csv:"late_rows"`   // how many rows of consumption came later or were cancelled since
}

func billRows(states []*cost.BillState) []BillRow {
	rows := []BillRow{}
	for _, s := range states {
		row := newSent(*s.Bill)
		row.BilledNow, row.LinesNow, row.Agrees, row.LateRows = money(s.Now.Billed, s.Currency), s.Now.Lines, s.Agrees(), len(s.Late)
		rows = append(rows, row)
	}
	return rows
}

// NewIssued returns a bill that is issued just now.
func NewIssued(rows []ledger.Bill) *StatementBill {
	b := &StatementBill{Number: rows[0].Bill, Issued: rows[0].At, fresh: true}
	for _, row := range rows {
		b.Sent = append(b.Sent, newSent(row))
	}
	return b
}

// newSent is what is sent as one currency of a bill, with which the book agrees at that moment.
func newSent(b ledger.Bill) BillRow {
	sent := money(b.Billed.Decimal, b.Currency)
	sent.decimals = max(sent.decimals, -b.Billed.Exponent()) // a row that was typed may say more
	return BillRow{b.Bill, b.At, b.Client, Date(b.From), Date(b.To), b.Currency, sent, b.Lines.N, b.SHA256, sent, b.Lines.N, true, 0}
}

func (r BillRow) verdict() string {
	if r.Agrees {
		return "agrees"
	}
	return "differs"
}

// NewStatementBill returns what was sent as one bill, at least one currency of it, beside the statement of its time: of a currency that
// came later nothing was sent.
func NewStatementBill(states []*cost.BillState, now *cost.Statement) *StatementBill {
	b := &StatementBill{Number: states[0].Bill.Bill, Issued: states[0].At, Sent: billRows(states)}
	for _, total := range now.Totals {
		currency := total.Currency
		if slices.ContainsFunc(b.Sent, func(r BillRow) bool { return r.Currency == currency }) {
			continue
		}
		row, sent := b.Sent[0], now.Sent(currency)
		row.Currency, row.Billed, row.Lines, row.SHA256, row.LateRows = currency, money(decimal.Zero, currency), 0, "", 0
		row.BilledNow, row.LinesNow, row.Agrees = money(sent.Billed, currency), sent.Lines, false
		b.Sent = append(b.Sent, row)
	}
	return b
}

// differs reports whether the book no longer says what was sent.
func (b *StatementBill) differs() bool {
	return b != nil && slices.ContainsFunc(b.Sent, func(r BillRow) bool { return !r.Agrees })
}

// sheet sets what was sent beside what the book says now.
func (b *StatementBill) sheet() Sheet {
	if b.fresh {
		return Sheet{Notes: []string{"Bill " + b.Number + ", issued " + b.Issued.Date()}}
	}
	sheet := Sheet{Title: "Bill " + b.Number + ", issued " + b.Issued.Date(), Columns: slices.Concat(left("as"), right("lines", "billed"), left("", "book"))}
	for _, r := range b.Sent {
		sheet.Rows = append(sheet.Rows, []string{"sent", strconv.Itoa(r.Lines), r.Billed.String(), r.Currency, r.verdict()},
			[]string{"now", strconv.Itoa(r.LinesNow), r.BilledNow.String(), r.Currency, ""})
		if !r.Agrees {
			sheet.Notes = []string{"what changed since is named by: tarebook verify"}
		}
	}
	return sheet
}

// Bills are all bills that were issued.
type Bills struct {
	Rows []BillRow `json:"bills"` // a row for each bill and currency
}

// NewBills returns the view of the bills.
func NewBills(states []*cost.BillState) Bills { return Bills{billRows(states)} }

// JSON returns the bills.
func (b Bills) JSON() any { return b }

// CSV returns the bills.
func (b Bills) CSV() any { return b.Rows }

// Sheets returns a line a bill and currency.
func (b Bills) Sheets() Pages {
	if len(b.Rows) == 0 {
		return Pages{{Notes: []string{"No bill was issued; issue one with: tarebook statement CLIENT --month MONTH --issue"}}}
	}
	sheet := Sheet{Spare: [][]string{{"lines"}, {"issued"}}, Columns: slices.Concat(texts("bill"), left("issued"), texts("client"), left("from", "to"), right("lines", "billed"), left(""), right("now"), left("book"))}
	late := 0
	for _, r := range b.Rows {
		sheet.Rows = append(sheet.Rows, []string{r.Bill, r.Issued.Date(), r.Client, dash(string(r.From)), string(r.To), strconv.Itoa(r.Lines), r.Billed.String(), r.Currency,
			r.BilledNow.String(), r.verdict()})
		late += r.LateRows
	}
	if late > 0 {
		sheet.Notes = []string{inventory.Plural(late, "row", "rows") + " came after a bill of that time or was cancelled since; they are named by: tarebook verify"}
	}
	return Pages{sheet}
}
