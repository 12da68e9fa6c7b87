package oracle

import (
	"cmp"
	"math/big"
	"slices"
	"strings"
)

// minorDigits are those of ISO 4217 for the currencies that the generator uses.
func minorDigits(currency string) int {
	switch strings.ToUpper(currency) {
	case "JPY", "KRW":
		return 0
	case "KWD", "BHD", "TND":
		return 3
	}
	return 2
}

// halfUp rounds an amount of at least 0 to so many decimals.
func halfUp(x *big.Rat, decimals int) *big.Rat {
	scale := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(decimals)), nil))
	scaled := new(big.Rat).Mul(x, scale)
	scaled.Add(scaled, big.NewRat(1, 2))
	whole := new(big.Int).Div(scaled.Num(), scaled.Denom())
	return new(big.Rat).Quo(new(big.Rat).SetInt(whole), scale)
}

// arrival is where a spool is and since which row.
type arrival struct {
	place string
	rank  int // purchases before moves
	*row
}

func places(l *ledgers) map[string]arrival {
	at := map[string]arrival{}
	for key, buy := range l.purchase {
		at[key] = arrival{buy.get("place"), 0, buy}
	}
	for _, r := range l.live["moves.csv"] {
		at[fold(r.get("spool"))] = arrival{r.get("place"), 1, r}
	}
	return at
}

func ended(s *spool) bool { return s.ended }

// loadedAt finds the spool that came last to a place, of those not gone.
func loadedAt(l *ledgers, spools map[string]*spool, place string, gone func(*spool) bool) *spool {
	var there *spool
	var since arrival
	at := places(l)
	for key, a := range at {
		if gone(spools[key]) || fold(a.place) != fold(place) {
			continue
		}
		if there == nil || cmp.Or(since.at.Compare(a.at), cmp.Compare(since.rank, a.rank), compareRows(since.row, a.row)) < 0 {
			there, since = spools[key], a
		}
	}
	return there
}

// shownPlace is blank for an unended spool that another has pushed out of its
// PRINTER/SLOT.
//
// Reading taken: a place is a PRINTER/SLOT if printers.csv has the printer; its
// text is shown as it was typed.
func shownPlace(f folder, l *ledgers, spools map[string]*spool, key string) string {
	place := places(l)[key].place
	printer, _, ok := cutLast(place, "/")
	if !ok || spools[key].ended || f.find("printers.csv", "printer", printer) == nil {
		return place
	}
	if loadedAt(l, spools, place, ended) != spools[key] {
		return ""
	}
	return place
}

func cutLast(s, sep string) (before, after string, ok bool) {
	i := strings.LastIndex(s, sep)
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+len(sep):], true
}

// stock is one record a spool.
//
// Readings taken: an ended spool keeps its tare, price and facts, its amounts
// are 0 (the value only if it has a price); length_m is that of net_g, also
// where that is negative; the last weigh-in may be one after the end.
func stock(f folder, l *ledgers, spools map[string]*spool, names shown) records {
	list := records{}
	for key, s := range spools {
		net := grams(s.bookMG)
		o := object{
			"spool":         s.name,
			"material":      names.name("material", s.buy.get("material")),
			"colour":        names.name("colour", s.buy.get("colour")),
			"maker":         s.maker(),
			"place":         shownPlace(f, l, spools, key),
			"diameter_mm":   measure(s.diameter),
			"density_g_cm3": measure(s.density),
			"tare_g":        nil,
			"tare_from":     s.tareFrom,
			"net_g":         counted(s.bookMG),
			"u_g":           measure(s.netU()),
			"likely_g":      guessed(s.likely()),
			"length_m":      measure(s.length(net)),
			"u_m":           measure(s.lengthU(f, net, s.netU())),
			"last_weighed":  nil,
			"drawn_since_g": counted(s.sinceWeighedMG + s.sinceOtherMG),
			"price_per_g":   nil,
			"value":         nil,
			"currency":      s.currency,
			"ended":         s.ended,
			"flags":         s.flags(l.twice[key]),
		}
		if s.tareMG != nil {
			o["tare_g"] = counted(*s.tareMG)
		}
		if last := s.last(); last != nil {
			o["last_weighed"] = instant(last.at)
		}
		if s.ended {
			o["drawn_since_g"] = counted(0)
		}
		if per := s.perGram(); per != nil {
			o["price_per_g"] = exact{halfUp(per, 12)}
			value := new(big.Rat).Mul(per, big.NewRat(max(s.bookMG, 0), 1000))
			o["value"] = exact{halfUp(value, minorDigits(s.currency))}
		}
		list = append(list, o)
	}
	slices.SortFunc(list, func(a, b object) int { return cmp.Compare(a["spool"].(string), b["spool"].(string)) })
	return list
}

func (s *spool) flags(twice bool) standing {
	list := standing{}
	add := func(name string, holds bool) {
		if holds {
			list = append(list, name)
		}
	}
	add("no tare", s.tareMG == nil)
	last := s.last()
	add("never weighed", last == nil)
	add("overdrawn", s.bookMG < 0)
	add("after end", s.afterEnd)
	add("outside", last != nil && s.outside(*last))
	add("heavier than bought", last != nil && s.heavier(*last))
	add("unpriced", s.price == nil)
	add("conflict", twice)
	return list
}
