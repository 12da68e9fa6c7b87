package recording

import (
	"cmp"
	"fmt"
	"math/big"
	"strings"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// overfull is how much more than its label an opened spool may hold before gross, tare or label must be wrong; makers fill
// generously, but not by more. Common practice, no source.
var overfull = big.NewRat(105, 100)

// open turns a purchase into that of a spool that was begun before it came into the book. Its net is what is on it by the scale:
// gross less tare. Its price is the share of that, price x net / label, half up to the minor unit; a net above the label, as a
// generous maker leaves it, is kept and costs the whole price. The note says what both were computed from; facts is the part of it
// that no better tare changes.
func open(p *ledger.Purchase, gross, tare, label ledger.Grams, currency string) (facts string, err error) {
	currency = cmp.Or(p.Currency, currency)
	decimals, ok := ledger.MinorUnit(currency)
	if !ok && p.Price.Given {
		return "", noCurrency(currency)
	}
	p.NetG = gross - tare
	switch {
	case label <= 0:
		return "", fmt.Errorf("the label's net is blank or 0; write the grams of filament that the spool held when it was full")
	case p.NetG <= 0:
		return "", fmt.Errorf("gross %s g is no more than the empty spool weighs, %s g; weigh it again, or look at its core", gross, tare)
	case big.NewRat(int64(p.NetG), int64(label)).Cmp(overfull) > 0:
		return "", fmt.Errorf("gross %s g less %s g of empty spool is %s g, more than the %s g of its label; look at its core and its label", gross, tare, p.NetG, label)
	}
	facts = fmt.Sprintf("opened: gross %s g, label %s g", gross, label)
	if p.Price.Given {
		text, err := p.Price.MarshalCSV()
		if err != nil {
			return "", err
		}
		facts += ", price " + text
		share := new(big.Rat).Mul(p.Price.Rat(), big.NewRat(int64(min(p.NetG, label)), int64(label)))
		p.Price = fixed(cost.RoundHalfUp(share, decimals), decimals)
	}
	p.Note = strings.TrimSuffix(fmt.Sprintf("%s, tare %s g; %s", facts, tare, p.Note), "; ")
	return facts, nil
}

// tareOf returns what the empty spool weighs: as typed, else its core.
func tareOf(shelf *inventory.Shelf, p *ledger.Purchase) ledger.Mass {
	if core := ledger.Named(shelf.Cores, p.Core); !p.TareG.Given && core != nil {
		return core.TareG
	}
	return p.TareG
}

// fixed returns d, not below 0, as it is written with so many decimals: 9.10, not 9.1.
func fixed(d decimal.Decimal, decimals int32) ledger.Number {
	n, err := ledger.ParseNumber(d.StringFixed(decimals))
	if err != nil {
		return ledger.NewNumber(d)
	}
	return n
}
