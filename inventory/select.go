package inventory

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"tarebook/inventory/filament"
	"tarebook/ledger"
)

// Selection says which spools of a shelf are wanted; a blank field selects nothing away.
type Selection struct {
	IDs                     []string // ids, or beginnings of ids: each may fit several spools
	Material, Colour, Place string   // a machine's name alone is any slot of it
	Printer                 string   // loaded on it; none may be
	Low                     string   // a mass or a length: unended spools that likely hold no more
}

// Select returns the wanted spools in the order of the shelf. For a name that no spool has, the error offers the nearest; a printer, or
// a feed of one, may be empty.
func (s *Shelf) Select(want Selection) ([]*Spool, error) {
	spools := slices.Clone(s.Spools)
	var errs []error
	keep := func(what, name string, of func(*Spool) string, fits func(*Spool) bool) {
		if name = ledger.Trim(name); name == "" {
			return
		}
		if !slices.ContainsFunc(s.Spools, fits) && !(what == "place" && s.emptyPlace(name)) {
			known := map[string]bool{}
			for _, spool := range s.Spools {
				known[of(spool)] = true
			}
			delete(known, "")
			names := slices.Sorted(maps.Keys(known))
			hint := "there are: " + strings.Join(names, ", ")
			if near := ledger.Nearest(name, names); near != "" {
				hint = "did you mean " + near + "?"
			}
			errs = append(errs, fmt.Errorf("no spool of %s %q; %s", what, name, hint))
		}
		spools = slices.DeleteFunc(spools, func(spool *Spool) bool { return !fits(spool) })
	}
	same := func(name string, of func(*Spool) string) func(*Spool) bool {
		return func(spool *Spool) bool { return ledger.Fold(of(spool)) == ledger.Fold(ledger.Trim(name)) }
	}
	material := func(spool *Spool) string { return spool.Material }
	colour := func(spool *Spool) string { return spool.Colour }
	keep("material", want.Material, material, same(want.Material, material))
	keep("colour", want.Colour, colour, same(want.Colour, colour))
	place := ledger.Fold(ledger.Trim(want.Place))
	keep("place", want.Place, func(spool *Spool) string { return spool.Place }, func(spool *Spool) bool {
		at := ledger.Fold(spool.Place)
		return at == place || s.Printers[place] != nil && strings.HasPrefix(at, place+"/")
	})
	if want.Printer != "" {
		spools = slices.DeleteFunc(spools, func(spool *Spool) bool {
			return spool.Ended || !strings.HasPrefix(ledger.Fold(spool.Place), ledger.Fold(want.Printer)+"/")
		})
	}
	if len(want.IDs) > 0 {
		wanted := map[*Spool]bool{}
		for _, id := range want.IDs {
			key, found := ledger.Fold(ledger.Trim(id)), false
			for _, spool := range s.Spools {
				if key != "" && (spool.ID == key || s.ByID[key] == nil && strings.HasPrefix(spool.ID, key)) {
					wanted[spool], found = true, true
				}
			}
			if !found {
				_, err := s.Find(id)
				errs = append(errs, err)
			}
		}
		spools = slices.DeleteFunc(spools, func(spool *Spool) bool { return !wanted[spool] })
	}
	if want.Low != "" {
		if _, err := ParseMass(want.Low, &filament.Stock{DiameterMM: 1, Density: 1}); err != nil {
			errs = append(errs, err)
		}
		spools = slices.DeleteFunc(spools, func(spool *Spool) bool {
			low, err := ParseMass(want.Low, &spool.Filament)
			return err != nil || spool.Ended || spool.Likely() > low.Float()
		})
	}
	return spools, errors.Join(errs...)
}

// emptyPlace reports whether a place is a printer, or a feed of one, at which no spool stands.
func (s *Shelf) emptyPlace(place string) bool {
	printer := place
	if slash := strings.LastIndexByte(place, '/'); slash >= 0 {
		printer = place[:slash]
	}
	return ledger.Named(s.Printers, place) != nil || slices.ContainsFunc(s.EmptyFeeds(printer), func(feed string) bool {
		return ledger.Fold(feed) == ledger.Fold(place)
	})
}

// EmptyFeeds returns the places PRINTER/FEED of a printer, counted from 0, at which no spool stands.
func (s *Shelf) EmptyFeeds(printer string) (places []string) {
	p := ledger.Named(s.Printers, printer)
	if p == nil {
		return nil
	}
	feed := 0
	for _, n := range p.FeedsOf() {
		for range n {
			if place := fmt.Sprintf("%s/%d", p.Printer, feed); s.At(place) == nil {
				places = append(places, place)
			}
			feed++
		}
	}
	return places
}
