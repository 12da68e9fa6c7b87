package cost

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Line is what a job took of one spool, of one kind and at one share. It can be checked with a pocket calculator: cost is grams times
// the price of a gram, billed is that times the share, each half up from the exact amount.
type Line struct {
	Spool        *inventory.Spool
	Kind         int
	Share        *big.Rat // of the cost, 0 to 1, that the client pays
	Grams        ledger.Grams
	Cost, Billed decimal.Decimal // 0 without a price
}

// Priced reports whether there is money in the line.
func (l *Line) Priced() bool { return l.Spool.Priced() }

// House returns what the client does not pay.
func (l *Line) House() decimal.Decimal { return l.Cost.Sub(l.Billed) }

// KindNames are the kinds as they are written.
var KindNames = [Kinds]string{"part", "support", "prime", "purge", "scrap"}

// supposed are prices and shares to reckon with instead of the book's own; what is not in it is as in the book.
type supposed struct {
	prices map[*inventory.Spool]*big.Rat // of a gram; nil for none
	shares map[Terms][Kinds]*big.Rat
}

// lines returns the lines of a job, by spool, kind and share.
func (b *Billing) lines(client string, job *billed, in supposed) []Line {
	var lines []Line
	for i := range job.grams.list {
		by, grams := job.grams.list[i].by, &job.grams.list[i].grams
		shares := b.sharing(client, by.terms)
		if other, ok := in.shares[by.terms]; ok {
			shares = other
		}
		for kind, g := range grams {
			if g != 0 {
				lines = append(lines, Line{Spool: by.spool, Kind: kind, Share: shares[kind], Grams: g})
			}
		}
	}
	slices.SortFunc(lines, func(x, y Line) int { return x.compare(&y) })
	all := lines
	lines = lines[:0]
	for i := range all {
		if n := len(lines); n > 0 && lines[n-1].compare(&all[i]) == 0 { // by other terms that say the same share
			lines[n-1].Grams += all[i].Grams
		} else {
			lines = append(lines, all[i])
		}
	}
	for i := range lines {
		l := &lines[i]
		price, given := in.prices[l.Spool]
		if !given {
			price, _ = l.Spool.Price()
		}
		l.reckon(price)
	}
	return lines
}

// compare orders lines by spool, kind and share.
func (l *Line) compare(o *Line) int {
	switch {
	case l.Spool != o.Spool:
		return cmp.Compare(l.Spool.ID, o.Spool.ID)
	case l.Kind != o.Kind:
		return cmp.Compare(l.Kind, o.Kind)
	case l.Share == o.Share:
		return 0
	}
	return l.Share.Cmp(o.Share)
}

// reckon sets the line's money by the price of a gram, nil for none.
func (l *Line) reckon(price *big.Rat) {
	l.Cost, l.Billed = decimal.Zero, decimal.Zero
	if price == nil {
		return
	}
	decimals, _ := ledger.MinorUnit(l.Spool.Currency())
	num, denom := big.NewInt(int64(l.Grams)), big.NewInt(1000)
	num.Mul(num, price.Num())
	denom.Mul(denom, price.Denom())
	l.Cost = roundHalfUp(num, denom, decimals)
	l.Billed = roundHalfUp(num.Mul(num, l.Share.Num()), denom.Mul(denom, l.Share.Denom()), decimals)
}

// text is the line as it goes into the digest of a bill: job, spool, kind, grams with 3 decimals, price of a gram with 12, share in its
// shortest form, cost and billed with the currency's own, joined by U+001F. Without a price those three are empty.
func (l *Line) text(job string, price *big.Rat) string {
	fields := []string{job, l.Spool.ID, KindNames[l.Kind], l.Grams.Decimal().StringFixed(3), "", shortest(l.Share), "", ""}
	if price != nil {
		decimals, _ := ledger.MinorUnit(l.Spool.Currency())
		fields[4] = RoundHalfUp(price, 12).StringFixed(12)
		fields[6], fields[7] = l.Cost.StringFixed(decimals), l.Billed.StringFixed(decimals)
	}
	return strings.Join(fields, "\x1f") + "\n"
}

// shortest writes a share of a table, which has an end, without zeros that say nothing.
func shortest(share *big.Rat) string {
	digits, _ := share.FloatPrec()
	return share.FloatString(digits)
}

// Sent is what bills.csv says of the lines of one currency.
type Sent struct {
	Billed decimal.Decimal
	Lines  int
	SHA256 string // of the lines' texts by job, spool, kind and share
}

// sent returns what a bill over all that was gathered in a currency comes to.
func (b *Billing) sent(client, currency string, in supposed) Sent {
	s := Sent{Billed: decimal.Zero}
	var keys []billKey
	for key := range b.jobs {
		if key.client == client && key.currency == currency {
			keys = append(keys, key)
		}
	}
	folded := map[billKey]string{}
	for _, key := range keys {
		folded[key] = ledger.CaseFold(key.job)
	}
	slices.SortFunc(keys, func(x, y billKey) int { return cmp.Compare(folded[x], folded[y]) })
	sum := sha256.New()
	for _, key := range keys {
		for _, l := range b.lines(client, b.jobs[key], in) {
			price, given := in.prices[l.Spool]
			if !given {
				price, _ = l.Spool.Price()
			}
			s.Billed = s.Billed.Add(l.Billed)
			s.Lines++
			sum.Write([]byte(l.text(folded[key], price)))
		}
	}
	s.SHA256 = fmt.Sprintf("%x", sum.Sum(nil))
	return s
}
