package cost

import (
	"cmp"
	"errors"
	"fmt"

	"tarebook/inventory"
	"tarebook/ledger"
)

// mostReasons is of how many bills it is looked for why they no longer agree: each takes a reading of the book.
const mostReasons = 20

// mostNamed is how many changes the problem of a bill names.
const mostNamed = 4

// VerifyBills returns every bill with which the book no longer agrees, by how much and since which change, and the rows of its period
// that were recorded or cancelled after it.
func VerifyBills(v *ledger.View) (problems []ledger.Problem, err error) {
	states, err := Bills(v)
	var faults ledger.Faults
	if errors.As(err, &faults) { // verify tells of these on its own account
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	looked := 0
	for _, s := range states {
		if !s.Agrees() {
			reason := "see it with: tarebook statement --bill " + s.Bill.Bill
			if looked++; looked <= mostReasons {
				if reason, err = s.reason(v); err != nil {
					return nil, err
				}
			}
			problems = append(problems, ledger.Problem{File: ledger.Bills, Line: s.Line, Entry: s.Entry, What: s.what() + "; " + reason})
		}
		for _, row := range s.Late {
			what := fmt.Sprintf("was recorded%s, after bill %s for that time was issued", recordedOn(row.Entry), s.Bill.Bill)
			if row.By != nil {
				what = fmt.Sprintf("is on bill %s, and was cancelled afterwards%s (%s:%d)", s.Bill.Bill, recordedOn(row.By.Entry), ledger.Voids, row.By.Line)
			}
			problems = append(problems, ledger.Problem{File: ledger.ConsumptionFile, Line: row.Line, Entry: row.Entry, What: what})
		}
	}
	return problems, nil
}

// recordedOn says when a row was recorded, where its entry tells.
func recordedOn(entry string) string {
	if when, ok := ledger.Made(entry); ok {
		return " on " + when.UTC().Format("2006-01-02")
	}
	return ""
}

// what says by how much the book no longer agrees.
func (s *BillState) what() string {
	decimals, _ := ledger.MinorUnit(s.Currency)
	text := fmt.Sprintf("bill %s of %s, %s to %s, no longer agrees: it says %s %s in %s, the book now says %s %s in %s", s.Bill.Bill, s.Client,
		cmp.Or(s.From, "the beginning"), s.To, s.Billed.StringFixed(max(decimals, -s.Billed.Exponent())), s.Currency, inventory.Plural(s.Lines.N, "line", "lines"),
		s.Now.Billed.StringFixed(decimals), s.Currency, inventory.Plural(s.Now.Lines, "line", "lines"))
	switch by := s.Now.Billed.Sub(s.Billed.Decimal); {
	case by.IsPositive():
		text += ": " + by.StringFixed(decimals) + " more"
	case by.IsNegative():
		text += ": " + by.Neg().StringFixed(decimals) + " less"
	}
	return text
}

// reason says since which change.
func (s *BillState) reason(v *ledger.View) (string, error) {
	if s.SHA256 == s.Now.SHA256 {
		return "the lines are those that were sent, so this row itself was edited", nil
	}
	then := v.Until(s.Bill) // without what was recorded since
	b, err := gathered(then, s.Bill)
	if err != nil {
		return "", err
	}
	since, err := s.changes(v, b)
	if err != nil {
		return "", err
	}
	text := ""
	if len(since) > 0 {
		text = "since then " + inventory.List(since, "and")
	}
	if s.isSent(b.sent(b.only, s.Currency, supposed{})) {
		return text, nil
	}
	if text != "" {
		text += "; besides, "
	}
	edit, err := s.edit(then, b)
	if edit == "" {
		edit = "no single figure explains it: rows, prices or rates were edited or removed by hand; compare the book with an older copy, as git keeps it"
	}
	return text + edit, err
}

// gathered returns what a bill's client and period have in a view.
func gathered(v *ledger.View, bill *ledger.Bill) (*Billing, error) {
	shelf, err := inventory.LoadPrices(v)
	if err != nil {
		return nil, err
	}
	b, err := newBilling(v, shelf, bill.Client, bill.From, bill.To)
	if err != nil {
		return nil, err
	}
	return b, v.FoldConsumption(b)
}

// isSent reports whether lines are those that were sent.
func (s *BillState) isSent(lines Sent) bool {
	return lines.SHA256 == s.SHA256 && lines.Lines == s.Lines.N
}

// changes names what was recorded since a bill that it depends on: consumption, its cancelling, and purchases that say another price.
func (s *BillState) changes(v *ledger.View, then *Billing) (named []string, err error) {
	more := 0
	add := func(format string, values ...any) {
		if len(named) == mostNamed {
			more++
			return
		}
		named = append(named, fmt.Sprintf(format, values...))
	}
	for _, row := range s.Late {
		if row.By != nil {
			add("%s:%d was cancelled by %s:%d", ledger.ConsumptionFile, row.Line, ledger.Voids, row.By.Line)
		} else {
			add("%s:%d was recorded%s", ledger.ConsumptionFile, row.Line, recordedOn(row.Entry))
		}
	}
	now, err := inventory.LoadPrices(v)
	if err != nil {
		return nil, err
	}
	for _, was := range spoolsOf(then, s.Currency) {
		switch spool := now.ByID[was.ID]; {
		case spool == nil:
			add("the purchase of %s (%s:%d) was cancelled", was.ID, ledger.Purchases, was.Purchase.Line)
		case !samePrice(was, spool):
			at := cmp.Or(spool.PricedBy(), spool.Purchase)
			add("%s:%d%s gives %s another price", ledger.Purchases, at.Line, recordedOn(at.Entry), spool.ID)
		}
	}
	if more > 0 {
		named = append(named, fmt.Sprintf("%d more changes were recorded", more))
	}
	return named, nil
}

// samePrice reports whether a spool has one price and currency in two views.
func samePrice(a, b *inventory.Spool) bool {
	x, in := a.Price()
	y, currency := b.Price()
	return in == currency && (x == nil) == (y == nil) && (x == nil || x.Cmp(y) == 0)
}

// edit looks for one edit by hand without which the book says what was sent; blank where there is none.
func (s *BillState) edit(v *ledger.View, b *Billing) (string, error) {
	table, err := v.ClientRows()
	if err != nil {
		return "", err
	}
	e := &editSearch{state: s, b: b}
	for _, row := range table {
		if ledger.Fold(row.Client) != b.only {
			continue
		}
		if found := e.rate(row, v.ClientLine(row)); found != "" {
			return found, nil
		}
	}
	for _, spool := range spoolsOf(b, s.Currency) {
		if found := e.price(spool); found != "" {
			return found, nil
		}
	}
	return "", nil
}
