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
func (in *Intake) Purchases(v *ledger.View) (*Taken[ledger.Purchase], error) {
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return nil, err
	}
	sealed, err := seal(v, ledger.Purchases)
	if err != nil {
		return nil, err
	}
	all := lines(in, func(l *line[ledger.Purchase]) { readPurchase(l, shelf) })
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
		}
		check(l, sealed)
		if l.opened != nil && !l.there {
			opened++
		}
	}
	t, err := taken(all)
	if err == nil && opened > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("opened before: %d, each with what is on it now and that share of its price", opened))
	}
	return t, err
}

// boughtAs returns the first column in which a spool of the book is another than the sheet's, "" when it is the same.
func boughtAs(l *line[ledger.Purchase], book *ledger.Purchase, values []value[ledger.Purchase]) (column, has, gave string) {
	if l.opened != nil && strings.Contains(book.Note, l.opened.facts+",") { // reckoned by the tare that was known then
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
	p.Material = l.name("material", l.in.Names.Material)
	p.Core = l.name("core", l.in.Names.Core)
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
		open(l, shelf, gross.Grams, label.Grams, net.Given)
		return
	}
	if p.NetG = net.Grams; !net.Given {
		p.NetG = label.Grams
	}
}

// usualDiameter is that of a spool whose sheet has none, as for buy.
const usualDiameter = "1.75"

// open turns the purchase into that of an opened spool.
func open(l *line[ledger.Purchase], shelf *inventory.Shelf, gross, label ledger.Grams, net bool) {
	p := &l.row
	tare := p.TareG
	if core := ledger.Named(shelf.Cores, p.Core); !tare.Given && core != nil {
		tare = core.TareG
	}
	switch {
	case l.faults != nil:
		return
	case net:
		l.refuse("it has both a gross_g and a net_g", "an opened spool has gross_g and label_g, a full one net_g; leave one out")
		return
	case !tare.Given && p.Core != "":
		l.refuse(fmt.Sprintf("the tare of core %s is not known, so what is on it isn't either", p.Core), "weigh an empty one and write it into cores.csv, or map tare_g")
		return
	case !tare.Given:
		l.refuse("it has no core whose tare is known, so what is on it isn't known either", "map core or tare_g, or leave gross_g blank for a full spool")
		return
	}
	currency := cmp.Or(p.Currency, shelf.Settings.Currency)
	decimals, ok := ledger.MinorUnit(currency)
	if !ok && p.Price.Given {
		l.refuseCell("currency", fmt.Errorf("%s is not a currency of ISO 4217; write its three letters, as EUR", strconv.Quote(currency)))
		return
	}
	o, err := Opened(gross, tare.Grams, label, p.Price, decimals)
	if err != nil {
		l.refuse(err.Error(), "")
		return
	}
	p.NetG, p.Price = o.NetG, o.Price
	p.Note = strings.TrimSuffix(o.Note+"; "+p.Note, "; ")
	l.opened = &o
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
		{"core", func(r *p) string { return r.Core }}, {"tare_g", func(r *p) string { return known(r.TareG) }}, {"net_g", func(r *p) string { return r.NetG.String() }},
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

func known(m ledger.Mass) string {
	text, _ := m.MarshalCSV() // has no error
	return text
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
	var all []string
	for _, s := range shelf.Spools {
		all = append(all, s.ID)
	}
	if near := ledger.Nearest(ledger.Fold(id), all); near != "" {
		return fmt.Errorf("no spool %s; did you mean %s?", strconv.Quote(id), near)
	}
	return fmt.Errorf("no spool %s; book its purchase first", strconv.Quote(id))
}

// Weighins returns the weigh-ins of the sheet that are new to the book, each judged as if all were recorded.
func (in *Intake) Weighins(v *ledger.View) (*Taken[ledger.Weighin], error) {
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return nil, err
	}
	sealed, err := seal(v, ledger.Weighins)
	if err != nil {
		return nil, err
	}
	all := lines(in, func(l *line[ledger.Weighin]) {
		w := &l.row
		*w = ledger.Weighin{State: strings.ToLower(l.text("state")), Note: l.note()}
		w.At = l.when()
		if spool := l.spool(shelf); spool != nil {
			w.Spool = spool.ID
		}
		w.GrossG = l.mass("gross_g", nil)
		w.Scale = l.name("scale", in.Names.Scale)
		if w.State == "" {
			w.State = ledger.Loaded
		}
	})
	key := func(w *ledger.Weighin) string { return w.Spool }
	if _, mapped := in.column["gross_g"]; mapped { // it is then always compared, and tells apart the many readings of one spool
		key = func(w *ledger.Weighin) string { return w.Spool + ":" + known(w.GrossG) }
	}
	book := map[string][]*ledger.Weighin{}
	recorded, err := v.Weighins()
	if err != nil {
		return nil, err
	}
	for _, w := range recorded {
		book[key(w)] = append(book[key(w)], w)
	}
	type w = ledger.Weighin
	passOver(all, book, key, []value[w]{{"gross_g", func(r *w) string { return known(r.GrossG) }},
		{"scale", func(r *w) string { return r.Scale }}, {"state", func(r *w) string { return r.State }}, {"note", func(r *w) string { return r.Note }}})
	var fresh []*ledger.Weighin
	for _, l := range all {
		if check(l, sealed); l.faults == nil && !l.there {
			fresh = append(fresh, &l.row)
		}
	}
	outside := 0
	if len(fresh) > 0 {
		if err := v.Suppose(fresh...); err != nil {
			return nil, err
		}
		if shelf, err = inventory.Load(v); err != nil {
			return nil, err
		}
		for _, l := range all {
			if l.faults != nil || l.there {
				continue
			}
			spool := shelf.Spool(l.row.Spool)
			if misfit := spool.Misfit(&l.row); misfit != "" && !in.Sure {
				l.refuse(misfit, "look at the spool and its core, or write --sure")
			}
			for i := range spool.Readings {
				if r := &spool.Readings[i]; r.Weighin == &l.row && r.Outside {
					outside++
				}
			}
		}
	}
	t, err := taken(all)
	if err == nil && outside > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("outside their uncertainty: %d; look at them with: tarebook reconcile", outside))
	}
	return t, err
}

