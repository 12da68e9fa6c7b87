package cost

import (
	"cmp"
	"math/big"
	"slices"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/ledger"
)

// House is the statement of what no client pays: of each client's jobs the shares of waste and scrap that it does not pay, of
// jobs without a client all, and of the spools what was lost, found, or left on them when they ended. All losses are expense of
// the period (IAS 2.34); none of them is ever a client's.
//
// Every cell is a loss at the price of its very spool; what was found is one below 0. A client's cells are the sums of what the house
// carries of its lines, so they are those of its own statement; a spool's are rounded half up each, away from 0. All sums shown are
// sums of these.
type House struct {
	From, To string // inclusive dates; blank for none
	Clients  []ClientLoss
	Spools   []SpoolLoss
	Totals   []HouseTotal // by currency; currencies are never added together
	Water    ledger.Grams // that drying took off, beyond what it took back of gains; neither loss nor gain
}

// LossCell is one cell of losses.
type LossCell struct {
	Grams    ledger.Grams    // of shares, half up to the thousandth
	Unpriced bool            // some of them are of spools without a price
	Priced   bool            // some are of spools with one
	Cost     decimal.Decimal // to the minor unit

	grams []shareGrams // before they are rounded
}

// shareGrams are grams of which the house carries a share.
type shareGrams struct {
	billed *big.Rat // the share that it does not carry
	grams  ledger.Grams
}

// ClientLoss is what the house carries of a client's jobs in one currency; without a client all of theirs.
type ClientLoss struct {
	Client   string
	Currency string
	Cells    [Kinds]LossCell
}

// Losses of spools.
const (
	Lost      = iota // variances below 0: more went than was recorded
	Found            // variances above 0, as grams and cost below 0; what drying took back of them is above 0
	Remainder        // left on the spool when it ended
	Losses
)

// SpoolLoss is what was lost of one spool.
type SpoolLoss struct {
	Spool    string
	Currency string
	Cells    [Losses]LossCell
}

// HouseTotal is all of one currency.
type HouseTotal struct {
	Currency string
	Clients  [Kinds]LossCell
	Spools   [Losses]LossCell
}

// Sum returns all cells together.
func (t *HouseTotal) Sum() LossCell { return sumLosses(slices.Concat(t.Clients[:], t.Spools[:])) }

// Sum returns all kinds together.
func (c *ClientLoss) Sum() LossCell { return sumLosses(c.Cells[:]) }

// Sum returns all losses of the spool together.
func (s *SpoolLoss) Sum() LossCell { return sumLosses(s.Cells[:]) }

func sumLosses(cells []LossCell) LossCell {
	var sum LossCell
	for i := range cells {
		sum.add(&cells[i])
	}
	return sum
}

// Missing reports whether the cell has no amount: all its grams are of spools without a price.
func (c *LossCell) Missing() bool { return c.Unpriced && !c.Priced }

func (c *LossCell) add(o *LossCell) {
	c.Grams += o.Grams
	c.Cost = c.Cost.Add(o.Cost)
	c.Unpriced, c.Priced = c.Unpriced || o.Unpriced, c.Priced || o.Priced
}

// addLine adds what the house carries of a line; its grams are rounded when all lines are there.
func (c *LossCell) addLine(l *Line) {
	i := slices.IndexFunc(c.grams, func(s shareGrams) bool { return s.billed == l.Share })
	if i < 0 {
		i = len(c.grams)
		c.grams = append(c.grams, shareGrams{billed: l.Share})
	}
	c.grams[i].grams += l.Grams
	c.Cost = c.Cost.Add(l.House())
	c.Unpriced, c.Priced = c.Unpriced || !l.Priced(), c.Priced || l.Priced()
}

// roundGrams sets the grams that the house carries.
func (c *LossCell) roundGrams() {
	var all exactSum
	for _, s := range c.grams {
		ours := new(big.Rat).Sub(big.NewRat(1, 1), s.billed)
		all.add(costOf(ours, s.grams))
	}
	c.Grams, c.grams = RoundGrams(all.sum()), nil
}

