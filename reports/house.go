package reports

import (
	"slices"

	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// House is what no client pays. A cell below 0 was found and not lost.
type House struct {
	From    Date          `json:"from"`    // first day; null for the beginning of the book
	To      Date          `json:"to"`      // last day; null for its end
	Clients []HouseClient `json:"clients"` // what clients do not pay of their jobs
	Spools  []HouseSpool  `json:"spools"`  // what spools lost
	Totals  []HouseTotal  `json:"totals"`  // a row for each currency
	WaterG  ledger.Grams  `json:"water_g"` // water that was dried off, no loss
	Notes   []string      `json:"notes"`   // what is to be known of the figures, in words

	cells []HouseCell
}

// HouseClient is what a client does not pay of its jobs, in one currency; a blank client has the jobs of nobody, with all that they cost.
type HouseClient struct {
	Client   string `json:"client"` // the client; blank for the jobs of nobody, and in a total
	Currency string `json:"currency"`
	KindGrams
	AllG ledger.Grams `json:"all_g"` // grams of all kinds
	KindCosts
	Cost  Money `json:"cost"`  // cost of all kinds; null where no price is known
	Flags Flags `json:"flags"` // doubts about the figures
}

// HouseSpool is what a spool lost: more went than was recorded; found: less did; and what was left on it when it ended.
type HouseSpool struct {
	Spool         string       `json:"spool"` // its id; blank in a total
	Currency      string       `json:"currency"`
	LostG         ledger.Grams `json:"lost_g"`         // what went beyond what was recorded
	FoundG        ledger.Grams `json:"found_g"`        // what went less than was recorded; not above 0
	RemainderG    ledger.Grams `json:"remainder_g"`    // what was left on it when it ended
	AllG          ledger.Grams `json:"all_g"`          // grams of all three
	LostCost      Money        `json:"lost_cost"`      // cost of lost_g; null where no price is known
	FoundCost     Money        `json:"found_cost"`     // cost of found_g; null where no price is known
	RemainderCost Money        `json:"remainder_cost"` // cost of remainder_g; null where no price is known
	Cost          Money        `json:"cost"`           // cost of all three; null where no price is known
	Flags         Flags        `json:"flags"`          // doubts about the figures
}

// HouseTotal is all of one currency: of jobs, of spools, and in all.
type HouseTotal struct {
	Currency string       `json:"currency"`
	Jobs     HouseClient  `json:"jobs"`   // sums of all clients
	Spools   HouseSpool   `json:"spools"` // sums of all spools
	AllG     ledger.Grams `json:"all_g"`  // grams of jobs and spools
	Cost     Money        `json:"cost"`   // cost of jobs and spools; null where no price is known
	Flags    Flags        `json:"flags"`  // doubts about the figures
}

// HouseCell is one cell of the house's, as a row of CSV.
type HouseCell struct {
	What     string       `csv:"what"` // part, support, prime, purge or scrap of a client; lost, found or remainder of a spool
	Client   string       `csv:"client"`
	Spool    string       `csv:"spool"`
	Currency string       `csv:"currency"`
	G        ledger.Grams `csv:"g"`
	Cost     Money        `csv:"cost"`
	Flags    Flags        `csv:"flags"`
}

// NewHouse returns the view of the house's statement.
func NewHouse(h *cost.House) House {
	v := House{From: Date(h.From), To: Date(h.To), Clients: []HouseClient{}, Spools: []HouseSpool{}, Totals: []HouseTotal{}, WaterG: h.Water, Notes: []string{}}
	v.cells = []HouseCell{}
	missing := false
	cell := func(what, client, spool, currency string, c cost.LossCell) {
		if c.Grams != 0 || !c.Cost.IsZero() {
			v.cells = append(v.cells, HouseCell{what, client, spool, currency, c.Grams, lossMoney(c, currency), lossFlags(c)})
		}
	}
	for _, c := range h.Clients {
		v.Clients = append(v.Clients, houseClient(c.Client, c.Currency, c.Cells, c.Sum()))
		for kind, what := range [...]string{cost.Part: "part", cost.Support: "support", cost.Prime: "prime", cost.Purge: "purge", cost.Scrap: "scrap"} {
			cell(what, c.Client, "", c.Currency, c.Cells[kind])
		}
	}
	for _, s := range h.Spools {
		v.Spools = append(v.Spools, houseSpool(s.Spool, s.Currency, s.Cells, s.Sum()))
		for kind, what := range [...]string{cost.Lost: "lost", cost.Found: "found", cost.Remainder: "remainder"} {
			cell(what, "", s.Spool, s.Currency, s.Cells[kind])
		}
	}
	for _, t := range h.Totals {
		sum := t.Sum()
		missing = missing || sum.Unpriced
		jobs, spools := cost.ClientLoss{Cells: t.Clients}, cost.SpoolLoss{Cells: t.Spools}
		v.Totals = append(v.Totals, HouseTotal{t.Currency, houseClient("", t.Currency, t.Clients, jobs.Sum()), houseSpool("", t.Currency, t.Spools, spools.Sum()),
			sum.Grams, lossMoney(sum, t.Currency), lossFlags(sum)})
	}
	if missing {
		v.Notes = append(v.Notes, "unpriced: some grams are of spools without a price; no money stands here for them")
	}
	switch {
	case h.Water > 0:
		v.Notes = append(v.Notes, "water that drying drove off: "+h.Water.String()+" g, no loss")
	}
	return v
}

func lossMoney(c cost.LossCell, currency string) Money {
	if c.Missing() {
		return Money{}
	}
	return money(c.Cost, currency)
}

func lossFlags(c cost.LossCell) Flags { return flags(unpriced, c.Unpriced) }

func houseClient(client, currency string, c [cost.Kinds]cost.LossCell, sum cost.LossCell) HouseClient {
	var grams [cost.Kinds]ledger.Grams
	var costs [cost.Kinds]Money
	for kind := range c {
		grams[kind], costs[kind] = c[kind].Grams, lossMoney(c[kind], currency)
	}
	return HouseClient{client, currency, kindGrams(grams), sum.Grams, kindCosts(costs), lossMoney(sum, currency), lossFlags(sum)}
}

func houseSpool(spool, currency string, c [cost.Losses]cost.LossCell, sum cost.LossCell) HouseSpool {
	in := func(kind int) Money { return lossMoney(c[kind], currency) }
	return HouseSpool{spool, currency,
		c[cost.Lost].Grams, c[cost.Found].Grams, c[cost.Remainder].Grams, sum.Grams,
		in(cost.Lost), in(cost.Found), in(cost.Remainder), lossMoney(sum, currency), lossFlags(sum)}
}

// CSV returns its cells that are not 0.
func (h House) CSV() any { return h.cells }

// Sheets returns jobs, spools and all together for people.
func (h House) Sheets() Pages {
	title := "The house's own, " + period(h.From, h.To)
	if len(h.Totals) == 0 {
		return Pages{{Title: title, Notes: slices.Concat([]string{"Nothing fell to the house in this time."}, h.Notes)}}
	}
	all := append(kindColumns, "all")
	grams := Sheet{Title: "Of jobs, in grams that no client pays", Spare: [][]string{kindColumns}, Columns: slices.Concat(texts("client"), right(all...))}
	costs := Sheet{Title: "Of jobs, in money", Spare: [][]string{kindColumns}, Columns: slices.Concat(texts("client"), left(""), right(all...), left(""))}
	spools := Sheet{Title: "Of spools", Spare: [][]string{{"lost g", "found g", "remainder g"}, {"lost", "found", "remainder"}},
		Columns: slices.Concat(texts("spool"), left(""), right("lost g", "found g", "remainder g", "lost", "found", "remainder", "all"), left(""))}
	sum := Sheet{Title: "In all", Columns: slices.Concat(right("jobs", "lost", "found", "remainder", "all"), left(""))}
	var ofClients, ofSpools flagNotes
	client := func(c HouseClient, key string) (g, money []string) {
		return slices.Concat([]string{key}, c.KindGrams.tenths(), []string{tenthGram(c.AllG)}),
			slices.Concat([]string{key, ""}, c.KindCosts.cells(), []string{c.Cost.String(), c.Cost.currency(c.Currency)})
	}
	spool := func(s HouseSpool, key string) []string {
		return []string{key, "", tenthGram(s.LostG), tenthGram(s.FoundG), tenthGram(s.RemainderG), s.LostCost.String(), s.FoundCost.String(), s.RemainderCost.String(), s.Cost.String(), s.Cost.currency(s.Currency)}
	}
	for _, c := range h.Clients {
		g, money := client(c, named(c.Client))
		money[1] = ofClients.of(named(c.Client), c.Flags...)
		grams.Rows, costs.Rows = append(grams.Rows, g), append(costs.Rows, money)
	}
	for _, s := range h.Spools {
		row := spool(s, s.Spool)
		row[1] = ofSpools.of(s.Spool, s.Flags...)
		spools.Rows = append(spools.Rows, row)
	}
	var mass HouseClient // of all currencies: grams have none
	for _, t := range h.Totals {
		_, money := client(t.Jobs, "total "+t.Currency)
		costs.Totals = append(costs.Totals, money)
		mass.KindGrams = mass.KindGrams.plus(t.Jobs.KindGrams)
		mass.AllG += t.Jobs.AllG
		spools.Totals = append(spools.Totals, spool(t.Spools, "total")) // its first sums are grams
		sum.Rows = append(sum.Rows, []string{t.Jobs.Cost.String(), t.Spools.LostCost.String(), t.Spools.FoundCost.String(), t.Spools.RemainderCost.String(), t.Cost.String(), t.Cost.currency(t.Currency)})
	}
	total, _ := client(mass, "total")
	grams.Totals = [][]string{total}
	costs.Notes, spools.Notes, sum.Notes = ofClients.lines(), ofSpools.lines(), h.Notes
	pages := Pages{{Notes: []string{title}}}
	for _, sheet := range []Sheet{grams, costs, spools, sum} {
		if len(sheet.Rows) > 0 {
			pages = append(pages, sheet)
		}
	}
	return pages
}
