package recording

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Purchases returns the spools of the sheet that are new to the book. One with a gross was opened before: its net is what is on
// it, and its price the share of that.
func (in *Import) Purchases(v *ledger.View) (*Imported[ledger.Purchase], error) {
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return nil, err
	}
	sealed, err := seal(v, ledger.Purchases)
	if err != nil {
		return nil, err
	}
	all := lines(in, v, func(l *line[ledger.Purchase]) { readPurchase(l, shelf) })
	stands := map[string]int{} // an id's line in the sheet
	for _, l := range all {
		id := l.row.Spool
		if line, twice := stands[id]; twice && id != "" {
			l.refuse(fmt.Sprintf("spool %s stands on line %d too", id, line), "ids are unique for ever; leave one of them out")
		} else {
			stands[id] = l.cells.Line
		}
	}
	opened := 0
	values := purchaseValues(shelf.Settings.Currency)
	for _, l := range all {
		if from := l.row.From; from != "" && shelf.Spool(from) == nil && stands[from] == 0 {
			l.refuseCell("from", noSpool(shelf, from))
		}
		if bought := shelf.Spool(l.row.Spool); l.faults == nil && bought != nil {
			column, has, gave := boughtAs(l, bought.Purchase, values)
			if l.there = column == ""; !l.there {
				l.refuse(fmt.Sprintf("spool %s is in the book with the %s %s, not %s", l.row.Spool, column, strconv.Quote(has), strconv.Quote(gave)), "ids are unique for ever; leave the row out, or give the spool another id")
			}
		} else if l.faults == nil && v.Taken(l.row.Spool) {
			l.refuse(fmt.Sprintf("spool %s is taken", l.row.Spool), "ids are unique for ever")
		} else if what, mend := misread(l.row.Spool); l.faults == nil && what != "" {
			l.refuse(what, mend)
		}
		check(l, sealed)
		if l.opened != "" && !l.there {
			opened++
		}
	}
	if err := in.woundOff(v, all); err != nil {
		return nil, err
	}
	t, err := taken(all)
	if err == nil && opened > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("opened before: %d, each with what is on it now and that share of its price", opened))
	}
	return t, err
}

// boughtAs returns the first column in which a spool of the book is another than the sheet's, "" when it is the same.
func boughtAs(l *line[ledger.Purchase], book *ledger.Purchase, values []value[ledger.Purchase]) (column, has, gave string) {
	if l.opened != "" && strings.Contains(book.Note, l.opened+",") { // reckoned by the tare that was known then
		text, _ := l.cell("note")
		reckoned := func(v value[ledger.Purchase]) bool {
			return v.column == "net_g" || v.column == "price" || v.column == "note" && (text == "" || endsNote(book.Note, text))
		}
		values = slices.DeleteFunc(slices.Clone(values), reckoned)
	} else if l.row.NetG != book.NetG {
		return "net_g", book.NetG.String(), l.row.NetG.String()
	}
	return differs(l, book, values)
}

// readPurchase reads a spool.
func readPurchase(l *line[ledger.Purchase], shelf *inventory.Shelf) {
	p := &l.row
	*p = ledger.Purchase{Spool: strings.ToUpper(l.text("spool")), Colour: l.text("colour"), Swatch: l.text("swatch"), Maker: l.text("maker"), Lot: l.text("lot"),
		Currency: strings.ToUpper(l.text("currency")), Supplier: l.text("supplier"), Place: l.text("place"), From: strings.ToUpper(l.text("from")), Note: l.note()}
	p.At = l.when()
	p.Material = l.name("material")
	p.Core = l.name("core")
	unit := ""
	if p.DiameterMM, unit = l.number("diameter_mm"); !p.DiameterMM.Given {
		p.DiameterMM, _ = ledger.ParseNumber(usualDiameter)
	} else if unit != "" && strings.ToLower(unit) != "mm" {
		l.refuseCell("diameter_mm", fmt.Errorf("it is in %s; write millimetres, as 1.75", strconv.Quote(unit)))
	}
	if p.Price, unit = l.number("price"); p.Price.Given {
		l.priced(&p.Currency, unit)
	}
	var of *inventory.Spool // whose filament turns a length into grams
	if p.Material != "" {
		of = &inventory.Spool{Filament: shelf.Stock(p.Material, p.DiameterMM.Float(0))}
	}
	net, label, gross := l.mass("net_g", of), l.mass("label_g", of), l.mass("gross_g", nil)
	p.TareG = l.mass("tare_g", nil)
	if gross.Given {
		p.GrossG, p.Scale = gross, l.name("scale")
		openedSpool(l, shelf, label.Grams, net.Given)
		return
	}
	if p.NetG = net.Grams; !net.Given {
		p.NetG = label.Grams
	}
}

