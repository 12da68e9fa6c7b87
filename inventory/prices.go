package inventory

import (
	"cmp"
	"math/big"

	"tarebook/ledger"
)

// LoadPrices loads a shelf with purchases and prices only, which is all that costs need.
func LoadPrices(v *ledger.View) (*Shelf, error) {
	s := &Shelf{ByID: map[string]*Spool{}}
	var errs [3]error
	var purchases []*ledger.Purchase
	s.Settings, errs[0] = v.Settings()
	s.Materials, errs[1] = v.Materials()
	purchases, errs[2] = v.Purchases()
	if err := ledger.JoinFaults(errs[:]...); err != nil {
		return nil, err
	}
	for _, p := range purchases {
		material := ledger.Named(s.Materials, p.Material)
		spool := &Spool{ID: p.Spool, Purchase: p, Material: material.Material, shelf: s}
		spool.Filament.Density, spool.Filament.DensityU = material.Density()
		s.Spools = append(s.Spools, spool)
		s.ByID[p.Spool] = spool
	}
	s.settlePrices()
	return s, nil
}

// settlePrices gives each spool its price of a gram; a gram wound off another spool costs what it did there, unless the spool has
// a price of its own.
func (s *Shelf) settlePrices() {
	visiting := map[*Spool]bool{}
	var settle func(spool *Spool)
	settle = func(spool *Spool) {
		if spool.currency != "" || visiting[spool] {
			return
		}
		visiting[spool] = true
		p := spool.Purchase
		currency := cmp.Or(p.Currency, s.Settings.Currency)
		if p.Price.Given {
			spool.priced = p
		} else if from := s.ByID[p.From]; from != nil {
			settle(from)
			if from.priced != nil {
				spool.priced, currency = from.priced, from.currency
			}
		}
		spool.currency = currency
	}
	for _, spool := range s.Spools {
		settle(spool)
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
