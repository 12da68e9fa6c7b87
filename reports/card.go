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
	Stock StockRow   `json:"stock"` // the spool as stock shows it
	Lines []CardLine `json:"lines"` // its entries, in the order in which they count
	Gone  Gone       `json:"gone"`  // where its filament went

	course course
}

// Gone is where a spool's filament went, or came from where it is below 0. The figures and what is left add up to its net when
// it was bought.
type Gone struct {
	JobsG      ledger.Grams `json:"jobs_g"`      // what jobs took
	WoundOffG  ledger.Grams `json:"wound_off_g"` // what was wound off onto other spools
	LostG      ledger.Grams `json:"lost_g"`      // what is unaccounted for by the scale, water left out
	WaterG     ledger.Grams `json:"water_g"`     // what drying took off, beyond what it took back of gains
	RemainderG ledger.Grams `json:"remainder_g"` // what was left on it when it ended
}

// CardLine is one entry.
type CardLine struct {
	At      ledger.Time  `json:"at" csv:"at"`
	What    string       `json:"what" csv:"what"`         // what kind of entry it is
	Detail  string       `json:"detail" csv:"detail"`     // the entry in words
	ChangeG ledger.Grams `json:"change_g" csv:"change_g"` // what it did to the book
	NetG    ledger.Grams `json:"net_g" csv:"net_g"`       // what the book says after it
	Entry   string       `json:"entry" csv:"entry"`       // entry of the row; of one typed by hand the first 26 digits of its SHA-256
	Handle  string       `json:"handle" csv:"handle"`     // names the row in void; blank if it has no entry of its own
}

// NewCard returns the card of a spool. handles are those of its entries.
func NewCard(s *inventory.Spool, events []inventory.Event, handles map[string]string) Card {
	c := Card{Stock: stockRow(s), Lines: []CardLine{}, course: newCourse(s, events[len(events)-1].At)}
	for _, e := range events {
		c.Lines = append(c.Lines, CardLine{e.At, e.Kind, detail(s, e), e.Change, e.Net, e.Entry, handles[e.Entry]})
		c.Gone.add(e)
	}
	return c
}

func (g *Gone) add(e inventory.Event) {
	switch e.Kind {
	case inventory.EventConsumed:
		g.JobsG -= e.Change
	case inventory.EventWoundOff:
		g.WoundOffG -= e.Change
	case inventory.EventWeighed:
		switch w := e.Reading.Weighin; {
		case w.Ends() && e.Reading.Measured.Given && e.Change != 0:
			g.RemainderG += e.Reading.Measured.Grams
			g.LostG -= e.Change + e.Reading.Measured.Grams
		case w.Ends():
			g.RemainderG -= e.Change
		case w.State == ledger.Dried && e.Change < 0:
			g.WaterG -= e.Change + e.Reading.TakenBack
			g.LostG += e.Reading.TakenBack
		default:
			g.LostG -= e.Change
		}
	}
}

// words says it in words; amounts of 0 are left out.
func (g Gone) words() string {
	var parts []string
	for _, p := range []struct {
		name string
		g    ledger.Grams
	}{{"jobs", g.JobsG}, {"wound off", g.WoundOffG}, {"unaccounted for", g.LostG}, {"water", g.WaterG}, {"left when it ended", g.RemainderG}} {
		if p.g != 0 {
			parts = append(parts, p.name+" "+p.g.String()+" g")
		}
	}
	if parts == nil {
		return ""
	}
	return "gone so far: " + inventory.List(parts, "and")
}

func detail(s *inventory.Spool, e inventory.Event) string {
	switch e.Kind {
	case inventory.EventBought:
		p := s.Purchase
		words := []string{s.Maker, strings.TrimSpace(s.Material + " " + s.Colour), p.DiameterMM.Decimal.String() + " mm"}
		if p.Price.Given {
			words = append(words, inventory.PriceText(p.Price, s.Currency()))
		}
		if p.From != "" {
			words = append(words, "wound off "+p.From)
		}
		if p.GrossG.Given && !strings.HasPrefix(p.Note, inventory.OpenedNote) {
			words = append(words, "gross "+p.GrossG.Grams.String()+" g")
		}
		return join(append(words, p.Note)...)
	case inventory.EventWeighed:
		w := e.Reading.Weighin
		words := []string{w.State}
		if w.GrossG.Given {
			words = append(words, "gross "+w.GrossG.Grams.String()+" g")
		}
		if e.Reading.Judged {
			v := "variance " + within(e.Reading.Variance.Float(), e.Reading.VarianceU, "g")
			if water := -e.Reading.Variance - e.Reading.TakenBack; w.State == ledger.Dried && water > 0 {
				if v += ", water"; e.Reading.TakenBack > 0 {
					v += " " + water.String() + " g"
				}
			} else if e.Reading.Outside {
				v += ", outside"
			}
			words = append(words, v)
		}
		return join(append(words, w.Note)...)
	case inventory.EventConsumed:
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
		if s.Opening() != nil && e.At.Before(s.Opening().At) {
			words = append(words, "before it was booked: "+c.Total().String()+" g in cost alone")
		} else if e.Change == 0 && c.Total() > 0 {
			words = append(words, "after the end: "+c.Total().String()+" g in cost alone")
		}
		return join(append(words, c.Note)...)
	case inventory.EventWoundOff:
		return "onto " + e.Onto
	}
	return join(dash(e.Move.Place), e.Move.Note)
}

// CSV returns its lines.
func (c Card) CSV() any { return c.Lines }

// Sheets returns the card for people.
func (c Card) Sheets() Pages {
	r := c.Stock
	d := known(2 * r.UG)
	state := fmt.Sprintf("net %s, likely %s g, %s", within(r.NetG.Float(), r.UG, "g"), fixed(r.LikelyG, d), within(r.LengthM, r.UM, "m"))
	if r.Ended {
		state = "ended"
	}
	tare := "tare not known"
	if r.TareG.Given {
		tare = fmt.Sprintf("tare %s g from %s", r.TareG.Grams, r.TareFrom)
	}
	flags := r.Flags.words()
	sheet := Sheet{Title: join(strings.TrimSpace(r.Spool+": "+r.Material+" "+r.Colour), state, tare, r.Place, flags),
		Columns: slices.Concat(left("handle", "when", "what"), masses("change g", "net g"), wraps("detail")), Spare: [][]string{{"what"}, {"change g"}, {"when"}}}
	if len(c.course.points) > 1 {
		sheet.Picture = c.course.plot
	}
	for _, l := range c.Lines {
		sheet.Rows = append(sheet.Rows, []string{l.Handle, minute(l.At), l.What, gram(l.ChangeG), gram(l.NetG), l.Detail})
	}
	if words := c.Gone.words(); words != "" {
		sheet.Notes = append(sheet.Notes, words)
	}
	return Pages{sheet}
}
