package reports

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// Page is the shelf as a web page: the queue, a bin card of every spool, waste, and what machines purge. It is one self-contained file.
// All its content is there without its script, which only sorts and searches the cards.
type Page struct {
	at     ledger.Time
	worth  []string // of all spools, by currency
	cards  []binCard
	ended  []endedSpool
	check  Check
	waste  []Waste
	purges []planning.ChangePurge
	prints *Machines // the prints reckoned on each machine; nil where none can be
}

// WithMachines returns the page with what the prints would have wasted on each machine, if any of them can be counted.
func (p Page) WithMachines(m Machines) Page {
	if m.Counted > 0 {
		p.prints = &m
	}
	return p
}

// NewPage returns the page of a shelf and its queue at an instant, with costings by client, by month and by printer.
func NewPage(at ledger.Time, shelf *inventory.Shelf, jobs []*inventory.Job, clients, months, printers *cost.Costing) Page {
	machines, _ := printers.Rows()
	p := Page{at: at, check: NewCheck(shelf, jobs), waste: []Waste{NewWaste("client", clients), NewWaste("month", months)}, purges: planning.ChangePurges(machines)}
	stock := NewStock(shelf.Spools, false)
	for i := range stock.Rows {
		r, spool := &stock.Rows[i], shelf.Spool(stock.Rows[i].Spool)
		if r.Ended {
			p.ended = append(p.ended, endedSpool{r.Spool, filamentOf(r.Material, r.Colour), spool.End.At.Date(), r.Flags.words()})
		} else {
			p.cards = append(p.cards, newBinCard(r, spool, at))
		}
	}
	p.worth = stock.worth()
	return p
}

// Text from the book is cut to these lengths, so that a long note can't spoil the page. `card` and the files have all of it.
const (
	mostOfName = 40
	mostOfNote = 140
)

// name returns a name from the book as the page shows it.
func name(s string) string { return shortened(ledger.Clean(s), mostOfName, "…") }

// pageBody is the value of the template "body".
type pageBody struct {
	At, Count, Worth string
	Jobs             []pageJob
	Keys             []sortKey
	Cards            []binCard
	Ended            []endedSpool
	Waste            []wasteFigure
	Reckoned         []reckonedFigure
	Words            []string // of what was reckoned
	Purge            barsDrawing
	Machines         []machineFigure
}

// sortKey is a key by which cards can be sorted: the index of a text in the card, and its type (text, number, money or day).
type sortKey struct {
	Key, As string
	At      int
}

// sortKeys are in the order of the template "card": its heading, its paragraph, then its figures.
var sortKeys = [...]sortKey{{"spool", "text", 0}, {"material", "text", 1}, {"place", "text", 2}, {"net", "number", 3}, {"likely", "number", 4},
	{"length", "number", 5}, {"weighed", "day", 7}, {"value", "money", 8}}

type pageJob struct {
	Job, Due, For, Verdict string
	Needs                  []pageNeed
	Notes                  []string
}

// pageNeed is a need. Card is its spool if that has a card on the page; otherwise Spool names it.
type pageNeed struct{ Slot, Card, Spool, Filament, Need, Likely, Left, U, Odds, Verdict, Out string }

// binCard is the card of one spool. Course is nil if there is no drawing.
type binCard struct {
	Spool, Filament, Maker, Place         string
	Net, U, Likely, Length, Tare, Weighed string
	Value, Flags, Note                    string
	Course                                *courseDrawing
}

type endedSpool struct{ Spool, Filament, Day, Flags string }

type wasteFigure struct {
	Title, Key, Note string
	Bars             barsDrawing
	Rows             []wasteLine
	Total            wasteLine
	Grams            bool // there is a column of grams beside the money
}

type wasteLine struct {
	Key   string
	Cells []string
}

type machineFigure struct{ Machine, Changes, Purge, Each string }

// Write writes the page.
func (p Page) Write(w io.Writer) error {
	return document{name: "page", title: "Filament shelf, " + minute(p.at), body: p.body()}.write(w)
}

func (p Page) body() pageBody {
	b := pageBody{At: minute(p.at) + p.at.Std().Format(" -07:00"), Keys: sortKeys[:], Cards: p.cards, Ended: p.ended,
		Count: inventory.Plural(len(p.cards), "spool", "spools"), Worth: inventory.List(p.worth, "and")}
	for i, j := range p.check.Jobs {
		b.Jobs = append(b.Jobs, p.job(j, p.check.notes[i]))
	}
	for _, w := range p.waste {
		b.Waste = append(b.Waste, wasteFigures(w)...)
	}
	if len(p.purges) > 0 {
		b.Purge = purgeBars(p.purges).draw()
	}
	if p.prints != nil {
		for _, bars := range p.prints.bars() {
			b.Reckoned = append(b.Reckoned, reckonedFigure{bars.what + ", " + bars.unit, bars.draw()})
		}
		for _, note := range p.prints.notes {
			b.Words = append(b.Words, ledger.Clean(note))
		}
	}
	for _, m := range p.purges {
		b.Machines = append(b.Machines, machineFigure{name(named(m.Printer)), fmt.Sprint(m.Changes), gram(m.Purge), fmt.Sprintf("%.3f", m.PerChange())})
	}
	return b
}

