package recording

import (
	"cmp"
	"fmt"
	"maps"
	"math/big"
	"slices"

	"tarebook/inventory"
	"tarebook/ledger"
)

// RegisterQuery says which rows of the register are wanted. Names are matched without case; what is blank leaves nothing out.
type RegisterQuery struct {
	From, To                string // inclusive dates by each row's own offset, as 2026-10-31
	Client, Job, Spool, Lot string
}

// Registered is one row that counts, of whichever ledger.
type Registered struct {
	File  string
	Row   ledger.Row       // its names are spelled as everywhere
	Spool *inventory.Spool // the one that the row is about; nil for none
	Grams ledger.Mass      // bought, needed or taken
	Cost  *big.Rat         // of the filament taken, exact; nil without a price
}

// What says the row in a few words.
func (r *Registered) What() string {
	verb, object := brief(r.Row, nil)
	return verb + " " + object
}

// Register returns the rows that count of every ledger but seals, the latest first.
func Register(v *ledger.View, q RegisterQuery) ([]Registered, error) {
	shelf, err := inventory.LoadPrices(v)
	if err != nil {
		return nil, err
	}
	r := &register{shelf: shelf, q: q}
	if err := r.readTables(v); err != nil {
		return nil, err
	}
	if err := r.readQuery(); err != nil {
		return nil, err
	}
	purchases, e1 := v.Purchases()
	weighins, e2 := v.Weighins()
	needs, e3 := v.Needs()
	moves, e4 := v.Moves()
	voids, e5 := v.Voids()
	sliced, e6 := v.SlicedFiles()
	bills, e7 := v.Bills()
	if err := ledger.JoinFaults(e1, e2, e3, e4, e5, e6, e7); err != nil {
		return nil, err
	}
	for _, row := range purchases {
		r.add(ledger.Purchases, row, names{spools: []string{row.Spool}}, ledger.Known(row.NetG))
	}
	for _, row := range weighins {
		r.add(ledger.Weighins, row, names{spools: []string{row.Spool}}, ledger.Mass{})
	}
	if err := v.FoldConsumption(r); err != nil {
		return nil, err
	}
	for _, row := range needs {
		r.names.Need(inventory.JobName, row.Job, row)
		r.names.Need(inventory.ClientName, row.Client, row)
		r.names.Need(inventory.PrinterName, row.Printer, row)
	}
	for _, row := range inForce(needs) {
		r.add(ledger.Queue, row, names{row.Client, row.Job, row.Turn()}, ledger.Known(row.Total()))
	}
	for _, row := range moves {
		r.add(ledger.Moves, row, names{spools: []string{row.Spool}}, ledger.Mass{})
	}
	for _, row := range voids {
		r.add(ledger.Voids, row, names{}, ledger.Mass{})
	}
	for _, row := range sliced {
		r.add(ledger.SlicedFiles, row, names{}, ledger.Mass{})
	}
	for _, row := range bills {
		r.add(ledger.Bills, row, names{client: row.Client}, ledger.Mass{})
	}
	if clients := r.names.Names(inventory.ClientName); r.q.Client != "" && clients[r.q.Client] == "" {
		return nil, unknownName("client", q.Client, slices.Collect(maps.Values(clients)))
	}
	for i := range r.rows {
		r.rows[i].Row = r.spelled(r.rows[i].Row)
	}
	slices.SortStableFunc(r.rows, func(a, b Registered) int {
		x, y := ledger.HeadOf(a.Row), ledger.HeadOf(b.Row)
		return cmp.Or(y.At.Compare(x.At), slices.Index(ledger.Ledgers, b.File)-slices.Index(ledger.Ledgers, a.File), cmp.Compare(y.Order(), x.Order()))
	})
	return r.rows, nil
}

// names are what a row can be asked for by.
type names struct {
	client, job string
	spools      []string
}

// register gathers rows, those of consumption as a fold.
type register struct {
	shelf         *inventory.Shelf
	q             RegisterQuery
	rows          []Registered
	names, tables inventory.Spellings // of all rows that count, wanted or not, and of tables alone
}

// readQuery folds the names that are asked for. Of a spool the beginning of its id is enough; no spool, or no spool of a lot, is an error. Any
// client may be of consumption alone, and jobs come and go: a job without rows is none.
func (r *register) readQuery() error {
	typed := r.q
	for _, name := range []*string{&r.q.Client, &r.q.Job, &r.q.Spool, &r.q.Lot} {
		*name = ledger.Fold(ledger.Trim(*name))
	}
	if r.q.Spool != "" {
		spool, err := r.shelf.Find(typed.Spool)
		if err != nil {
			return err
		}
		r.q.Spool = ledger.Fold(spool.ID)
	}
	var lots []string
	for _, spool := range r.shelf.Spools {
		if spool.Lot != "" {
			lots = append(lots, spool.Lot)
		}
	}
	if r.q.Lot != "" && !slices.ContainsFunc(lots, func(lot string) bool { return ledger.Fold(lot) == r.q.Lot }) {
		return unknownName("lot", typed.Lot, lots)
	}
	return nil
}

