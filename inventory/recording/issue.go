package recording

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// TypedBill is a bill to issue, as typed.
type TypedBill struct {
	Client, From, To string // the days are both included
	Number           string // blank: the year and the next free number, after the bench's prefix
	Again            bool   // although a bill has days of the period already
	Note             string
}

// Issue returns the rows of a bill, one a currency, and the statement that it is of. now is the clock.
func Issue(v *ledger.View, t TypedBill, at ledger.Time, bench Bench) (b Booking, s *cost.Statement, number string, err error) {
	if t.To == "" {
		return b, nil, "", fmt.Errorf("a bill has a last day; write --month %s, or --from and --to", at.Month())
	}
	if s, err = cost.NewStatement(v, t.Client, t.From, t.To); err != nil {
		return b, nil, "", err
	}
	if _, err := Known(v, "client", s.Client); err != nil {
		return b, nil, "", err
	}
	if b.Warnings, err = covered(v, s, t); err != nil {
		return b, nil, "", err
	}
	if number, err = billNumber(v, t.Number, at, bench.Prefix); err != nil {
		return b, nil, "", err
	}
	var rows []ledger.Bill
	total := false
	for _, currency := range s.Totals {
		sent := s.Sent(currency.Currency)
		total = total || !sent.Billed.IsZero()
		rows = append(rows, ledger.Bill{Head: ledger.Head{At: at}, Bill: number, Client: s.Client, From: t.From, To: t.To, Currency: currency.Currency,
			Billed: ledger.NewNumber(sent.Billed), Lines: ledger.Count{N: sent.Lines, Given: true}, SHA256: sent.SHA256, Note: t.Note})
	}
	if !total {
		return b, nil, "", fmt.Errorf("there is nothing to bill to %s in this time; see what was booked with: tarebook waste --client %s", s.Client, shellWord(s.Client))
	}
	if t.To >= at.Date() {
		b.Warnings = append(b.Warnings, fmt.Sprintf("%s is not over yet; what is recorded for this time from now on is on no bill; see it with: tarebook statement %s --unbilled", t.To, shellWord(s.Client)))
	}
	b.Batch = ledger.NewBatch[ledger.Bill](rows)
	return b, s, number, nil
}

// covered refuses a period that shares a day with one that was billed to the client; where that is meant, it says what is billed twice.
func covered(v *ledger.View, s *cost.Statement, t TypedBill) (warnings []string, err error) {
	bills, err := v.Bills()
	if err != nil {
		return nil, err
	}
	for _, o := range bills {
		if ledger.Fold(o.Client) != ledger.Fold(s.Client) || o.From > t.To || t.From > o.To {
			continue
		}
		if !t.Again {
			return nil, fmt.Errorf("bill %s already covers %s from %s to %s; see what it lacks with: tarebook statement %s --unbilled; to send another, cancel it with tarebook void %s, or write --again",
				o.Bill, s.Client, cmp.Or(o.From, "the beginning"), o.To, shellWord(s.Client), o.Name())
		}
		warning := fmt.Sprintf("bill %s has the days from %s to %s too; what it bills of them is now billed twice", o.Bill, cmp.Or(max(o.From, t.From), "the beginning"), min(o.To, t.To))
		if !slices.Contains(warnings, warning) { // a bill has a row a currency
			warnings = append(warnings, warning)
		}
	}
	return warnings, nil
}

// billNumber returns the number typed, or the next one of the year.
func billNumber(v *ledger.View, typed string, at ledger.Time, prefix string) (string, error) {
	used, err := v.BillNumbers()
	if err != nil {
		return "", err
	}
	if typed = ledger.Trim(typed); typed != "" {
		if used[ledger.Fold(typed)] {
			return "", fmt.Errorf("number %s was used already; no two bills ever have one number", typed)
		}
		return typed, nil
	}
	year := at.Date()[:4] + "-"
	if prefix = ledger.Trim(prefix); prefix != "" {
		year = prefix + "-" + year
	}
	next := 1
	for number := range used {
		if n, err := strconv.Atoi(strings.TrimPrefix(number, ledger.Fold(year))); err == nil && strings.HasPrefix(number, ledger.Fold(year)) {
			next = max(next, n+1)
		}
	}
	return fmt.Sprintf("%s%03d", year, next), nil
}
