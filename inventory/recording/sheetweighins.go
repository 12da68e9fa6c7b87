package recording

import (
	"fmt"

	"tarebook/inventory"
	"tarebook/ledger"
)

// Weighins returns the weigh-ins of the sheet that are new to the book, each judged as if all were recorded.
func (in *Import) Weighins(v *ledger.View) (*Imported[ledger.Weighin], error) {
	shelf, err := inventory.LoadSpools(v)
	if err != nil {
		return nil, err
	}
	sealed, err := seal(v, ledger.Weighins)
	if err != nil {
		return nil, err
	}
	all := lines(in, v, func(l *line[ledger.Weighin]) {
		w := &l.row
		*w = ledger.Weighin{State: l.word("state"), Note: l.note()}
		w.At = l.when()
		if spool := l.spool(shelf); spool != nil {
			w.Spool = spool.ID
		}
		w.GrossG = l.mass("gross_g", nil)
		w.Scale = l.name("scale")
		if w.State == "" {
			w.State = ledger.Loaded
		}
	})
	key := func(w *ledger.Weighin) string { return w.Spool }
	if _, mapped := in.column["gross_g"]; mapped { // it is then always compared, and tells apart the many readings of one spool
		key = func(w *ledger.Weighin) string { return w.Spool + ":" + massText(w.GrossG) }
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
	passOver(all, book, key, []value[w]{{"gross_g", func(r *w) string { return massText(r.GrossG) }},
		{"scale", func(r *w) string { return r.Scale }}, {"state", func(r *w) string { return r.State }}, {"note", func(r *w) string { return r.Note }}})
	var fresh []*ledger.Weighin
	for _, l := range all {
		if check(l, sealed); l.faults == nil && !l.there {
			fresh = append(fresh, &l.row)
		}
	}
	outside := 0
	if len(fresh) > 0 {
		if err := shelf.Suppose(v, fresh...); err != nil {
			return nil, err
		}
		if err := shelf.ReadConsumption(v); err != nil {
			return nil, err
		}
		for _, l := range all {
			if l.faults != nil || l.there {
				continue
			}
			spool := shelf.Spool(l.row.Spool)
			if err := misfit(shelf, spool, &l.row); err != nil && !in.Sure {
				l.refuse(err.Error(), "")
			}
			if readingOf(spool, &l.row).Outside {
				outside++
			}
		}
	}
	t, err := taken(all)
	if err == nil && outside > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("outside their uncertainty: %d; look at them with: tarebook reconcile", outside))
	}
	return t, err
}
