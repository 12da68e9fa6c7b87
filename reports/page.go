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

// Page is the shelf as a web page: the queue, the stock as a table and as bin cards, waste, and what machines purge. It is one
// self-contained file. All its content is there without its script, which only sorts and searches, and shows table or cards.
type Page struct {
	at      ledger.Time
	worth   []string // of all spools, by currency
	spools  []pageSpool
	ended   []endedSpool
	check   Check
	wanted  map[string][]jobLink // by spool
	waste   []Waste
	purges  []planning.ChangePurge
	prints  *Machines // the prints reckoned on each machine; nil where none can be
	version string
}

// WithMachines returns the page with what the prints would have wasted on each machine, if any of them can be counted.
func (p Page) WithMachines(m Machines) Page {
	if m.Counted > 0 {
		p.prints = &m
	}
	return p
}

// WithVersion returns the page with the version of the program in its footer.
func (p Page) WithVersion(version string) Page {
	p.version = version
	return p
}

// NewPage returns the page of a shelf and its queue at an instant, with costings by client, by month and by printer, and what moved last.
func NewPage(at ledger.Time, shelf *inventory.Shelf, jobs []*inventory.Job, clients, months, printers *cost.Costing, moved *Movements) Page {
	machines, _ := printers.Rows()
	p := Page{at: at, check: NewCheck(shelf, jobs), waste: []Waste{NewWaste("client", clients), NewWaste("month", months)}, purges: planning.ChangePurges(machines)}
	p.wanted = wantedBy(p.check.Jobs)
	stock := NewStock(shelf.Spools, false)
	figures := stock.figures()
	for i := range stock.Rows {
		r, spool := &stock.Rows[i], shelf.Spool(stock.Rows[i].Spool)
		if r.Ended {
			p.ended = append(p.ended, endedSpool{r.Spool, filamentOf(r.Material, r.Colour), spool.End.At.Date(), r.Flags.words()})
		} else {
			p.spools = append(p.spools, newPageSpool(r, spool, at, figures, p.wanted[r.Spool], moved))
		}
	}
	p.worth = stock.worth()
	return p
}

// Names are shown whole, since a page can wrap them; these lengths only keep a broken book from spoiling it. `card` and the files have all.
const (
	mostOfName = 1000
	mostOfNote = 140
)

// name returns a name from the book as the page shows it.
func name(s string) string { return shortened(ledger.Clean(s), mostOfName, "…") }

// minus gives a figure the sign of mathematics, which documents can show: U+2212.
func minus(figure string) string {
	if len(figure) > 1 && figure[0] == '-' {
		return "\u2212" + figure[1:]
	}
	return figure
}

// pageBody is the value of the template "body".
type pageBody struct {
	Verdict          string // of the whole queue
	Class            string // of the worst of it
	At, Count, Worth string
	Jobs             []pageJob
	Spools           []pageSpool
	Ended            []endedSpool
	Waste            []wasteFigure
	Reckoned         []reckonedFigure
	Words            []string // of what was reckoned
	Purge            barsDrawing
	Machines         []machineFigure
	Version          string
}

type endedSpool struct{ Spool, Filament, Day, Flags string }

type wasteFigure struct {
	Title, Key, Note string
	Bars             barsDrawing
	Rows             []wasteLine
	Total            wasteLine
	Grams            bool     // there is a column of grams beside the money
	Labels           []string // of the cells, for a phone
}

type wasteLine struct {
	Key   string
	Cells []string
}

type machineFigure struct{ Machine, Changes, Purge, Each string }

// Write writes the page.
func (p Page) Write(w io.Writer) error {
	verdict, _ := p.verdict()
	return document{name: "page", title: verdict + ": filament shelf, " + minute(p.at), body: p.body()}.write(w)
}

func (p Page) body() pageBody {
	b := pageBody{At: minute(p.at) + p.at.Std().Format(" -07:00"), Spools: p.spools, Ended: p.ended,
		Count: inventory.Plural(len(p.spools), "spool", "spools"), Worth: inventory.List(p.worth, "and"), Version: p.version}
	b.Verdict, b.Class = p.verdict()
	grams := p.check.gramDecimals()
	for i, j := range p.check.Jobs {
		b.Jobs = append(b.Jobs, p.job(i, j, p.check.notes[i], grams))
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

// wasteFigures returns the figures of one report, one for each currency that has waste.
func wasteFigures(w Waste) (all []wasteFigure) {
	for _, b := range wasteBars(w) {
		f := wasteFigure{Title: "by " + w.By + ", " + b.unit, Key: w.By, Bars: b.draw(), Grams: b.unit != "g"}
		if f.Labels = append(slices.Clone(kindColumns[1:]), "waste"); f.Grams {
			f.Labels = append(f.Labels, "waste g")
		}
		f.Labels = append(f.Labels, "share")
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
