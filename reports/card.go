package reports

import (
	"fmt"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Card is a spool's bin card: its state, and every entry with what it did to the book.
type Card struct {
	Stock StockRow   `json:"stock"`
	Lines []CardLine `json:"lines"`
}

// CardLine is one entry.
type CardLine struct {
	At      ledger.Time  `json:"at" csv:"at"`
	What    string       `json:"what" csv:"what"`
	Detail  string       `json:"detail" csv:"detail"`
	ChangeG ledger.Grams `json:"change_g" csv:"change_g"`
	NetG    ledger.Grams `json:"net_g" csv:"net_g"`
	Entry   string       `json:"entry" csv:"entry"`
}

// NewCard returns the card of a spool.
func NewCard(s *inventory.Spool, events []inventory.Event) Card {
	c := Card{Stock: stockRow(s), Lines: []CardLine{}}
	for _, e := range events {
		c.Lines = append(c.Lines, CardLine{e.At, e.Kind, detail(s, e), e.Change, e.Net, e.Entry})
	}
	return c
}

func detail(s *inventory.Spool, e inventory.Event) string {
	switch e.Kind {
	case inventory.Bought:
		p := s.Purchase
		words := []string{p.Maker, strings.TrimSpace(s.Material + " " + s.Colour), p.DiameterMM.Decimal.String() + " mm"}
		if p.Price.Given {
			_, currency := s.Price()
			price, _ := p.Price.MarshalCSV() // as it was typed
			words = append(words, price+" "+currency)
		}
		if p.From != "" {
			words = append(words, "wound off "+p.From)
		}
		return join(append(words, p.Note)...)
	case inventory.Weighed:
		w := e.Reading.Weighin
		words := []string{w.State}
		if w.GrossG.Given {
			words = append(words, "gross "+w.GrossG.Grams.String()+" g")
		}
		if e.Reading.Judged {
			v := fmt.Sprintf("variance %s g (2u %.1f)", e.Reading.Variance, 2*e.Reading.VarianceU)
			if w.State == ledger.Dried {
				v += ", water"
			} else if e.Reading.Outside {
				v += ", outside"
			}
			words = append(words, v)
		}
		return join(append(words, w.Note)...)
	case inventory.Consumed:
		c := e.Consumption
		words := []string{c.Job, c.Client}
		for _, k := range []struct {
			name string
			g    ledger.Grams
		}{{"part", c.PartG}, {"support", c.SupportG}, {"prime", c.PrimeG}, {"purge", c.PurgeG}} {
			if k.g > 0 {
				words = append(words, k.name+" "+k.g.String())
			}
		}
		if c.Outcome == ledger.Failed {
			words = append(words, "failed")
		}
		if e.Change == 0 && c.Total() > 0 {
			words = append(words, "after the end: "+c.Total().String()+" g in cost alone")
		}
		return join(append(words, c.Note)...)
	case inventory.WoundOff:
		return "onto " + e.Onto
	}
	return join(dash(e.Move.Place), e.Move.Note)
}

// JSON returns the card.
func (c Card) JSON() any { return c }

// CSV returns its lines.
func (c Card) CSV() any { return c.Lines }

// Sheets returns the card for people.
func (c Card) Sheets() Pages {
	r := c.Stock
	state := fmt.Sprintf("net %s g (2u %s), likely %s g, %s m", r.NetG, tenth(2*r.UG), tenth(r.LikelyG), tenth(r.LengthM))
	if r.Ended {
		state = "ended"
	}
	tare := "tare not known"
	if r.TareG.Given {
		tare = fmt.Sprintf("tare %s g from %s", r.TareG.Grams, r.TareFrom)
	}
	flags, _ := r.Flags.MarshalCSV()
	sheet := Sheet{Title: join(strings.TrimSpace(r.Spool+": "+r.Material+" "+r.Colour), state, tare, r.Place, flags),
		Spare:   []string{"entry"},
		Columns: slices.Concat(left("when", "what"), right("change g", "net g"), left("detail", "entry"))}
	for _, l := range c.Lines {
		sheet.Rows = append(sheet.Rows, []string{minute(l.At), l.What, gram(l.ChangeG), gram(l.NetG), l.Detail, l.Entry})
	}
	return Pages{sheet}
}
