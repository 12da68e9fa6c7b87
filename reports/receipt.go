package reports

import (
	"cmp"
	"slices"
	"strconv"

	"tarebook/inventory/recording"
	"tarebook/ledger"
)

// Receipt is what a command has recorded, or would record: the rows, where they stand, and what it found of each.
type Receipt struct {
	DryRun bool         `json:"dry_run"` // whether nothing was written, as it was only tried
	File   string       `json:"file"`    // file of all rows; blank if there are none
	Handle string       `json:"handle"`  // handle of the command, which cancels it; blank if nothing can be cancelled
	Rows   []ReceiptRow `json:"rows"`    // a row for each that was booked
	Told   []string     `json:"told"`    // the same in words
}

// ReceiptRow is one row, with figures where they apply to it.
type ReceiptRow struct {
	File       string      `json:"file" csv:"file"`                 // file of the row
	Line       *int        `json:"line" csv:"line"`                 // line of that file; null in a dry run
	Entry      string      `json:"entry" csv:"entry"`               // entry of the row; blank in a dry run and for a table
	Handle     string      `json:"handle" csv:"handle"`             // names this row alone, for void --only; blank where entry is
	At         ledger.Time `json:"at" csv:"at"`                     // when it happened; null for a row of a table
	Job        string      `json:"job" csv:"job"`                   // the job's name; blank where the row has none
	Slot       string      `json:"slot" csv:"slot"`                 // tool of the sliced file, or a short word; may be blank
	Name       string      `json:"name" csv:"name"`                 // of a table's row, of a bill its number, of a seal its ledger; else blank
	Month      string      `json:"month" csv:"month"`               // of a seal, UTC; else blank
	RowsSealed *int        `json:"rows_sealed" csv:"rows_sealed"`   // of that month in that ledger; null but for a seal
	Spool      string      `json:"spool" csv:"spool"`               // its id, or as queued; blank where the row has none
	Material   string      `json:"material" csv:"material"`         // of a spool bought, or as queued; else blank
	Colour     string      `json:"colour" csv:"colour"`             // of a spool bought, or as queued; may be blank
	Place      string      `json:"place" csv:"place"`               // where it is; blank where the row does not say
	Grams      ledger.Mass `json:"grams" csv:"grams"`               // what a job takes, or will take; null for other rows
	WasteG     ledger.Mass `json:"waste_g" csv:"waste_g"`           // of grams, what is no part: all of it where the job failed; null for other rows
	GrossG     ledger.Mass `json:"gross_g" csv:"gross_g"`           // what the scale showed; null for other rows
	TareG      ledger.Mass `json:"tare_g" csv:"tare_g"`             // the empty spool, by the best tare known; null where none is, or for other rows
	LabelG     ledger.Mass `json:"label_g" csv:"label_g"`           // net of an opened spool when it was full; null for others
	NetG       ledger.Mass `json:"net_g" csv:"net_g"`               // what is on the spool once this is booked; null where that is not known
	UG         *float64    `json:"u_g" csv:"u_g"`                   // standard uncertainty of net_g; null but for a weigh-in
	LengthM    *float64    `json:"length_m" csv:"length_m"`         // length of net_g as filament; null where that is
	UM         *float64    `json:"u_m" csv:"u_m"`                   // standard uncertainty of length_m; null but for a weigh-in
	BookG      ledger.Mass `json:"book_g" csv:"book_g"`             // what the book said before a weigh-in; null for other rows
	VarianceG  ledger.Mass `json:"variance_g" csv:"variance_g"`     // net_g less book_g; null where that can't be judged
	VarianceUG *float64    `json:"variance_u_g" csv:"variance_u_g"` // standard uncertainty of variance_g; null where that is
	From       string      `json:"from" csv:"from"`                 // the spool that it was wound off; else blank
	FromG      ledger.Mass `json:"from_g" csv:"from_g"`             // what the book has of from after that; null once it has ended
	FromUG     *float64    `json:"from_u_g" csv:"from_u_g"`         // standard uncertainty of from_g; null where that is
	Price      Exact       `json:"price" csv:"price"`               // what was paid, or billed; null for other rows
	Currency   string      `json:"currency" csv:"currency"`         // currency of price, ISO 4217; may be blank
	Cancels    string      `json:"cancels" csv:"cancels"`           // FILE:LINE of the row that a void cancels; else blank
	Again      string      `json:"again" csv:"again"`               // the command that records that row again; else blank
	Flags      Flags       `json:"flags" csv:"flags"`               // doubts about the figures
}