// unknownName is the error for a name that the book does not have.
func unknownName(kind, name string, all []string) error {
	slices.Sort(all)
	if near := ledger.Nearest(name, all); near != "" {
		return fmt.Errorf("no %s %q; did you mean %s?", kind, name, near)
	}
	return fmt.Errorf("no %s %q in the book", kind, name)
}

// inForce returns the rows of the queue that count: of those with the same job and slot the last.
func inForce(needs []*ledger.Need) (rows []*ledger.Need) {
	type slot struct{ job, slot string }
	at := map[slot]int{}
	for _, row := range needs {
		key := slot{ledger.Fold(row.Job), ledger.Fold(row.Slot)}
		if i, ok := at[key]; ok && row.Slot != "" {
			rows[i] = row
			continue
		}
		at[key] = len(rows)
		rows = append(rows, row)
	}
	return rows
}

// readTables notes how tables spell names.
func (r *register) readTables(v *ledger.View) error {
	clients, e1 := v.Clients()
	printers, e2 := v.Printers()
	for _, c := range clients {
		r.tables.Table(inventory.ClientName, c.Client)
	}
	for _, p := range printers {
		r.tables.Table(inventory.PrinterName, p.Printer)
	}
	r.names = r.tables.Clone()
	return ledger.JoinFaults(e1, e2)
}

// spelled returns a row with its names as they are shown.
func (r *register) spelled(row ledger.Row) ledger.Row {
	spell := func(job, client, printer *string) {
		*job, *client, *printer = r.names.Spell(inventory.JobName, *job), r.names.Spell(inventory.ClientName, *client), r.names.Spell(inventory.PrinterName, *printer)
	}
	var none string
	switch row := row.(type) {
	case *ledger.Consumption: // a copy
		spell(&row.Job, &row.Client, &row.Printer)
	case *ledger.Need:
		shown := *row
		spell(&shown.Job, &shown.Client, &shown.Printer)
		return &shown
	case *ledger.Bill:
		shown := *row
		spell(&none, &shown.Client, &none)
		return &shown
	}
	return row
}

// Add implements ledger.ConsumptionFold.
func (r *register) Add(row *ledger.Consumption) {
	spool := r.shelf.Spool(row.Spool)
	if spool == nil {
		return
	}
	r.names.Consumption(inventory.JobName, row.Job, row)
	r.names.Consumption(inventory.ClientName, row.Client, row)
	r.names.Consumption(inventory.PrinterName, row.Printer, row)
	if of := (names{row.Client, row.Job, []string{row.Spool}}); r.wants(row.At, of) {
		r.add(ledger.ConsumptionFile, row.Clone(), of, ledger.Known(row.Total()))
		if perGram, _ := spool.Price(); perGram != nil {
			r.rows[len(r.rows)-1].Cost = new(big.Rat).Mul(perGram, big.NewRat(int64(row.Total()), 1000))
		}
	}
}

// Reset implements ledger.ConsumptionFold.
func (r *register) Reset() {
	r.names = r.tables.Clone()
	r.rows = slices.DeleteFunc(r.rows, func(row Registered) bool { return row.File == ledger.ConsumptionFile })
}

// add takes a row in if it is wanted. One about spools without a purchase that counts is left out.
func (r *register) add(file string, row ledger.Row, of names, grams ledger.Mass) {
	if !r.wants(ledger.HeadOf(row).At, of) {
		return
	}
	registered := Registered{File: file, Row: row, Grams: grams}
	for _, id := range of.spools {
		if registered.Spool == nil {
			registered.Spool = r.shelf.Spool(id)
		}
	}
	if len(of.spools) > 0 && registered.Spool == nil {
		return
	}
	r.rows = append(r.rows, registered)
}

func (r *register) wants(at ledger.Time, of names) bool {
	day := at.Date()
	if r.q.From != "" && day < r.q.From || r.q.To != "" && day > r.q.To {
		return false
	}
	if r.q.Client != "" && ledger.Fold(of.client) != r.q.Client || r.q.Job != "" && ledger.Fold(of.job) != r.q.Job {
		return false
	}
	if r.q.Spool == "" && r.q.Lot == "" {
		return true
	}
	return slices.ContainsFunc(of.spools, func(id string) bool {
		spool := r.shelf.Spool(id)
		return spool != nil && (r.q.Spool == "" || ledger.Fold(spool.ID) == r.q.Spool) && (r.q.Lot == "" || ledger.Fold(spool.Lot) == r.q.Lot)
	})
}
