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
// Every cell is a loss at the price of its very spool; what was found is one below 0. Of each currency the cells above 0 are
// rounded by the largest remainder to their total half up, those below 0 likewise and apart; all sums shown are sums of these. A
// client's part may differ by a minor unit from that client's own statement, which is rounded by itself.
type House struct {
	From, To string // inclusive dates; blank for none
	Clients  []ClientLoss
	Spools   []SpoolLoss
	Totals   []HouseTotal // by currency; currencies are never added together
	Water    ledger.Grams // that drying took off, beyond what it took back of gains; neither loss nor gain
}

// LossCell is one cell of losses.
type LossCell struct {
	Grams    ledger.Grams    // of shares, to the thousandth by the largest remainder
	Unpriced bool            // some of them are of spools without a price
	Priced   bool            // some are of spools with one
	Cost     decimal.Decimal // to the minor unit

	grams, cost exactSum // grams in g
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
	c.grams.add(o.grams...)
	c.cost.add(o.cost...)
	c.Unpriced, c.Priced = c.Unpriced || o.Unpriced, c.Priced || o.Priced
}

// addGrams adds grams at the price of a spool.
func (c *LossCell) addGrams(spool *inventory.Spool, grams *big.Rat) {
	c.grams.add(grams)
	if price, _ := spool.Price(); price != nil {
		c.cost.add(new(big.Rat).Mul(price, grams))
		c.Priced = true
	} else {
		c.Unpriced = true
	}
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
		if loss, any := spoolLosses(spool, billing.period, &h.Water); any {
			h.Spools = append(h.Spools, loss)
		}
	}
	slices.SortFunc(h.Spools, func(a, b SpoolLoss) int { return cmp.Compare(a.Spool, b.Spool) })
	h.round()
	return h, nil
}

// losses are what clients do not pay, by client and currency.
func (b *Billing) losses() (all []ClientLoss) {
	for _, key := range b.keys() {
		loss := ClientLoss{Client: b.spellings.Spell(inventory.ClientName, key.client), Currency: key.currency}
		none := true
		for by, grams := range b.jobs[key].grams {
			for kind, share := range b.shares(key.client, by.terms) {
				ours := new(big.Rat).Sub(big.NewRat(1, 1), share)
				if grams[kind] == 0 || ours.Sign() == 0 {
					continue
				}
				none = false
				loss.Cells[kind].addGrams(by.spool, ours.Mul(ours, big.NewRat(int64(grams[kind]), 1000)))
			}
		}
		if !none {
			all = append(all, loss)
		}
	}
	return all
}

// spoolLosses are what a spool's weigh-ins showed in a time. At the end measured less book is a variance as at any weigh-in, and what
// was measured is the remainder; where nothing was measured, it is what the book still held.
func spoolLosses(s *inventory.Spool, within period, water *ledger.Grams) (loss SpoolLoss, any bool) {
	loss = SpoolLoss{Spool: s.ID, Currency: s.Currency()}
	take := func(kind int, grams ledger.Grams) {
		if grams != 0 {
			any = true
			loss.Cells[kind].addGrams(s, big.NewRat(int64(grams), 1000))
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
	return loss, any
}

// round rounds the cells of each currency, signs apart, and adds the totals up.
func (h *House) round() {
	type set struct {
		total *HouseTotal
		cells []*LossCell
	}
	byCurrency := map[string]*set{}
	setOf := func(currency string) *set {
		if byCurrency[currency] == nil {
			byCurrency[currency] = &set{total: &HouseTotal{Currency: currency}}
		}
		return byCurrency[currency]
	}
	for i := range h.Clients {
		s := setOf(h.Clients[i].Currency)
		for kind := range h.Clients[i].Cells {
			s.cells = append(s.cells, &h.Clients[i].Cells[kind])
		}
	}
	for i := range h.Spools {
		s := setOf(h.Spools[i].Currency)
		for kind := range h.Spools[i].Cells {
			s.cells = append(s.cells, &h.Spools[i].Cells[kind])
		}
	}
	for currency, s := range byCurrency {
		decimals, _ := ledger.MinorUnit(currency)
		costs, grams := make([]*big.Rat, len(s.cells)), make([]*big.Rat, len(s.cells))
		for i, cell := range s.cells {
			costs[i], grams[i] = cell.cost.sum(), cell.grams.sum()
			cell.cost, cell.grams = exactSum{costs[i]}, exactSum{grams[i]}
		}
		costsTo, gramsTo := apportionSigned(costs, decimals), apportionSigned(grams, 3)
		for i, cell := range s.cells {
			cell.Cost, cell.Grams = costsTo[i], gramsOf(gramsTo[i])
		}
	}
	for i := range h.Clients {
		t := setOf(h.Clients[i].Currency).total
		for kind := range t.Clients {
			t.Clients[kind].add(&h.Clients[i].Cells[kind])
		}
	}
	for i := range h.Spools {
		t := setOf(h.Spools[i].Currency).total
		for kind := range t.Spools {
			t.Spools[kind].add(&h.Spools[i].Cells[kind])
		}
	}
	for _, s := range byCurrency {
		h.Totals = append(h.Totals, *s.total)
	}
	slices.SortFunc(h.Totals, func(a, b HouseTotal) int { return cmp.Compare(a.Currency, b.Currency) })
}