// usualDiameter is that of a spool whose sheet has none, as for buy.
const usualDiameter = "1.75"

// openedSpool turns the purchase into that of an opened spool.
func openedSpool(l *line[ledger.Purchase], shelf *inventory.Shelf, label ledger.Grams, net bool) {
	p := &l.row
	tare := tareOf(shelf, p)
	switch {
	case l.faults != nil:
	case net:
		l.refuse("it has both a gross_g and a net_g", "an opened spool has gross_g and label_g, a full one net_g; leave one out")
	case !tare.Given && p.Core != "":
		l.refuse(fmt.Sprintf("the tare of core %s is not known, so what is on it isn't either", p.Core), "weigh an empty one and write it into cores.csv, or map tare_g")
	case !tare.Given:
		l.refuse("it has no core whose tare is known, so what is on it isn't known either", "map core or tare_g, or leave gross_g blank for a full spool")
	default:
		var err error
		if l.opened, err = open(p, tare.Grams, label, shelf.Settings.Currency, l.in.Sure); err != nil {
			l.refuse(err.Error(), "")
		}
	}
}

// priced holds what stands beside a price, or in its header as (EUR), against the row's currency, or takes it for that.
func (l *line[T]) priced(currency *string, unit string) {
	signs := map[string]string{"€": "EUR", "£": "GBP"}
	code := cmp.Or(signs[unit], strings.ToUpper(unit))
	if head := l.in.unit["price"]; unit == "" {
		unit, code = head, cmp.Or(signs[head], head)
		if _, known := ledger.MinorUnit(code); !known { // as (gross) is none
			return
		}
	}
	switch _, known := ledger.MinorUnit(code); {
	case known && *currency == "":
		*currency = code
	case known && *currency != code:
		l.refuseCell("price", fmt.Errorf("it is in %s and the row's currency is %s; leave one out", code, *currency))
	case !known && *currency == "":
		l.refuseCell("price", fmt.Errorf("%s may be more than one currency; write its three letters, or --set currency=CODE", strconv.Quote(unit)))
	}
}

func purchaseValues(currency string) []value[ledger.Purchase] {
	type p = ledger.Purchase
	return []value[p]{
		{"material", func(r *p) string { return r.Material }}, {"colour", func(r *p) string { return r.Colour }}, {"swatch", func(r *p) string { return r.Swatch }},
		{"maker", func(r *p) string { return r.Maker }}, {"lot", func(r *p) string { return r.Lot }}, {"diameter_mm", func(r *p) string { return digits(r.DiameterMM) }},
		{"core", func(r *p) string { return r.Core }}, {"tare_g", func(r *p) string { return massText(r.TareG) }}, {"net_g", func(r *p) string { return r.NetG.String() }},
		{"price", func(r *p) string { return digits(r.Price) }}, {"currency", func(r *p) string { return cmp.Or(r.Currency, currency) }}, {"supplier", func(r *p) string { return r.Supplier }}, {"place", func(r *p) string { return r.Place }}, {"from", func(r *p) string { return r.From }},
		{"note", func(r *p) string { return r.Note }},
	}
}

func digits(n ledger.Number) string {
	if !n.Given {
		return ""
	}
	return n.Decimal.String()
}

// spool finds a spool by its whole id: a beginning, which is enough at the bench, might be another spool in a sheet.
func (l *line[T]) spool(shelf *inventory.Shelf) *inventory.Spool {
	if text, _ := l.cell("spool"); text == "" {
		l.refuseCell("spool", errors.New("is blank; write the spool's id"))
		return nil
	}
	id := l.text("spool")
	if id == "" { // refused
		return nil
	}
	spool := shelf.Spool(id)
	if spool == nil {
		l.refuseCell("spool", noSpool(shelf, id))
	}
	return spool
}

func noSpool(shelf *inventory.Shelf, id string) error {
	if strings.Contains(id, "+") {
		return fmt.Errorf("%s names several spools; give each a row of its own, with what was taken of it", strconv.Quote(id))
	}
	if near := shelf.Near(id); near != "" {
		return fmt.Errorf("no spool %s; did you mean %s?", strconv.Quote(id), near)
	}
	return fmt.Errorf("no spool %s; book its purchase first", strconv.Quote(id))
}
