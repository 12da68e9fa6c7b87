package ledger

import (
	"fmt"
	"slices"
	"strings"
)

// Clone returns a consumption row that outlives the pass it came from.
func (c *Consumption) Clone() *Consumption {
	row := *c
	for _, text := range texts(&row) {
		*text = strings.Clone(*text)
	}
	row.ID, row.raw = strings.Clone(row.ID), strings.Clone(row.raw)
	return &row
}

// Located is a row and the file it stands in.
type Located struct {
	File string
	Row  Row
}

// Select returns the rows that count and are wanted, of every ledger but seals.
func (v *View) Select(want func(*Head) bool) ([]Located, error) {
	purchases, e1 := v.Purchases()
	weighins, e2 := v.Weighins()
	needs, e3 := v.Needs()
	moves, e4 := v.Moves()
	voids, e5 := v.Voids()
	bills, e6 := v.Bills()
	if err := JoinFaults(e1, e2, e3, e4, e5, e6); err != nil {
		return nil, err
	}
	var found []Located
	found = located(found, Purchases, purchases, want)
	found = located(found, Weighins, weighins, want)
	found = located(found, Queue, needs, want)
	found = located(found, Moves, moves, want)
	found = located(found, Voids, voids, want)
	found = located(found, Bills, bills, want)
	s := &selection{want: want}
	err := v.FoldConsumption(s)
	return append(found, s.found...), err
}

func located[T any, R interface {
	*T
	Row
}](found []Located, file string, rows []*T, want func(*Head) bool) []Located {
	for _, row := range rows {
		if want(R(row).head()) {
			found = append(found, Located{file, R(row)})
		}
	}
	return found
}

type selection struct {
	want  func(*Head) bool
	found []Located
}

func (s *selection) Add(row *Consumption) {
	if s.want(&row.Head) {
		s.found = append(s.found, Located{ConsumptionFile, row.Clone()})
	}
}

func (s *selection) Reset() { s.found = nil }

// HeadOf returns what a row begins with.
func HeadOf(r Row) *Head { return r.head() }

// Hidden tells whether a void hides the entry.
func (v *View) Hidden(id string) bool { return v.hidden[strings.ToUpper(id)] }

// Suppose lets the view hold weigh-ins that are not recorded yet, so that they can be judged first. Until they have entries of their
// own they come, in this order, after every entry of their instant.
func (v *View) Suppose(rows ...*Weighin) error {
	if _, err := v.Weighins(); err != nil {
		return err
	}
	for i, row := range rows {
		row.suppose(i)
	}
	v.weighins.live = append(v.weighins.live, rows...)
	slices.SortStableFunc(v.weighins.live, func(a, b *Weighin) int { return a.compare(&b.Head) })
	return nil
}

// SupposeNeeds lets the view hold rows of the queue that are not recorded, after all others, so that they can be checked.
func (v *View) SupposeNeeds(rows []Need) error {
	if _, err := v.Needs(); err != nil {
		return err
	}
	for i := range rows {
		rows[i].suppose(i)
		v.needs.live = append(v.needs.live, &rows[i])
	}
	return nil
}

// suppose gives the nth of some rows an entry that sorts behind every real one.
func (h *Head) suppose(n int) {
	h.ID = fmt.Sprintf("~%09d", n)
	h.Entry = h.ID
}

// Lookup returns every sound row that is wanted, voided and conflicting ones too, of every ledger but seals.
func (v *View) Lookup(want func(*Head) bool) ([]Located, error) {
	var found []Located
	err := v.eachRow(func(file string, row Row) {
		if !want(row.head()) {
			return
		}
		if c, ok := row.(*Consumption); ok {
			row = c.Clone()
		}
		found = append(found, Located{file, row})
	})
	return found, err
}

// eachRow calls each for every sound row, voided and conflicting ones too, of every ledger but seals. Consumption rows are
// reused: clone them to keep them.
func (v *View) eachRow(each func(file string, row Row)) error {
	if _, err := v.Select(func(*Head) bool { return false }); err != nil {
		return err
	}
	giveRows(Purchases, v.purchases.all, each)
	giveRows(Weighins, v.weighins.all, each)
	giveRows(Queue, v.needs.all, each)
	giveRows(Moves, v.moves.all, each)
	giveRows(Voids, v.voids.all, each)
	giveRows(Bills, v.bills.all, each)
	return v.watchConsumption(func(row *Consumption) { each(ConsumptionFile, row) })
}

func giveRows[T any, R interface {
	*T
	Row
}](file string, rows []*T, each func(file string, row Row)) {
	for _, row := range rows {
		each(file, R(row))
	}
}

// BoughtTwice tells whether another purchase that is not voided names the same spool.
func (v *View) BoughtTwice(p *Purchase) bool {
	return slices.ContainsFunc(v.purchases.all, func(o *Purchase) bool {
		return o.Spool == p.Spool && o.ID != p.ID && !v.hidden[o.ID]
	})
}

// Taken tells whether a purchase that is not voided names the spool: one that is may be booked again, mended.
func (v *View) Taken(spool string) bool {
	return slices.ContainsFunc(v.purchases.all, func(p *Purchase) bool { return p.Spool == spool && !v.hidden[p.ID] })
}

// A Use is a live row that names a spool.
type Use struct {
	Located
	Spool string
}

// Naming returns the live rows, but those whose IDs are going, that name one of the spools.
func (v *View) Naming(spools, going map[string]bool) ([]Use, error) {
	rows, err := v.Select(func(h *Head) bool { return !going[h.ID] })
	var uses []Use
	for _, l := range rows {
		spool := ""
		switch r := l.Row.(type) {
		case *Purchase:
			spool = r.From
		case *Weighin:
			spool = r.Spool
		case *Need:
			spool = r.Spool
		case *Move:
			spool = r.Spool
		case *Consumption:
			spool = r.Spool
		}
		if spools[spool] {
			uses = append(uses, Use{l, spool})
		}
	}
	return uses, err
}