// reckonedFigure is one picture of the prints on each machine.
type reckonedFigure struct {
	Title string
	Bars  barsDrawing
}

func filamentOf(material, colour string) string {
	return name(strings.TrimSpace(material + " " + colour))
}

func newBinCard(r *StockRow, spool *inventory.Spool, at ledger.Time) binCard {
	c := binCard{Spool: r.Spool, Filament: filamentOf(r.Material, r.Colour), Maker: name(r.Maker), Place: name(dash(r.Place)),
		Net: gram(r.NetG), U: tenth(2 * r.UG), Likely: tenth(r.LikelyG), Length: tenth(r.LengthM), Tare: "not known",
		Weighed: minute(r.LastWeighed), Value: r.Value.in(r.Currency), Flags: r.Flags.words(), Note: shortened(ledger.Clean(spool.Purchase.Note), mostOfNote, "…")}
	if r.LastWeighed.IsZero() {
		c.Weighed = "never"
	}
	if r.TareG.Given {
		c.Tare = r.TareG.Grams.String() + " g (" + r.TareFrom + ")"
	}
	if course := newCourse(spool, at); len(course.points) > 1 {
		drawing := course.draw()
		c.Course = &drawing
	}
	return c
}

func (p Page) job(j CheckJob, notes []string) pageJob {
	job := pageJob{Job: name(j.Job), Verdict: j.Verdict}
	if !j.Due.IsZero() {
		job.Due = minute(j.Due)
	}
	var whose []string
	if j.Client != "" {
		whose = append(whose, "for "+name(j.Client))
	}
	if j.Printer != "" {
		whose = append(whose, "on "+name(j.Printer))
	}
	job.For = strings.Join(whose, ", ")
	for _, note := range notes {
		job.Notes = append(job.Notes, shortened(ledger.Clean(strings.TrimPrefix(note, j.Job+": ")), 4*mostOfNote, "…"))
	}
	for _, n := range j.Needs {
		need := pageNeed{Slot: name(dash(n.Slot)), Spool: "none", Filament: filamentOf(n.Material, n.Colour), Need: gram(n.NeedG),
			Likely: "-", Left: "-", U: "-", Odds: odds(n.Odds), Verdict: n.Verdict, Out: "-"}
		if n.Spool != nil {
			need.Spool, need.Likely, need.Left, need.U = strings.Join(n.Spools, "+"), tenth(*n.LikelyG), tenth(*n.AfterG), tenth(2**n.UG)
			if len(n.Spools) == 1 && slices.ContainsFunc(p.cards, func(c binCard) bool { return c.Spool == *n.Spool }) {
				need.Card, need.Spool = *n.Spool, ""
			}
			if n.SpoolFrom == inventory.SpoolChosen {
				need.Spool += " (chosen)"
			}
		}
		need.Out = runsOut(n)
		job.Needs = append(job.Needs, need)
	}
	return job
}

// wasteFigures returns the figures of one report, one for each currency that has waste.
func wasteFigures(w Waste) (all []wasteFigure) {
	for _, b := range wasteBars(w) {
		f := wasteFigure{Title: "by " + w.By + ", " + b.unit, Key: w.By, Bars: b.draw(), Grams: b.unit != "g"}
		currency := func(r WasteRow) bool { return r.Currency == b.currency }
		for _, r := range w.Rows {
			if currency(r) {
				f.Rows = append(f.Rows, wasteCells(r, name(named(r.Key)), f.Grams))
			}
		}
		for _, r := range w.Totals {
			if currency(r) {
				f.Total = wasteCells(r, "total", f.Grams)
				if f.Grams && r.UnpricedG > 0 {
					f.Note = fmt.Sprintf("Of all filament used, %s g came off spools without a price; they are in no figure of money.", gram(r.UnpricedG))
				}
			}
		}
		if more := b.leftOut(); more != "" {
			f.Note = strings.TrimSpace("Drawn are " + more + "; the table has all. " + f.Note)
		}
		all = append(all, f)
	}
	return all
}

func wasteCells(r WasteRow, key string, priced bool) wasteLine {
	cells := r.KindGrams.cells()
	if priced {
		cells = append(r.KindCosts.cells(), r.WasteCost.String())
	}
	return wasteLine{key, append(cells[1:], gram(r.WasteG), percent(r.WasteShare))} // but for part
}
