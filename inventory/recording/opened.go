package recording

import (
	"cmp"
	"fmt"
	"math/big"
	"regexp"
	"strings"
	"sync"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/ledger"
)

// overfull is how much more than its label an opened spool may hold before gross, tare or label must be wrong; makers fill
// generously, but not by more. Common practice, no source.
var overfull = big.NewRat(105, 100)

// open turns a purchase, which has its gross, into that of a spool that was begun before it came into the book. Its net is what is on
// it by the tare known now: gross less tare. Its price is the share of that, price x net / label, half up to the minor unit; a net above
// the label, as a generous maker leaves it, is kept and costs the whole price. A gross that is no more than the tare is refused unless
// sure: one of the two is then wrong, and a gram costs what it did by the label. The note says what both were computed from; facts is
// the part of it that no better tare changes.
func open(p *ledger.Purchase, tare, label ledger.Grams, currency string, sure bool) (facts string, err error) {
	gross := p.GrossG.Grams
	currency = cmp.Or(p.Currency, currency)
	decimals, ok := ledger.MinorUnit(currency)
	if !ok && p.Price.Given {
		return "", noCurrency(currency)
	}
	p.NetG = gross - tare
	switch {
	case label <= 0:
		return "", fmt.Errorf("the label's net is blank or 0; write the grams of filament that the spool held when it was full")
	case p.NetG <= 0 && !sure:
		return "", fmt.Errorf("gross %s g is no more than the empty spool weighs, %s g; weigh it again, look at its core, or write --sure", gross, tare)
	case p.NetG <= 0:
		p.NetG = label
	case big.NewRat(int64(p.NetG), int64(label)).Cmp(overfull) > 0:
		return "", fmt.Errorf("gross %s g less %s g of empty spool is %s g, more than the %s g of its label; look at its core and its label", gross, tare, p.NetG, label)
	}
	facts = fmt.Sprintf("%s%s g, label %s g", inventory.OpenedNote, gross, label)
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

// openedFacts are what the note of an opened spool says: gross, label, price, and the person's own note.
var openedFacts = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^opened: gross ([0-9.]+) g, label ([0-9.]+) g(?:, price ([0-9.]+))?, tare [0-9.]+ g(?:; (.*))?$`)
})

// openedBy returns the label and price with which an opened spool was booked, and the note that was typed: from its note or, where that
// does not say, as they give the same net and price again.
func openedBy(p *ledger.Purchase, price string) (label, full, note string) {
	if m := openedFacts().FindStringSubmatch(p.Note); m != nil {
		return m[2], m[3], m[4]
	}
	return p.NetG.String(), price, p.Note
}

// Instead returns, for each purchase of an opened spool whose gross stands in its note alone, the row to write in its place, so that
// what is on it follows from the reading. Such a row breaks no rule.
func Instead(v *ledger.View) (offers []ledger.Problem) {
	purchases, _ := v.Purchases() // verify tells what is wrong there
	for _, p := range purchases {
		m := openedFacts().FindStringSubmatch(p.Note)
		if p.GrossG.Given || m == nil {
			continue
		}
		gross, err := ledger.ParseGrams(m[1])
		if err != nil {
			continue // it is a note of another kind
		}
		line, adds := p.WithGross(gross)
		mend := "write instead: "
		if adds != "" {
			mend = "add " + adds + " to the end of the header and " + mend
		}
		offers = append(offers, ledger.Problem{File: ledger.Purchases, Line: p.Line, Entry: p.Entry,
			What: p.Spool + " was opened, but its reading stands in the note alone, so that no better tare betters it; " + mend + line})
	}
	return offers
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
