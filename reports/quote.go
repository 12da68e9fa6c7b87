package reports

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// Quote is what a job will cost before it is printed.
type Quote struct {
	Job         string       `json:"job"`
	Client      string       `json:"client"`
	Printer     string       `json:"printer"`
	Due         ledger.Time  `json:"due"`          // by when it is wanted; null where nothing says so
	Verdict     string       `json:"verdict"`      // the worst of its needs
	RatesOf     string       `json:"rates_of"`     // the day whose rates count
	WasteBilled Exact        `json:"waste_billed"` // share of support, prime and purge that the client pays, from 0 to 1; null without a client
	ScrapBilled Exact        `json:"scrap_billed"` // share of failed prints that the client pays, from 0 to 1; null without a client
	UnpricedG   ledger.Grams `json:"unpriced_g"`   // grams that stand in no sum, as no price is known
	Needs       []QuoteNeed  `json:"needs"`        // a need for each slot
	Totals      []QuoteTotal `json:"totals"`       // a row for each currency

	notes []string
}

// QuoteNeed is one need; money is null where the spool has no price, or where no spool was found.
type QuoteNeed struct {
	Slot      string  `json:"slot" csv:"slot"`             // tool of the sliced file, or a short word; may be blank
	Spool     *string `json:"spool" csv:"spool"`           // the first that serves it; null where none was found
	SpoolFrom string  `json:"spool_from" csv:"spool_from"` // how it was found: named in the queue, loaded at that slot, chosen as the smallest that is enough, or none
	Material  string  `json:"material" csv:"material"`     // material of the spool, else of the queue
	Colour    string  `json:"colour" csv:"colour"`         // colour of the spool, else of the queue
	Verdict   string  `json:"verdict" csv:"verdict"`       // whether the spools last
	FinishedGrams
	NeedG     ledger.Grams `json:"need_g" csv:"need_g"`       // grams of all kinds, as queued
	K         float64      `json:"k" csv:"k"`                 // how many grams of the material go for one that was estimated
	Intervals int          `json:"intervals" csv:"intervals"` // how many intervals between weigh-ins k rests on; 0 where it is the settings' own
	LikelyG   float64      `json:"likely_g" csv:"likely_g"`   // k times need_g
	UG        float64      `json:"u_g" csv:"u_g"`             // standard uncertainty of likely_g

	PricePerG Exact   `json:"price_per_g" csv:"price_per_g"` // price of a gram, half up to 12 decimals; null without a price
	Currency  *string `json:"currency" csv:"currency"`       // currency of the spool's price, ISO 4217; null without a spool
	FinishedCosts
	Cost       Money `json:"cost" csv:"cost"`               // cost of need_g; null where no price is known
	LikelyCost Money `json:"likely_cost" csv:"likely_cost"` // cost of likely_g; null where no price is known
	LowCost    Money `json:"low_cost" csv:"low_cost"`       // cost of likely_g less 2 u_g; null where no price is known
	HighCost   Money `json:"high_cost" csv:"high_cost"`     // cost of likely_g and 2 u_g more; null where no price is known

	Spools IDs    `json:"spools,omitempty" csv:"spools"` // all that serve it, in turn; left out where one alone serves
	Barred string `json:"barred,omitempty" csv:"barred"` // why no nozzle of the printer takes the material; left out where one does
}

// QuoteTotal is what the job comes to in one currency: as sliced, as likely in this shop, and should it fail once.
type QuoteTotal struct {
	Currency      string `json:"currency"`
	FinishedCosts        // never null
	Cost          Money  `json:"cost"`              // cost as sliced
	ClientCost    Money  `json:"client_cost"`       // what the client pays of cost
	HouseCost     Money  `json:"house_cost"`        // what the client does not pay of cost
	LikelyCost    Money  `json:"likely_cost"`       // cost as likely in this shop
	LowCost       Money  `json:"low_cost"`          // cost of what is likely of all needs, less 2 standard uncertainties
	HighCost      Money  `json:"high_cost"`         // cost of what is likely of all needs and 2 standard uncertainties more
	ScrapCost     Money  `json:"scrap_cost"`        // cost of one failed print
	ScrapClient   Money  `json:"scrap_client_cost"` // what the client pays of scrap_cost
	ScrapHouse    Money  `json:"scrap_house_cost"`  // what the client does not pay of scrap_cost
}