// NewReceipt returns the receipt of what a command recorded. lines are those of its rows, nil if they are not known or nothing was written.
// handles are by entry; an entry that is not among them is a handle itself.
func NewReceipt(b recording.Booking, dryRun bool, lines []int, handles map[string]string) Receipt {
	r := Receipt{DryRun: dryRun, Rows: []ReceiptRow{}, Told: append([]string{}, b.Told...)}
	if b.Batch == nil || b.Batch.Len() == 0 {
		return r
	}
	r.File = ledger.FileOf(b.Batch)
	rows := ledger.RowsOf(b.Batch)
	for i := range b.Batch.Len() {
		row := ReceiptRow{File: r.File, Flags: Flags{}}
		if i < len(lines) {
			row.Line = &lines[i]
		}
		if i < len(rows) {
			row.fill(rows[i])
			if head := ledger.HeadOf(rows[i]); !dryRun {
				row.Entry = head.Entry
			}
		}
		if i < len(b.Facts) {
			row.found(b.Facts[i])
		}
		if row.Entry != "" && b.Batch.Cancels() {
			row.Handle = row.Entry
			if short := handles[row.Entry]; short != "" {
				row.Handle = short
			}
		}
		r.Rows = append(r.Rows, row)
	}
	r.Handle = r.Rows[0].Handle
	return r
}

// Add takes in the receipt of a further command. A handle of them all there is none.
func (r *Receipt) Add(o Receipt) {
	r.File, r.Rows, r.Told = o.File, append(r.Rows, o.Rows...), append(r.Told, o.Told...)
}

// fill takes what the row says.
func (r *ReceiptRow) fill(row ledger.Row) {
	r.At = ledger.HeadOf(row).At
	switch row := row.(type) {
	case *ledger.Purchase:
		r.Spool, r.Place, r.GrossG, r.TareG, r.Currency = row.Spool, row.Place, row.GrossG, row.TareG, row.Currency
		r.Material, r.Colour, r.From = row.Material, row.Colour, row.From
		r.Price.Decimal, r.Price.Valid = row.Price.Decimal, row.Price.Given
	case *ledger.Weighin:
		r.Spool, r.GrossG = row.Spool, row.GrossG
	case *ledger.Consumption:
		r.Job, r.Slot, r.Spool, r.Grams, r.WasteG = row.Job, row.Slot, row.Spool, ledger.Known(row.Total()), ledger.Known(row.Total()-row.PartG)
		if row.Outcome == ledger.Failed {
			r.WasteG = r.Grams
		}
	case *ledger.Need:
		r.Job, r.Slot, r.Spool, r.Grams, r.WasteG = row.Job, row.Slot, row.Spool, ledger.Known(row.Total()), ledger.Known(row.Total()-row.PartG)
		r.Material, r.Colour = row.Material, row.Colour
	case *ledger.Move:
		r.Spool, r.Place = row.Spool, row.Place
	case *ledger.Seal:
		r.Name, r.Month, r.RowsSealed = row.Ledger, row.Month, &row.Rows.N
	case *ledger.Bill:
		r.Name = row.Bill
		r.Price.Decimal, r.Price.Valid, r.Currency = row.Billed.Decimal, row.Billed.Given, row.Currency
	}
}

// found takes what the command found of the row.
func (r *ReceiptRow) found(f recording.Fact) {
	r.NetG, r.LengthM, r.LabelG, r.Name, r.Currency = f.Net, f.Length, f.Label, cmp.Or(r.Name, f.Name), cmp.Or(r.Currency, f.Currency)
	if f.Tare.Given {
		r.TareG = f.Tare
	}
	if f.Source != nil && f.Source.Net.Given {
		r.FromG, r.FromUG = f.Source.Net, number(f.Source.U)
	}
	if f.Void != nil {
		r.cancels(f.Void)
	}
	if f.Finding == nil {
		return
	}
	w := reconcileRow(f.Finding.Spool, f.Finding.Reading)
	r.TareG, r.NetG, r.UG, r.VarianceG, r.VarianceUG, r.Flags = w.TareG, w.MeasuredG, w.UG, w.VarianceG, w.VarianceUG, w.Flags
	r.BookG = ledger.Known(w.BookG)
	if w.MeasuredG.Given {
		stock := &f.Finding.Spool.Filament
		r.LengthM = number(stock.Length(w.MeasuredG.Float()))
		r.UM = number(stock.LengthU(w.MeasuredG.Float(), f.Finding.Reading.U))
	}
}

// cancels takes what a void cancels: which row, and what that is about.
func (r *ReceiptRow) cancels(v *recording.Voided) {
	r.Cancels, r.Again = v.Line, v.Again
	var row ReceiptRow
	row.fill(v.Row)
	r.Job, r.Slot, r.Spool, r.Material, r.Colour, r.Name = row.Job, row.Slot, row.Spool, row.Material, row.Colour, row.Name
}

// CSV returns the rows.
func (r Receipt) CSV() any { return r.Rows }

// Sheets returns what was told, and the rows.
func (r Receipt) Sheets() Pages {
	sheet := Sheet{Columns: slices.Concat(left("row", "handle", "spool"), texts("job", "name", "place"), right("grams", "net g"))}
	for _, row := range r.Rows {
		where := row.File
		if row.Line != nil {
			where += ":" + strconv.Itoa(*row.Line)
		}
		sheet.Rows = append(sheet.Rows, []string{where, dash(row.Handle), dash(row.Spool), dash(row.Job), dash(row.Name), dash(row.Place), mass(row.Grams), mass(row.NetG)})
	}
	sheet.Notes = r.Told
	return Pages{sheet}
}
