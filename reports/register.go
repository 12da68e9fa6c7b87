package reports

import (
	"slices"
	"strconv"

	"github.com/shopspring/decimal"

	"tarebook/inventory/cost"
	"tarebook/inventory/recording"
	"tarebook/ledger"
)

// Register is the rows that count of every ledger but seals, the latest first.
type Register []RegisterRow

// RegisterRow is one row, with what applies to it. Its entry is its handle.
type RegisterRow struct {
	At       ledger.Time `json:"at" csv:"at"`
	File     string      `json:"file" csv:"file"`   // file of the row
	Line     int         `json:"line" csv:"line"`   // line of that file
	Entry    string      `json:"entry" csv:"entry"` // entry of the row; of one typed by hand the first 26 digits of its SHA-256
	What     string      `json:"what" csv:"what"`   // the row in words
	Job      string      `json:"job" csv:"job"`
	Client   string      `json:"client" csv:"client"`
	Printer  string      `json:"printer" csv:"printer"`
	Slot     string      `json:"slot" csv:"slot"` // tool of the sliced file, or a short word; may be blank
	Spool    string      `json:"spool" csv:"spool"`
	Material string      `json:"material" csv:"material"`
	Colour   string      `json:"colour" csv:"colour"`
	Lot      string      `json:"lot" csv:"lot"`
	Place    string      `json:"place" csv:"place"`
	State    string      `json:"state" csv:"state"`         // state of a weigh-in, or outcome of a print; else blank
	Basis    string      `json:"basis" csv:"basis"`         // what the grams rest on: a slicer's figure, the sliced file's path, or two weighings; else blank
	GrossG   ledger.Mass `json:"gross_g" csv:"gross_g"`     // what the scale showed; null for other rows
	PartG    ledger.Mass `json:"part_g" csv:"part_g"`       // grams of the parts; null for other rows
	SupportG ledger.Mass `json:"support_g" csv:"support_g"` // grams of support; null for other rows
	PrimeG   ledger.Mass `json:"prime_g" csv:"prime_g"`     // grams of the prime tower; null for other rows
	PurgeG   ledger.Mass `json:"purge_g" csv:"purge_g"`     // grams flushed; null for other rows
	Changes  *int        `json:"changes" csv:"changes"`     // how many changes brought the spool to a nozzle; null where nothing says so
	Grams    ledger.Mass `json:"grams" csv:"grams"`         // grams bought, needed or taken in all; null for other rows
	Cost     Exact       `json:"cost" csv:"cost"`           // what the filament cost, half up, what was paid for a spool, or what was billed; null without a price
	Currency string      `json:"currency" csv:"currency"`   // currency of cost, ISO 4217; may be blank
	Note     string      `json:"note" csv:"note"`           // free text; of a void why
}

// NewRegister returns the view of rows.
func NewRegister(rows []recording.Registered) Register {
	all := Register{}
	for i := range rows {
		all = append(all, registerRow(&rows[i]))
	}
	return all
}

func registerRow(r *recording.Registered) RegisterRow {
	head := ledger.HeadOf(r.Row)
	to := RegisterRow{At: head.At, File: r.File, Line: head.Line, Entry: head.Name(), What: r.What(), Grams: r.Grams}
	if r.Spool != nil {
		to.Spool, to.Material, to.Colour, to.Lot = r.Spool.ID, r.Spool.Material, r.Spool.Colour, r.Spool.Lot
	}
	switch row := r.Row.(type) {
	case *ledger.Purchase:
		to.GrossG, to.Place, to.Note = row.GrossG, row.Place, row.Note
		if row.Price.Given {
			to.Cost.Decimal, to.Cost.Valid, to.Currency = row.Price.Decimal, true, r.Spool.Currency()
		}
	case *ledger.Weighin:
		to.GrossG, to.State, to.Note = row.GrossG, row.State, row.Note
	case *ledger.Consumption:
		to.Job, to.Client, to.Printer, to.Slot, to.State, to.Basis, to.Note = row.Job, row.Client, row.Printer, row.Slot, row.Outcome, row.Basis, row.Note
		to.masses(row.Masses)
		if r.Cost != nil {
			to.Currency = r.Spool.Currency()
			decimals, _ := ledger.MinorUnit(to.Currency)
			to.Cost.NullDecimal = decimal.NewNullDecimal(cost.RoundHalfUp(r.Cost, decimals))
		}
	case *ledger.Need:
		to.Job, to.Client, to.Printer, to.Slot, to.Spool, to.Basis, to.Note = row.Job, row.Client, row.Printer, row.Slot, row.Spool, row.Basis, row.Note
		if r.Spool == nil {
			to.Material, to.Colour = row.Material, row.Colour
		}
		to.masses(row.Masses)
	case *ledger.Move:
		to.Place, to.Note = row.Place, row.Note
	case *ledger.Void:
		to.Note = row.Why
	case *ledger.SlicedFile:
		to.Note = row.Note
	case *ledger.Bill:
		to.Client, to.Currency, to.Note = row.Client, row.Currency, row.Note
		to.Cost.Decimal, to.Cost.Valid = row.Billed.Decimal, row.Billed.Given
	}
	return to
}

func (r *RegisterRow) masses(m ledger.Masses) {
	r.PartG, r.SupportG, r.PrimeG, r.PurgeG = ledger.Known(m.PartG), ledger.Known(m.SupportG), ledger.Known(m.PrimeG), ledger.Known(m.PurgeG)
	if m.Changes.Given {
		r.Changes = &m.Changes.N
	}
}

// Sheets returns the table for people.
func (r Register) Sheets() Pages {
	sheet := Sheet{Spare: [][]string{{"lot"}, {"client"}, {"row"}}, Columns: slices.Concat(left("at", "row"), wraps("what"), texts("client", "lot"), right("grams", "cost"), left(""))}
	for _, row := range r {
		price := "-"
		if row.Cost.Valid {
			price = row.Cost.Decimal.String()
			if decimals, ok := ledger.MinorUnit(row.Currency); ok && -row.Cost.Decimal.Exponent() <= decimals {
				price = row.Cost.Decimal.StringFixed(decimals)
			}
		}
		sheet.Rows = append(sheet.Rows, []string{minute(row.At), row.File + ":" + strconv.Itoa(row.Line), row.What, dash(row.Client), dash(row.Lot),
			mass(row.Grams), price, row.Currency})
	}
	if len(r) == 0 {
		sheet.Notes = []string{"No row is like that."}
	}
	return Pages{sheet}
}