// NewQuote returns the view of a quote.
func NewQuote(shelf *inventory.Shelf, q *cost.Quote) Quote {
	job := q.Job
	out := Quote{Job: job.Name, Client: job.Client, Printer: job.Printer, Due: job.Due, Verdict: job.Verdict, RatesOf: q.Date,
		WasteBilled: share(q.WasteBilled), ScrapBilled: share(q.ScrapBilled), UnpricedG: q.Unpriced, Needs: []QuoteNeed{}, Totals: []QuoteTotal{}}
	for _, l := range q.Lines {
		out.Needs = append(out.Needs, quoteNeed(l))
	}
	for _, t := range q.Totals {
		in := func(d decimal.Decimal) Money { return money(d, t.Currency) }
		out.Totals = append(out.Totals, QuoteTotal{t.Currency, finishedCosts(t.Costs, t.Currency), in(t.Cost), in(t.Client), in(t.House), in(t.LikelyFor), in(t.Low), in(t.High), in(t.Scrap), in(t.ScrapClient), in(t.ScrapHouse)})
	}
	out.notes = quoteNotes(shelf, q)
	return out
}

func quoteNeed(l *cost.QuoteLine) QuoteNeed {
	n := l.Need
	row := QuoteNeed{Slot: n.Slot, SpoolFrom: n.From, Material: n.Material, Colour: n.Colour, Verdict: n.Verdict,
		FinishedGrams: FinishedGrams{n.Row.PartG, n.Row.SupportG, n.Row.PrimeG, n.Row.PurgeG}, NeedG: n.Row.Total(), K: l.Estimate.K, Intervals: l.Estimate.N, LikelyG: l.Likely, UG: l.U, Spools: idsOf(n.Turn), Barred: n.Barred}
	if n.Spool == nil {
		return row
	}
	row.Spool, row.Currency = &n.Spool.ID, &l.Currency
	if l.PerGram == nil {
		return row
	}
	in := func(d decimal.Decimal) Money { return money(d, l.Currency) }
	row.PricePerG = pricePerGram(l.PerGram)
	row.FinishedCosts = finishedCosts(l.Costs, l.Currency)
	row.Cost, row.LikelyCost, row.LowCost, row.HighCost = in(l.Cost), in(l.LikelyFor), in(l.Low), in(l.High)
	return row
}

// quoteNotes says in words what figures rest on, and what they leave out.
func quoteNotes(shelf *inventory.Shelf, q *cost.Quote) []string {
	var runs, without, lacks []string
	for _, l := range q.Lines {
		n := l.Need
		material := n.Material
		if material == "" {
			material = "what has no material"
		}
		run := fmt.Sprintf("%s is taken to go as sliced, known to within %s (2u): there are too few weigh-ins to tell", material, percent(2*l.Estimate.UK))
		if l.Estimate.N > 0 {
			run = fmt.Sprintf("%s goes %.3f times as sliced in this shop, by %s between weigh-ins", material, l.Estimate.K, inventory.Plural(l.Estimate.N, "interval", "intervals"))
		}
		if !slices.Contains(runs, run) {
			runs = append(runs, run)
		}
		switch {
		case n.Spool == nil:
			without = append(without, fmt.Sprintf("%s: no spool was found, so its %s g have no price", needName(n), n.Row.Total()))
		case l.PerGram == nil:
			without = append(without, fmt.Sprintf("%s: %s has no price, so its %s g stand in no sum", needName(n), n.Spool.ID, n.Row.Total()))
		}
		if n.Barred != "" {
			lacks = append(lacks, barred(n))
		}
		if n.Turn != nil {
			lacks = append(lacks, needName(n)+": "+join(inTurn(n), "all of it is priced as "+pricedAs(n)))
		}
		if n.Verdict != inventory.Enough {
			lacks = append(lacks, lacking(shelf, n))
		}
	}
	return slices.Concat(runs, without, lacks)
}

