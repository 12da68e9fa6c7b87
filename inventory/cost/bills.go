package cost

import (
	"cmp"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Sent returns what a bill over the statement says of one currency.
func (s *Statement) Sent(currency string) Sent {
	return s.billing.sent(s.billing.only, currency, supposed{})
}

// NewUnbilled returns the statement of a client's rows that no bill has: those of a period that was billed too, where they were
// recorded after the bill.
func NewUnbilled(v *ledger.View, client, from, to string) (*Statement, error) {
	bills, err := v.Bills()
	if err != nil {
		return nil, err
	}
	return newStatement(v, client, from, to, bills)
}

// billedBefore returns whether one of the bills has a row: it is of its client, period and currency, and was issued after the row was
// recorded. What came later is on none.
func billedBefore(bills []*ledger.Bill) func(row *ledger.Consumption, client, day, currency string) bool {
	byClient := map[string][]*ledger.Bill{}
	for _, b := range bills {
		client := ledger.Fold(b.Client)
		byClient[client] = append(byClient[client], b)
	}
	return func(row *ledger.Consumption, client, day, currency string) bool {
		return slices.ContainsFunc(byClient[client], func(b *ledger.Bill) bool {
			return b.Currency == currency && b.Holds(client, day) && !b.Before(&row.Head)
		})
	}
}

// BillState is one currency of a bill that was issued, and what the book says of it now.
type BillState struct {
	*ledger.Bill
	Now  Sent
	Late []LateRow // rows of its client and period that came after it, or that are cancelled since
}

// LateRow is a row of consumption that a bill would have, had it been there; or has, and it is cancelled.
type LateRow struct {
	Line  int
	Entry string
	By    *ledger.Void // what cancelled it; nil for a row that came later
}

// Agrees reports whether the book still says what was sent.
func (s *BillState) Agrees() bool {
	return s.Billed.Decimal.Equal(s.Now.Billed) && s.Lines.N == s.Now.Lines && s.SHA256 == s.Now.SHA256
}

// Bills reckons every bill that counts anew, in the order of the ledger.
func Bills(v *ledger.View) ([]*BillState, error) {
	bills, err := v.Bills()
	if err != nil || len(bills) == 0 {
		return nil, err
	}
	defer v.ReadAhead()()
	shelf, err := inventory.LoadPrices(v)
	if err != nil {
		return nil, err
	}
	r := &reckoning{byClient: map[string][]*billing{}, spools: shelf.ByID}
	var states []*BillState
	for _, b := range bills {
		s := &BillState{Bill: b}
		of, err := r.of(v, shelf, b)
		if err != nil {
			return nil, err
		}
		of.states = append(of.states, s)
		states = append(states, s)
	}
	r.Reset()
	if err := v.FoldConsumption(r); err != nil {
		return nil, err
	}
	for _, all := range r.byClient {
		for _, of := range all {
			for _, s := range of.states {
				s.Now = of.fold.sent(of.fold.only, s.Currency, supposed{})
			}
		}
	}
	return states, r.cancelled(v)
}

// reckoning folds consumption into the bills of each client and period.
type reckoning struct {
	byClient map[string][]*billing
	spools   map[string]*inventory.Spool
}

// billing is one client and period, with the bills that are of it.
type billing struct {
	fold   *Billing
	states []*BillState
}

// tells reports whether rows in a currency are named with a state: it is of that currency, or the first of a bill that has nothing in it,
// as where filament in another currency was used later.
func (of *billing) tells(s *BillState, currency string) bool {
	if s.Currency == currency {
		return true
	}
	number, first := ledger.Fold(s.Bill.Bill), true
	for _, other := range of.states {
		if ledger.Fold(other.Bill.Bill) != number {
			continue
		}
		if other.Currency == currency || first && other != s {
			return false
		}
		first = false
	}
	return true
}

func (r *reckoning) of(v *ledger.View, shelf *inventory.Shelf, b *ledger.Bill) (*billing, error) {
	client := ledger.Fold(b.Client)
	for _, of := range r.byClient[client] {
		if of.fold.days.period == (period{b.From, b.To}) {
			return of, nil
		}
	}
	fold, err := newBilling(v, shelf, b.Client, b.From, b.To)
	if err != nil {
		return nil, err
	}
	of := &billing{fold: fold}
	r.byClient[client] = append(r.byClient[client], of)
	return of, nil
}

// Reset forgets all rows.
func (r *reckoning) Reset() {
	for _, all := range r.byClient {
		for _, of := range all {
			of.fold.Reset()
			for _, s := range of.states {
				s.Late = nil
			}
		}
	}
}

// Add adds one row to the bills of its client and day.
func (r *reckoning) Add(row *ledger.Consumption) {
	r.each(row, func(of *billing, currency string) {
		of.fold.Add(row)
		for _, s := range of.states {
			if of.tells(s, currency) && s.Before(&row.Head) {
				s.Late = append(s.Late, LateRow{Line: row.Line, Entry: strings.Clone(row.Entry)})
			}
		}
	})
}

func (r *reckoning) each(row *ledger.Consumption, do func(of *billing, currency string)) {
	all, spool := ledger.Named(r.byClient, row.Client), r.spools[row.Spool]
	if len(all) == 0 || spool == nil {
		return
	}
	date := row.At.Date()
	for _, of := range all {
		if of.fold.days.period.holds(date) {
			do(of, spool.Currency())
		}
	}
}

// any reports whether one of the bills is as asked.
func (r *reckoning) any(is func(*BillState) bool) bool {
	for _, all := range r.byClient {
		for _, of := range all {
			if slices.ContainsFunc(of.states, is) {
				return true
			}
		}
	}
	return false
}

// cancelled notes the rows that bills had and that were cancelled after them.
func (r *reckoning) cancelled(v *ledger.View) error {
	voids, err := v.Voids()
	if err != nil || len(voids) == 0 {
		return err
	}
	by := map[string]*ledger.Void{}
	for _, void := range voids {
		if r.any(func(s *BillState) bool { return s.Before(&void.Head) }) {
			by[void.Target] = void
		}
	}
	if len(by) == 0 { // spares a reading of consumption
		return nil
	}
	found, err := v.Lookup(func(h *ledger.Head) bool { return by[h.ID] != nil })
	if err != nil {
		return err
	}
	for _, l := range found {
		row, ok := l.Row.(*ledger.Consumption)
		if !ok {
			continue
		}
		void := by[row.ID]
		r.each(row, func(of *billing, currency string) {
			for _, s := range of.states {
				if s.Currency == currency && !s.Before(&row.Head) && s.Before(&void.Head) {
					s.Late = append(s.Late, LateRow{row.Line, row.Entry, void})
				}
			}
		})
	}
	for _, all := range r.byClient {
		for _, of := range all {
			for _, s := range of.states {
				slices.SortFunc(s.Late, func(a, b LateRow) int { return cmp.Compare(a.Line, b.Line) })
			}
		}
	}
	return nil
}
