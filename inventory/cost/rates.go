package cost

import (
	"cmp"
	"math/big"
	"slices"

	"tarebook/ledger"
)

// Rates are the shares, 0 to 1, of normal waste and of failed prints that each client pays, by the day from which they hold.
type Rates struct{ byClient map[string][]rate } // by folded name, the earliest first

type rate struct {
	from         string // 2026-10-31; blank: always
	waste, scrap *big.Rat
}

// What a client pays whose row leaves it blank, or who is in no table: all waste, no scrap.
const (
	wasteUnsaid = 1
	scrapUnsaid = 0
)

// LoadRates reads the rates of all clients of a view. The time of the view does not matter: tables have no times.
func LoadRates(v *ledger.View) (*Rates, error) {
	rows, err := v.ClientRows()
	if err != nil {
		return nil, err
	}
	r := &Rates{byClient: map[string][]rate{}}
	for _, row := range rows {
		key := ledger.Fold(row.Client)
		r.byClient[key] = append(r.byClient[key], rate{row.From, share(row.WasteBilled, wasteUnsaid), share(row.ScrapBilled, scrapUnsaid)})
	}
	for _, rates := range r.byClient {
		slices.SortFunc(rates, func(a, b rate) int { return cmp.Compare(a.from, b.from) })
	}
	return r, nil
}

func share(n ledger.Number, unsaid int64) *big.Rat {
	if !n.Given {
		return big.NewRat(unsaid, 1)
	}
	return n.Rat()
}

// On returns the shares of normal waste and of failed prints that a client pays on a date, as 2026-10-31: those of its latest
// row from that day or before. A client without one pays all waste and no scrap. The caller may change them.
func (r *Rates) On(client, date string) (waste, scrap *big.Rat) {
	if rate, ok := r.find(ledger.Fold(client), date); ok {
		return new(big.Rat).Set(rate.waste), new(big.Rat).Set(rate.scrap)
	}
	return big.NewRat(wasteUnsaid, 1), big.NewRat(scrapUnsaid, 1)
}

// find returns the row of a client, its name folded, that holds on a date; ok is false where none has begun.
func (r *Rates) find(client, date string) (found rate, ok bool) {
	for _, rate := range slices.Backward(r.byClient[client]) {
		if rate.from <= date {
			return rate, true
		}
	}
	return found, false
}
