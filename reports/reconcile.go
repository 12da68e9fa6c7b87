package reports

import (
	"slices"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Reconcile is every weigh-in against the book.
type Reconcile []ReconcileRow

// ReconcileRow is one weigh-in; what cannot be known is null.
type ReconcileRow struct {
	Entry      string       `json:"entry" csv:"entry"` // entry of the weigh-in; of a row typed by hand the first 26 digits of its SHA-256
	At         ledger.Time  `json:"at" csv:"at"`       // when the scale was read
	Spool      string       `json:"spool" csv:"spool"`
	GrossG     ledger.Mass  `json:"gross_g" csv:"gross_g"`           // what the scale showed; null where nothing was weighed
	TareG      ledger.Mass  `json:"tare_g" csv:"tare_g"`             // the empty spool, by the best tare known; null where none is
	MeasuredG  ledger.Mass  `json:"measured_g" csv:"measured_g"`     // gross_g less tare_g; null without one of them
	BookG      ledger.Grams `json:"book_g" csv:"book_g"`             // what the book said just before
	VarianceG  ledger.Mass  `json:"variance_g" csv:"variance_g"`     // measured_g less book_g, below 0 if more went than was recorded; null where that can't be judged
	UG         *float64     `json:"u_g" csv:"u_g"`                   // standard uncertainty of measured_g; null where that is
	VarianceUG *float64     `json:"variance_u_g" csv:"variance_u_g"` // standard uncertainty of variance_g; null where that is
	Flags      Flags        `json:"flags" csv:"flags"`               // doubts about the figures

	state string
}

// NewReconcile returns the view of a shelf's weigh-ins, of the spools named or of all.
func NewReconcile(shelf *inventory.Shelf, spools ...*inventory.Spool) Reconcile {
	if len(spools) == 0 {
		spools = shelf.Spools
	}
	type read struct {
		spool   *inventory.Spool
		reading *inventory.Reading
	}
	var all []read
	for _, s := range spools {
		for i := range s.Readings {
			all = append(all, read{s, &s.Readings[i]})
		}
	}
	slices.SortStableFunc(all, func(a, b read) int { return ledger.CompareRows(a.reading.Weighin, b.reading.Weighin) })
	rows := Reconcile{}
	for _, r := range all {
		rows = append(rows, reconcileRow(r.spool, r.reading))
	}
	return rows
}

func reconcileRow(s *inventory.Spool, r *inventory.Reading) ReconcileRow {
	row := ReconcileRow{Entry: r.Weighin.Name(), At: r.Weighin.At, Spool: s.ID, GrossG: r.Weighin.GrossG, TareG: s.Tare.Grams,
		MeasuredG: r.Measured, BookG: r.Book, state: r.Weighin.State,
		Flags: flags(noTare, s.Tare.From == inventory.TareNone, outside, r.Outside, heavier, r.Heavier)}
	if r.Measured.Given {
		row.UG = number(r.U)
	}
	if r.Judged {
		row.VarianceG = ledger.Known(r.Variance)
		row.VarianceUG = number(r.VarianceU)
	}
	return row
}

// Sheets returns the table for people.
func (r Reconcile) Sheets() Pages {
	sheet := Sheet{Spare: [][]string{{"entry"}, {"state"}, {"gross g", "tare g"}}, Columns: slices.Concat(left("weighed"), texts("spool"), left("", "state"),
		masses("gross g", "tare g"), right("measured g", "book g", "variance g", "2u g"), left("entry"))}
	var us []*float64
	for _, row := range r {
		us = append(us, row.VarianceUG)
	}
	d := known(expanded(us...)...)
	var flagged flagNotes
	for _, row := range r {
		mark := flagged.of(row.Spool+" of "+minute(row.At), row.Flags...)
		sheet.Rows = append(sheet.Rows, []string{minute(row.At), row.Spool, mark, row.state, mass(row.GrossG), mass(row.TareG), massTo(row.MeasuredG, max(d, 1)), fixed(row.BookG.Float(), max(d, 1)),
			massTo(row.VarianceG, d), twice(row.VarianceUG, d), row.Entry})
	}
	sheet.Notes = flagged.lines()
	if len(r) == 0 {
		sheet.Notes = []string{"Nothing has been weighed yet; weigh a spool with: tarebook weigh SPOOL GROSS"}
	}
	return Pages{sheet}
}

func mass(m ledger.Mass) string {
	if !m.Given {
		return "-"
	}
	return gram(m.Grams)
}

func massTo(m ledger.Mass, decimals int) string {
	if !m.Given {
		return "-"
	}
	return fixed(m.Grams.Float(), decimals)
}

// twice formats 2u, or a dash for none.
func twice(u *float64, decimals int) string {
	if u == nil {
		return "-"
	}
	return fixed(2**u, decimals)
}
