package reports

import (
	"fmt"
	"slices"

	"tarebook/inventory"
	"tarebook/inventory/recording"
	"tarebook/ledger"
)

// Recent is the last commands, the latest first.
type Recent []RecentLine

// RecentLine is one command that recorded.
type RecentLine struct {
	Handle    string      `json:"handle" csv:"handle"`       // names the command in void
	Booked    ledger.Time `json:"booked" csv:"booked"`       // when it was recorded
	At        ledger.Time `json:"at" csv:"at"`               // when it happened, by its first row
	What      string      `json:"what" csv:"what"`           // the command in words
	File      string      `json:"file" csv:"file"`           // file of its rows
	Line      int         `json:"line" csv:"line"`           // line of its first row
	Rows      int         `json:"rows" csv:"rows"`           // how many rows it recorded
	Cancelled int         `json:"cancelled" csv:"cancelled"` // how many of them are cancelled
}

// NewRecent returns the view of the last commands.
func NewRecent(commands []recording.Recorded) Recent {
	r := Recent{}
	for _, c := range commands {
		first := ledger.HeadOf(c.Rows[0])
		booked := ledger.NewTime(c.Booked.In(first.At.Std().Location()))
		r = append(r, RecentLine{c.Handle, booked, first.At, c.What, c.File, first.Line, len(c.Rows), c.Cancelled})
	}
	return r
}

// Sheets returns the table for people.
func (r Recent) Sheets() Pages {
	sheet := Sheet{Columns: slices.Concat(left("handle", "booked"), wraps("what"), left(""))}
	for _, l := range r {
		state := ""
		switch {
		case l.Cancelled == l.Rows:
			state = "cancelled"
		case l.Cancelled > 0:
			state = fmt.Sprintf("%d of %s cancelled", l.Cancelled, inventory.Plural(l.Rows, "row", "rows"))
		}
		sheet.Rows = append(sheet.Rows, []string{l.Handle, minute(l.Booked), l.What, state})
	}
	if len(r) == 0 {
		sheet.Notes = []string{"Nothing is recorded yet"}
	} else {
		sheet.Notes = []string{"cancel one with: tarebook void HANDLE"}
	}
	return Pages{sheet}
}