// jobRows keeps the consumption of the jobs and spools of a sheet.
type jobRows struct {
	wanted map[string]bool
	found  map[string][]*ledger.Consumption
}

func jobKey(c *ledger.Consumption) string { return c.Spool + ":" + ledger.Fold(c.Job) }

func (j *jobRows) Add(row *ledger.Consumption) {
	if key := jobKey(row); j.wanted[key] {
		row = row.Clone()
		key = jobKey(row)
		j.found[key] = append(j.found[key], row)
	}
}

func (j *jobRows) Reset() { clear(j.found) }

// Jobs returns what the jobs of the sheet took and the book does not know yet.
func (in *Intake) Jobs(v *ledger.View) (*Taken[ledger.Consumption], error) {
	_, dated := in.column["at"]
	now := !dated && !in.Timed
	load := inventory.LoadSpools
	if now { // a weigh-in of today may have found these very jobs missing
		load = func(v *ledger.View) (*inventory.Shelf, error) { return inventory.Load(v) }
	}
	shelf, err := load(v)
	if err != nil {
		return nil, err
	}
	sealed, err := seal(v, ledger.ConsumptionFile)
	if err != nil {
		return nil, err
	}
	rows := &jobRows{map[string]bool{}, map[string][]*ledger.Consumption{}}
	all := lines(in, func(l *line[ledger.Consumption]) {
		c := &l.row
		*c = ledger.Consumption{Job: l.text("job"), Outcome: strings.ToLower(l.text("outcome")), Basis: strings.ToLower(l.text("basis")), Note: l.note()}
		c.At = l.when()
		if text, _ := l.cell("job"); text == "" {
			l.refuseCell("job", errors.New("is blank; write the job's name"))
		}
		c.Client = l.name("client", in.Names.Client)
		c.Printer = l.name("printer", in.Names.Printer)
		spool := l.spool(shelf)
		if spool != nil {
			c.Spool = spool.ID
		}
		given := false
		for _, m := range []struct {
			column string
			to     *ledger.Grams
		}{{"part_g", &c.PartG}, {"support_g", &c.SupportG}, {"prime_g", &c.PrimeG}, {"purge_g", &c.PurgeG}} {
			mass := l.mass(m.column, spool)
			*m.to, given = mass.Grams, given || mass.Given
		}
		c.Changes = l.count("changes")
		if !given && l.faults == nil {
			l.refuse("it says no grams", "write what the job took, 0 where it took nothing")
		}
		if c.Outcome == "" {
			c.Outcome = ledger.Finished
		}
		if c.Basis == "" {
			c.Basis = ledger.Sliced
		}
		rows.wanted[jobKey(c)] = true
	})
	if err := v.FoldConsumption(rows); err != nil {
		return nil, err
	}
	for _, of := range rows.found { // the fold has no order
		slices.SortFunc(of, func(a, b *ledger.Consumption) int { return ledger.CompareRows(a, b) })
	}
	passOver(all, rows.found, jobKey, jobValues)
	ended := 0
	for _, l := range all {
		check(l, sealed)
		if l.faults != nil || l.there {
			continue
		}
		spool := shelf.Spool(l.row.Spool)
		if spool.Ended && !l.row.At.Before(spool.End.At) {
			ended++
		}
		if r := spool.WeighedBefore(in.Now); now && r != nil {
			l.refuse(fmt.Sprintf("%s was weighed on %s and %s g were missing, so this job may be what was missing", spool.ID, r.Weighin.At, -r.Variance), "map the column that says when it ended, or write --at TIME")
		}
	}
	t, err := taken(all)
	if err == nil && ended > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("of spools that had ended by then: %d, which count in cost alone", ended))
	}
	return t, err
}

var jobValues = []value[ledger.Consumption]{
	{"client", func(c *ledger.Consumption) string { return c.Client }}, {"printer", func(c *ledger.Consumption) string { return c.Printer }},
	{"part_g", func(c *ledger.Consumption) string { return c.PartG.String() }}, {"support_g", func(c *ledger.Consumption) string { return c.SupportG.String() }},
	{"prime_g", func(c *ledger.Consumption) string { return c.PrimeG.String() }}, {"purge_g", func(c *ledger.Consumption) string { return c.PurgeG.String() }},
	{"changes", func(c *ledger.Consumption) string { text, _ := c.Changes.MarshalCSV(); return text }},
	{"outcome", func(c *ledger.Consumption) string { return c.Outcome }}, {"basis", func(c *ledger.Consumption) string { return c.Basis }},
	{"note", func(c *ledger.Consumption) string { return c.Note }},
}
