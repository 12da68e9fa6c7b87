package ledger

import (
	"slices"
	"strings"
)

// Rows of all ledgers that fit a condition, and rows that name a spool.

// Located is a row and the file that holds it.
type Located struct {
	File string
	Row  Row
}

// HeadOf returns the columns that every row of a ledger begins with.
func HeadOf(r Row) *Head { return r.head() }

// Hidden reports whether a void hides the entry.
func (v *View) Hidden(id string) bool { return v.hidden[strings.ToUpper(id)] }

// Clone returns a copy of a consumption row that stays as it is after the pass over the file.
func (c *Consumption) Clone() *Consumption {
	row := *c
	for _, text := range texts(&row) {
		*text = strings.Clone(*text)
	}
	row.ID, row.raw = strings.Clone(row.ID), strings.Clone(row.raw)
	return &row
}

// readAll reads every ledger but seals, and reports what is wrong with them.
func (v *View) readAll() error {
	if err := v.readSmall(); err != nil {
		return err
	}
	return v.FoldConsumption(nothing{})
}

// readSmall reads every ledger but consumption and seals.
func (v *View) readSmall() error {
	_, e1 := v.Purchases()
	_, e2 := v.Weighins()
	_, e3 := v.Needs()
	_, e4 := v.Moves()
	_, e5 := v.Voids()
	_, e6 := v.Bills()
	_, e7 := v.SlicedFiles()
	return JoinFaults(e1, e2, e3, e4, e5, e6, e7)
}

// Lookup returns every sound row for which want returns true, of every ledger but seals: voided and conflicting rows too.
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

// eachRow calls each for every sound row of every ledger but seals: voided and conflicting rows too. Consumption rows are
// reused: clone them to keep them.
func (v *View) eachRow(each func(file string, row Row)) error {
	if err := v.readAll(); err != nil {
		return err
	}
	giveRows(Purchases, v.purchases.all, each)
	giveRows(Weighins, v.weighins.all, each)
	giveRows(Queue, v.needs.all, each)
	giveRows(Moves, v.moves.all, each)
	giveRows(Voids, v.voids.all, each)
	giveRows(Bills, v.bills.all, each)
	giveRows(SlicedFiles, v.sliced.all, each)
	return v.watchConsumption(func(row *Consumption) { each(ConsumptionFile, row) })
}

func giveRows[T any, R RowOf[T]](file string, rows []*T, each func(file string, row Row)) {
	for _, row := range rows {
		each(file, R(row))
	}
}

// BoughtTwice reports whether another purchase that is not voided names the same spool.
func (v *View) BoughtTwice(p *Purchase) bool {
	return slices.ContainsFunc(v.purchases.all, func(o *Purchase) bool {
		return o.Spool == p.Spool && o.ID != p.ID && !v.hidden[o.ID]
	})
}

// Taken reports whether a purchase that is not voided names the spool. A spool whose purchase is voided may be bought again.
func (v *View) Taken(spool string) bool {
	return slices.ContainsFunc(v.purchases.all, func(p *Purchase) bool { return p.Spool == spool && !v.hidden[p.ID] })
}

// SpoolUse is a live row that names a spool.
type SpoolUse struct {
	Located
	Spool string
}

// Naming returns the live rows that name one of the spools, without those whose IDs are in going.
func (v *View) Naming(spools, going map[string]bool) ([]SpoolUse, error) {
	if err := v.readSmall(); err != nil {
		return nil, err
	}
	n := &naming{spools: spools, going: going}
	giveRows(Purchases, v.purchases.live, n.add)
	giveRows(Weighins, v.weighins.live, n.add)
	giveRows(Queue, v.needs.live, n.add)
	giveRows(Moves, v.moves.live, n.add)
	n.small = len(n.uses)
	err := v.FoldConsumption(n)
	return n.uses, err
}

// naming gathers the rows that name a spool.
type naming struct {
	spools, going map[string]bool
	uses          []SpoolUse
	small         int // how many of uses are not of consumption
}

func (n *naming) add(file string, row Row) {
	spool := ""
	switch r := row.(type) {
	case *Purchase:
		spool = r.From
	case *Weighin:
		spool = r.Spool
	case *Need:
		if i := slices.IndexFunc(r.Turn(), func(id string) bool { return n.spools[id] }); i >= 0 {
			spool = r.Turn()[i]
		}
	case *Move:
		spool = r.Spool
	case *Consumption:
		spool = r.Spool
	}
	if !n.spools[spool] || n.going[row.head().ID] {
		return
	}
	if c, ok := row.(*Consumption); ok {
		row = c.Clone()
	}
	n.uses = append(n.uses, SpoolUse{Located{file, row}, spool})
}

// Add and Reset make it a fold of consumption, which is read last.
func (n *naming) Add(row *Consumption) { n.add(ConsumptionFile, row) }
func (n *naming) Reset()               { n.uses = n.uses[:n.small] }
