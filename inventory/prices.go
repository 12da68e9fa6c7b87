package inventory

import (
	"cmp"
	"math/big"
	"slices"

	"tarebook/ledger"
)

// LoadPrices loads a shelf with purchases and prices only, which is all that costs need.
func LoadPrices(v *ledger.View) (*Shelf, error) {
	s := &Shelf{ByID: map[string]*Spool{}, names: &Spellings{}}
	var errs [3]error
	var purchases []*ledger.Purchase
	s.Settings, errs[0] = v.Settings()
	s.Materials, errs[1] = v.Materials()
	purchases, errs[2] = v.Purchases()
	if err := ledger.JoinFaults(errs[:]...); err != nil {
		return nil, err
	}
	for _, p := range purchases {
		s.names.Purchase(ColourName, p.Colour, p)
	}
	for _, p := range purchases {
		material := ledger.Named(s.Materials, p.Material)
		spool := &Spool{ID: p.Spool, Purchase: p, Material: material.Material, Colour: s.names.Spell(ColourName, p.Colour), shelf: s}
		spool.Filament.Density, spool.Filament.DensityU = material.Density()
		s.Spools = append(s.Spools, spool)
		s.ByID[p.Spool] = spool
	}
	s.settleOrigins()
	return s, nil
}

// Origin is who made a spool and who sold it. What is blank of a spool that was wound off another is that one's.
type Origin struct{ Maker, Lot, Supplier, Swatch string }

// settleOrigins gives each spool its origin and its price of a gram. Both go through chains of spools wound off each other: a gram
// wound off another spool costs what it did there, unless the spool has a price of its own.
func (s *Shelf) settleOrigins() {
	for _, spool := range s.Spools {
		p := spool.Purchase
		spool.Origin, spool.currency = Origin{p.Maker, p.Lot, p.Supplier, p.Swatch}, cmp.Or(p.Currency, s.Settings.Currency)
		if p.Price.Given {
			spool.priced = p
		}
	}
	followed := map[*Spool]bool{}
	for _, spool := range s.Spools {
		var chain []*Spool
		for next := spool; next != nil && next.Purchase.From != "" && !followed[next]; next = s.ByID[next.Purchase.From] {
			followed[next] = true
			chain = append(chain, next)
		}
		for _, wound := range slices.Backward(chain) {
			wound.inherit(s.ByID[wound.Purchase.From])
		}
		if n := len(chain); n > 0 { // of spools wound off each other in a ring the first in turn knows all only now
			chain[n-1].inherit(s.ByID[chain[n-1].Purchase.From])
		}
	}
}

// inherit takes what is blank from the spool that this one was wound off, nil for none that counts.
func (s *Spool) inherit(from *Spool) {
	if from == nil {
		return
	}
	s.Maker, s.Lot = cmp.Or(s.Maker, from.Maker), cmp.Or(s.Lot, from.Lot)
	s.Supplier, s.Swatch = cmp.Or(s.Supplier, from.Supplier), cmp.Or(s.Swatch, from.Swatch)
	if s.priced == nil && from.priced != nil {
		s.priced, s.currency = from.priced, from.currency
	}
}

// Priced reports whether it is known what the spool cost.
func (s *Spool) Priced() bool { return s.priced != nil }

// PricedBy returns the purchase that says what the spool cost: its own, or that of the spool it was wound off; nil when it is not
// known.
func (s *Spool) PricedBy() *ledger.Purchase { return s.priced }

// Currency returns the currency of its price, also where that is not known.
func (s *Spool) Currency() string { return s.currency }

// Price returns what one gram of the spool cost, nil when it has no price, and the currency. The caller must not change it.
func (s *Spool) Price() (perGram *big.Rat, currency string) {
	if s.perGram == nil && s.priced != nil { // most commands need no price
		s.perGram = new(big.Rat).Quo(s.priced.Price.Rat(), big.NewRat(int64(s.priced.NetG), 1000))
	}
	return s.perGram, s.currency
}

// PriceText is a price for people, as it was typed but with at least the decimals of its currency's minor unit: 21.00 EUR.
func PriceText(price ledger.Number, currency string) string {
	decimals, _ := ledger.MinorUnit(currency)
	return price.StringFixed(max(decimals, -price.Exponent())) + " " + currency
}
