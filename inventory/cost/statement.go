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
// Its cells are the billed part and the house's part of each kind of cost of each job. Only these are rounded; whatever else is
// shown is a sum of them. So in every row and in every total cost is billed and house together, and rows and columns add up.
// Of each currency first three totals are settled: cost half up, billed half up, house what remains, which is the exact amount
// rounded up or down. Then the billed cells are rounded to the total billed and the house's to that of the house, each by the
// largest remainder. (One round for both would keep the total cost alone: of a hundred jobs that cost 0.004 for the client and
// 0.006 for the house, all cents would fall to the house and the client would pay nothing of 0.40.)
type Statement struct {
	Client   string // as clients.csv spells it, else as its earliest row
	Name     string // of clients.csv; may be blank
	Listed   bool   // it stands in clients.csv
	From, To string // inclusive dates; blank for none
	Terms    []BillTerms
	Rows     []BillRow // by job and currency
	Totals   []BillRow // by currency; currencies are never added together
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
	Cells            [Kinds]BillCell
}

// BillCell is one kind of cost.
type BillCell struct {
	Grams         ledger.Grams
	Unpriced      ledger.Grams // of spools without a price: no money stands for these
	Billed, House decimal.Decimal

	billed, house exactSum
}

// Priced reports whether the cell has an amount. It has none if all its grams are of spools without a price.
func (c *BillCell) Priced() bool { return c.Unpriced == 0 || c.Unpriced < c.Grams }

// Cost returns billed and house together.
func (c *BillCell) Cost() decimal.Decimal { return c.Billed.Add(c.House) }

func (c *BillCell) add(o *BillCell) {
	c.Grams += o.Grams
	c.Unpriced += o.Unpriced
	c.Billed, c.House = c.Billed.Add(o.Billed), c.House.Add(o.House)
	c.billed.add(o.billed...)
	c.house.add(o.house...)
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
	if err := v.FoldConsumption(b); err != nil {
		return nil, err
	}
	rows, err := v.ClientRows()
	if err != nil {
		return nil, err
	}
	return b.statement(client, rows)
}

func (b *Billing) statement(client string, table []*ledger.Client) (*Statement, error) {
	s := &Statement{From: b.period.from, To: b.period.to}
	var err error
	if s.Client, err = b.clientName(client); err != nil {
		return nil, err
	}
	_, s.Listed = b.tables.Names(inventory.ClientName)[b.only]
	s.Name = nameOn(table, b.only, b.period.to)
	used := map[Terms]bool{}
	for _, key := range b.keys() {
		job := b.jobs[key]
		row := BillRow{Job: b.spellings.Spell(inventory.JobName, key.job), Currency: key.currency, Last: job.last, Finished: job.finished, Failed: job.failed}
		for by, grams := range job.grams {
			used[by.terms] = true
			row.add(by.spool, grams, b.shares(b.only, by.terms))
		}
		s.Rows = append(s.Rows, row)
	}
	for terms := range used {
		shares := b.shares(b.only, terms)
		s.Terms = append(s.Terms, BillTerms{terms, shares[Purge], shares[Scrap]})
	}
	// Days before a client's first row have a blank From, and so come first.
	slices.SortFunc(s.Terms, func(x, y BillTerms) int { return cmp.Compare(x.From, y.From) })
	s.round()
	return s, nil
}

func (r *BillRow) add(spool *inventory.Spool, grams *[Kinds]ledger.Grams, shares [Kinds]*big.Rat) {
	price, _ := spool.Price()
	for kind, g := range grams {
		cell := &r.Cells[kind]
		cell.Grams += g
		switch {
		case g == 0:
		case price == nil:
			cell.Unpriced += g
		default:
			cost := costOf(price, g)
			billed := new(big.Rat).Mul(cost, shares[kind])
			cell.billed.add(billed)
			cell.house.add(cost.Sub(cost, billed))
		}
	}
}

// round rounds the cells of each currency and adds the totals up.
func (s *Statement) round() {
	byCurrency := map[string][]*BillRow{}
	for i := range s.Rows {
		byCurrency[s.Rows[i].Currency] = append(byCurrency[s.Rows[i].Currency], &s.Rows[i])
	}
	for currency, rows := range byCurrency {
		var billed, house []*big.Rat
		for _, row := range rows {
			for kind := range row.Cells {
				cell := &row.Cells[kind]
				cell.billed, cell.house = exactSum{cell.billed.sum()}, exactSum{cell.house.sum()}
				billed, house = append(billed, cell.billed[0]), append(house, cell.house[0])
			}
		}
		decimals, _ := ledger.MinorUnit(currency)
		pays, carries := apportionTwo(billed, house, decimals)
		total := BillRow{Currency: currency}
		for _, row := range rows {
			for kind := range row.Cells {
				cell := &row.Cells[kind]
				cell.Billed, cell.House = pays[0], carries[0]
				pays, carries = pays[1:], carries[1:]
				total.Cells[kind].add(cell)
			}
		}
		s.Totals = append(s.Totals, total)
	}
	slices.SortFunc(s.Totals, func(a, b BillRow) int { return cmp.Compare(a.Currency, b.Currency) })
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
