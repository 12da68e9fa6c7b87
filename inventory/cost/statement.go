package cost

import (
	"cmp"
	"errors"
	"math/big"
	"slices"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Statement is the bill of one client: what its jobs took, what it pays of that, and what the house carries.
//
// Money is rounded line by line, so that each can be checked by itself; every other amount is a sum of lines. So in every row and in
// every total cost is billed and house together. It may differ from costs, which are rounded to their grand total, by minor units.
type Statement struct {
	Client   string // as clients.csv spells it, else as its earliest row
	Name     string // of clients.csv; may be blank
	Listed   bool   // it stands in clients.csv
	From, To string // inclusive dates; blank for none
	Shop     Shop
	Terms    []BillTerms
	Rows     []BillRow // by job and currency, in the order of their last prints
	Totals   []BillRow // by currency; currencies are never added together

	billing *Billing
}

// Shop is who sends a bill, as the settings have it; blank where they don't.
type Shop struct {
	Name  string
	Lines []string
}

// BillTerms are rates by which rows of the statement were billed.
type BillTerms struct {
	Terms
	Waste, Scrap *big.Rat // shares of normal waste and of failed prints, 0 to 1
}

// BillRow is one job in one currency: part, support, prime and purge of its finished prints, and as scrap all of its failed ones.
type BillRow struct {
	Job              string
	Currency         string
	Last             ledger.Time // of its rows; zero in a total
	Finished, Failed bool
	Lines            []Line          // none in a total
	Cells            [Kinds]BillCell // the sums of lines
}

// BillCell is one kind of cost.
type BillCell struct {
	Grams         ledger.Grams
	Unpriced      ledger.Grams // of spools without a price: no money stands for these
	Billed, House decimal.Decimal
}

// Priced reports whether the cell has an amount. It has none if all its grams are of spools without a price.
func (c *BillCell) Priced() bool { return c.Unpriced == 0 || c.Unpriced < c.Grams }

// Cost returns billed and house together.
func (c *BillCell) Cost() decimal.Decimal { return c.Billed.Add(c.House) }

func (c *BillCell) add(o *BillCell) {
	c.Grams += o.Grams
	c.Unpriced += o.Unpriced
	c.Billed, c.House = c.Billed.Add(o.Billed), c.House.Add(o.House)
}

// Sum returns all kinds of the row together.
func (r *BillRow) Sum() BillCell {
	var sum BillCell
	for kind := range r.Cells {
		sum.add(&r.Cells[kind])
	}
	return sum
}

// NewStatement returns the bill of a client for the rows from one date to another, both included and by each row's own offset.
// Each row is billed by the rates of its own day, so that a later change of rates leaves what was billed before.
func NewStatement(v *ledger.View, client, from, to string) (*Statement, error) {
	return newStatement(v, client, from, to, nil)
}

// newStatement leaves out the rows that bills have.
func newStatement(v *ledger.View, client, from, to string, bills []*ledger.Bill) (*Statement, error) {
	if client = ledger.Trim(client); client == "" {
		return nil, errors.New("the client's name is blank; for what no client pays write --house")
	}
	defer v.ReadAhead()()
	shelf, err := inventory.LoadPrices(v)
	if err != nil {
		return nil, err
	}
	b, err := newBilling(v, shelf, client, from, to)
	if err != nil {
		return nil, err
	}
	if bills != nil {
		b.has = billedBefore(bills)
	}
	if err := v.FoldConsumption(b); err != nil {
		return nil, err
	}
	if err := b.spellShared(v); err != nil {
		return nil, err
	}
	rows, err := v.ClientRows()
	if err != nil {
		return nil, err
	}
	s, err := b.statement(client, rows)
	if err != nil {
		return nil, err
	}
	s.Shop = Shop{shelf.Settings.Shop, shelf.Settings.ShopLines}
	return s, nil
}

// spellShared lets the rows of other clients spell the client's jobs too, where they have jobs of these names. As few books have, that is
// a pass of its own.
func (b *Billing) spellShared(v *ledger.View) error {
	shared := false
	for job := range b.spellings.Names(inventory.JobName) {
		id, _ := b.ids.of(job)
		shared = shared || b.others.has(id)
	}
	if !shared {
		return nil
	}
	names := &knownNames{known: b.spellings, spools: b.spools}
	names.Reset()
	err := v.FoldConsumption(names)
	b.spellings = names.Spellings
	return err
}

func (b *Billing) statement(client string, table []*ledger.Client) (*Statement, error) {
	s := &Statement{From: b.days.period.from, To: b.days.period.to, billing: b}
	var err error
	if s.Client, err = b.clientName(client); err != nil {
		return nil, err
	}
	_, s.Listed = b.tables.Names(inventory.ClientName)[b.only]
	s.Name = nameOn(table, b.only, b.days.period.to)
	used := map[Terms]bool{}
	totals := map[string]*BillRow{}
	for key, job := range b.jobs {
		row := BillRow{Job: b.spellings.Spell(inventory.JobName, key.job), Currency: key.currency, Last: job.last, Finished: job.finished, Failed: job.failed}
		row.Lines = b.lines(b.only, job, supposed{})
		for i := range job.grams.list {
			used[job.grams.list[i].by.terms] = true
		}
		total := totals[key.currency]
		if total == nil {
			total = &BillRow{Currency: key.currency}
			totals[key.currency] = total
		}
		for i := range row.Lines {
			cell := row.Lines[i].cell()
			row.Cells[row.Lines[i].Kind].add(&cell)
			total.Cells[row.Lines[i].Kind].add(&cell)
		}
		s.Rows = append(s.Rows, row)
	}
	for _, total := range totals {
		s.Totals = append(s.Totals, *total)
	}
	slices.SortFunc(s.Rows, func(x, y BillRow) int {
		return cmp.Or(x.Last.Compare(y.Last), cmp.Compare(x.Job, y.Job), cmp.Compare(x.Currency, y.Currency))
	})
	slices.SortFunc(s.Totals, func(a, b BillRow) int { return cmp.Compare(a.Currency, b.Currency) })
	for terms := range used {
		shares := b.shares(b.only, terms)
		s.Terms = append(s.Terms, BillTerms{terms, shares[Purge], shares[Scrap]})
	}
	// Days before a client's first row have a blank From, and so come first.
	slices.SortFunc(s.Terms, func(x, y BillTerms) int { return cmp.Compare(x.From, y.From) })
	return s, nil
}

// cell is the line as a part of a sum.
func (l *Line) cell() BillCell {
	cell := BillCell{Grams: l.Grams, Billed: l.Billed, House: l.House()}
	if !l.Priced() {
		cell.Unpriced = l.Grams
	}
	return cell
}

// nameOn returns the name that clients.csv gives a client, its key folded, on a date, at the end of time when blank: of its rows
// with a name the last that has begun by then, else the first to begin.
func nameOn(table []*ledger.Client, client, date string) string {
	var named []*ledger.Client
	for _, row := range table {
		if ledger.Fold(row.Client) == client && row.Name != "" {
			named = append(named, row)
		}
	}
	if len(named) == 0 {
		return ""
	}
	slices.SortFunc(named, func(a, b *ledger.Client) int { return cmp.Compare(a.From, b.From) })
	name := named[0].Name
	for _, row := range named {
		if date == "" || row.From <= date {
			name = row.Name
		}
	}
	return name
}