// pricedAs names the spool by whose price a turn is quoted, and the prices of its others where they differ.
func pricedAs(n *inventory.Need) string {
	price := func(s *inventory.Spool) string {
		perGram, currency := s.Price()
		if perGram == nil {
			return "no price"
		}
		gram, _ := perGram.Float64()
		return strconv.FormatFloat(gram, 'g', 4, 64) + " " + currency + " a gram"
	}
	first := price(n.Spool)
	var others []string
	for _, spool := range n.Turn[1:] {
		if other := price(spool); other != first {
			others = append(others, spool.ID+" has "+other)
		}
	}
	if others == nil {
		return n.Spool.ID
	}
	return n.Spool.ID + ", at " + first + "; " + strings.Join(others, "; ")
}

// needName is what a need is called in words.
func needName(n *inventory.Need) string {
	if n.Slot != "" {
		return "slot " + n.Slot
	}
	return dash(strings.TrimSpace(n.Material + " " + n.Colour))
}

// quoteLine is one need with its job, for CSV.
type quoteLine struct {
	Job    string `csv:"job"`
	Client string `csv:"client"`
	QuoteNeed
}

// CSV returns a row a need.
func (q Quote) CSV() any {
	lines := []quoteLine{}
	for _, n := range q.Needs {
		lines = append(lines, quoteLine{q.Job, q.Client, n})
	}
	return lines
}

// Sheets returns grams, money and who carries it, for people.
func (q Quote) Sheets() Pages {
	kinds := []string{"part", "support", "prime", "purge"}
	grams := Sheet{Title: q.Job + ": grams as sliced, and what will likely go", Spare: [][]string{{"filament"}, kinds},
		Columns: slices.Concat(texts("slot"), ids("spool"), texts("filament"), right(append(kinds, "in all")...), right("likely", "2u"), left("verdict"))}
	costs := Sheet{Title: "Cost", Spare: [][]string{{"a gram"}, kinds},
		Columns: slices.Concat(texts("slot"), ids("spool"), right("a gram"), right(append(kinds, "in all", "likely", "from", "to")...), left(""))}
	var us []float64
	for _, n := range q.Needs {
		us = append(us, 2*n.UG)
	}
	d := known(us...)
	for _, n := range q.Needs {
		spool := spoolsCell(n.Spool, n.SpoolFrom, n.Spools)
		if n.SpoolFrom == inventory.SpoolChosen && grams.Notes == nil {
			grams.Notes = []string{chosenNote}
		}
		grams.Rows = append(grams.Rows, slices.Concat([]string{dash(n.Slot), spool, dash(strings.TrimSpace(n.Material + " " + n.Colour))}, n.FinishedGrams.tenths(),
			[]string{tenthGram(n.NeedG), fixed(n.LikelyG, d), fixed(2*n.UG, d), n.Verdict}))
		currency, price := "", "-"
		if n.PricePerG.Valid {
			currency, price = *n.Currency, strconv.FormatFloat(n.PricePerG.Decimal.InexactFloat64(), 'g', 4, 64)
		}
		costs.Rows = append(costs.Rows, slices.Concat([]string{dash(n.Slot), spool, price}, n.FinishedCosts.cells(), amounts(n.Cost, n.LikelyCost, n.LowCost, n.HighCost), []string{currency}))
	}
	carried := Sheet{Columns: slices.Concat(left(""), right("cost", "client", "house"), left(""))}
	for _, t := range q.Totals {
		carried.Title = q.terms()
		costs.Totals = append(costs.Totals, slices.Concat([]string{"total", "", ""}, t.FinishedCosts.cells(), amounts(t.Cost, t.LikelyCost, t.LowCost, t.HighCost), []string{t.Currency}))
		carried.Rows = append(carried.Rows,
			[]string{"the job, as sliced", t.Cost.String(), t.ClientCost.String(), t.HouseCost.String(), t.Currency},
			[]string{"each time it fails", t.ScrapCost.String(), t.ScrapClient.String(), t.ScrapHouse.String(), t.Currency})
	}
	carried.Notes = q.notes
	return Pages{grams, costs, carried}
}

// terms says who pays what.
func (q Quote) terms() string {
	if !q.WasteBilled.Valid {
		return "Who carries it: the house, as no client is named"
	}
	return fmt.Sprintf("Who carries it: %s pays the part, %s of support, prime and purge, and %s of a failed print (rates of %s)", q.Client, q.WasteBilled.percent(), q.ScrapBilled.percent(), q.RatesOf)
}
