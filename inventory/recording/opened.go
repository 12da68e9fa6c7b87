package recording

import (
	"fmt"
	"math/big"

	"github.com/shopspring/decimal"

	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// OpenedSpool is what is booked of a spool that was begun before it came into the book.
type OpenedSpool struct {
	NetG  ledger.Grams  // what is on it: gross less tare
	Price ledger.Number // the share of its price that is still on it; not given without a price
	Note  string        // what both were reckoned from

	facts string // the part of the note that no better tare changes
}

// overfull is how much more than its label an opened spool may hold before gross, tare or label must be wrong; makers fill
// generously, but not by more. Common practice, no source.
var overfull = big.NewRat(105, 100)

// Opened reckons an opened spool from what the scale shows of it, what its empty core weighs, and what its label said when it
// was full: net = gross - tare, and the price's share = price x net / label, half up to decimals, the currency's minor unit.
// A net above the label, as a generous maker leaves it, is kept and costs the whole price.
func Opened(gross, tare, label ledger.Grams, price ledger.Number, decimals int32) (OpenedSpool, error) {
	o := OpenedSpool{NetG: gross - tare}
	switch {
	case label <= 0:
		return o, fmt.Errorf("the label's net is blank or 0; write the grams of filament that the spool held when it was full")
	case o.NetG <= 0:
		return o, fmt.Errorf("gross %s g is no more than the empty spool weighs, %s g; weigh it again, or look at its core", gross, tare)
	case big.NewRat(int64(o.NetG), int64(label)).Cmp(overfull) > 0:
		return o, fmt.Errorf("gross %s g less %s g of empty spool is %s g, more than the %s g of its label; look at its core and its label", gross, tare, o.NetG, label)
	}
	o.facts = fmt.Sprintf("opened: gross %s g, label %s g", gross, label)
	if price.Given {
		share := new(big.Rat).Mul(price.Rat(), big.NewRat(int64(min(o.NetG, label)), int64(label)))
		o.Price = fixed(cost.RoundHalfUp(share, decimals), decimals)
		text, err := price.MarshalCSV()
		if err != nil {
			return o, err
		}
		o.facts += ", price " + text
	}
	o.Note = fmt.Sprintf("%s, tare %s g", o.facts, tare)
	return o, nil
}

// fixed returns d, not below 0, as it is written with so many decimals: 9.10, not 9.1.
func fixed(d decimal.Decimal, decimals int32) ledger.Number {
	n, err := ledger.ParseNumber(d.StringFixed(decimals))
	if err != nil {
		return ledger.NewNumber(d)
	}
	return n
}
