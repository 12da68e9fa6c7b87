package reports

import (
	"fmt"
	"io"

	"tarebook/inventory"
	"tarebook/ledger"
)

// paperTable is one currency of a statement on paper.
type paperTable struct {
	Currency string
	Jobs     []paperJob
	Pay      string // what the client owes
	Cost     string // with what the house carries, on the shop's own page alone
	House    string
}

type paperJob struct {
	Job, Small string
	Lines      []paperLine
	Billed     string // the sum of the lines
	House      string
}

type paperLine struct{ Spool, Filament, Kind, Grams, Price, Share, Billed, House, Cost string }

// WriteHTML writes the statement as a page to print. The client's has nothing of what the house carries; inside is the shop's own, with
// both.
func (s Statement) WriteHTML(w io.Writer, inside bool) error {
	var tables []paperTable
	for _, total := range s.Totals {
		t := paperTable{Currency: total.Currency, Pay: total.Bill.in(total.Currency)}
		if inside {
			t.Cost, t.House = minus(total.Cost.String()), minus(total.House.String())
		}
		if total.UnpricedG > 0 {
			t.Pay += ", without what has no price"
		}
		for _, r := range s.Rows {
			if r.Currency != total.Currency {
				continue
			}
			if job := r.paper(inside); len(job.Lines) > 0 {
				t.Jobs = append(t.Jobs, job)
			}
		}
		if len(t.Jobs) > 0 {
			tables = append(tables, t)
		}
	}
	notes := s.paperNotes(inside)
	number := "not issued as a bill"
	if s.Bill != nil {
		number = "Bill " + s.Bill.Number
	}
	if s.Bill.differs() {
		number += ", changed since it was sent"
	}
	return document{"statement", ledger.Clean("Statement: " + s.title()), map[string]any{
		"Shop": s.shop.Name, "ShopLines": s.shop.Lines, "Who": s.who(), "Number": number, "Date": s.At, "Period": period(s.From, s.To), "Inside": inside,
		"Tables": tables, "Notes": notes, "Nothing": s.nothing(),
	}}.write(w)
}

// paper is a job as it is printed. What a client does not pay at all is on the shop's own page alone.
func (r StatementRow) paper(inside bool) paperJob {
	job := paperJob{Job: named(r.Job), Small: join(r.ended(), r.Outcome), Billed: r.Bill.String(), House: minus(r.House.String())}
	if !inside {
		job.Small = r.ended()
	}
	for _, l := range r.Lines {
		if l.Share.Decimal.IsZero() && !inside {
			continue
		}
		job.Lines = append(job.Lines, paperLine{l.Spool, filamentOf(l.Material, l.Colour), l.Kind, gram(l.Grams), l.price, l.Share.Decimal.String(), l.Billed.String(), minus(l.house.String()), l.Cost.String()})
	}
	return job
}

// paperNotes are what stands below the lines.
func (s Statement) paperNotes(inside bool) []string {
	notes := []string{"Each line is grams times the price of 1 g times the share, rounded half up by itself; all sums are sums of lines. A price written with / is what the spool cost by its grams."}
	if s.Bill.differs() {
		for _, r := range s.Bill.Sent {
			notes = append(notes, fmt.Sprintf("Sent on %s were %s in %s; this page is what the book says now.", s.Bill.Issued.Date(), r.Billed.in(r.Currency), inventory.Plural(r.Lines, "line", "lines")))
		}
	}
	if inside {
		return append(append(notes, "This page is the shop's own: it shows what the client does not pay."), s.Notes...)
	}
	for _, r := range s.Totals {
		if r.UnpricedG > 0 {
			notes = append(notes, unpricedNote(r.UnpricedG, r.Currency, len(s.Totals) > 1))
		}
	}
	return notes
}