// NewHouse returns the house's statement from one date to another, both included and by each row's own offset: of jobs by that
// of their consumption, of spools by that of the weigh-in which showed it.
func NewHouse(v *ledger.View, from, to string) (*House, error) {
	var billing *Billing
	shelf, err := inventory.LoadReadings(v, func(s *inventory.Shelf) (_ ledger.ConsumptionFold, err error) {
		billing, err = newBilling(v, s, "", from, to)
		return billing, err
	})
	if err != nil {
		return nil, err
	}
	h := &House{From: from, To: to, Clients: billing.losses()}
	for _, spool := range shelf.Spools {
		if loss, any := spoolLosses(spool, billing.days.period, &h.Water); any {
			h.Spools = append(h.Spools, loss)
		}
	}
	slices.SortFunc(h.Spools, func(a, b SpoolLoss) int { return cmp.Compare(a.Spool, b.Spool) })
	h.add()
	return h, nil
}

// losses are what clients do not pay, by client and currency.
func (b *Billing) losses() (all []ClientLoss) {
	whole := big.NewRat(1, 1)
	at := map[billKey]int{} // without the job
	for key, job := range b.jobs {
		lines := b.lines(key.client, job, supposed{})
		key.job = ""
		for i := range lines {
			l := &lines[i]
			if l.Share.Cmp(whole) == 0 {
				continue
			}
			i, ok := at[key]
			if !ok {
				i = len(all)
				at[key] = i
				all = append(all, ClientLoss{Client: b.spellings.Spell(inventory.ClientName, key.client), Currency: key.currency})
			}
			all[i].Cells[l.Kind].addLine(l)
		}
	}
	for i := range all {
		for kind := range all[i].Cells {
			all[i].Cells[kind].roundGrams()
		}
	}
	slices.SortFunc(all, func(x, y ClientLoss) int {
		return cmp.Or(cmp.Compare(x.Client, y.Client), cmp.Compare(x.Currency, y.Currency))
	})
	return all
}

// spoolLosses are what a spool's weigh-ins showed in a time. At the end measured less book is a variance as at any weigh-in, and what
// was measured is the remainder; where nothing was measured, it is what the book still held.
func spoolLosses(s *inventory.Spool, within period, water *ledger.Grams) (loss SpoolLoss, any bool) {
	loss = SpoolLoss{Spool: s.ID, Currency: s.Currency()}
	take := func(kind int, grams ledger.Grams) {
		if grams != 0 {
			any = true
			cell := &loss.Cells[kind]
			cell.Grams += grams
			cell.Priced, cell.Unpriced = s.Priced(), !s.Priced()
		}
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.AfterEnd || r.Early || !within.holds(r.Weighin.At.Date()) {
			continue
		}
		if r.Measured.Given {
			switch gone := r.Book - r.Measured.Grams; {
			case gone <= 0:
				take(Found, gone)
			case r.Weighin.State == ledger.Dried:
				take(Found, r.TakenBack)
				*water += gone - r.TakenBack
			default:
				take(Lost, gone)
			}
		}
		switch {
		case !r.Weighin.Ends():
		case r.Measured.Given:
			take(Remainder, r.Measured.Grams)
		default:
			take(Remainder, r.Book)
		}
	}
	for kind := range loss.Cells {
		loss.Cells[kind].Cost = lossOf(s, loss.Cells[kind].Grams)
	}
	return loss, any
}

// lossOf returns what grams of a spool, of either sign, cost: half up, away from 0; 0 without a price.
func lossOf(s *inventory.Spool, g ledger.Grams) decimal.Decimal {
	decimals, _ := ledger.MinorUnit(s.Currency())
	switch {
	case !s.Priced():
		return decimal.Zero
	case g < 0:
		return ShareOf(s.PricedBy(), -g, decimals).Neg()
	}
	return ShareOf(s.PricedBy(), g, decimals)
}

// add adds the totals up.
func (h *House) add() {
	totals := map[string]*HouseTotal{}
	of := func(currency string) *HouseTotal {
		if totals[currency] == nil {
			totals[currency] = &HouseTotal{Currency: currency}
		}
		return totals[currency]
	}
	for i := range h.Clients {
		t := of(h.Clients[i].Currency)
		for kind := range t.Clients {
			t.Clients[kind].add(&h.Clients[i].Cells[kind])
		}
	}
	for i := range h.Spools {
		t := of(h.Spools[i].Currency)
		for kind := range t.Spools {
			t.Spools[kind].add(&h.Spools[i].Cells[kind])
		}
	}
	for _, t := range totals {
		h.Totals = append(h.Totals, *t)
	}
	slices.SortFunc(h.Totals, func(a, b HouseTotal) int { return cmp.Compare(a.Currency, b.Currency) })
}
