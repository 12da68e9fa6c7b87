package recording

import (
	"fmt"

	"tarebook/inventory"
	"tarebook/inventory/filament"
	"tarebook/ledger"
)

// A Fact is what a command finds of one row that it records, as figures. What does not apply is not given, nil or blank.
type Fact struct {
	Net      ledger.Mass // what the book has of the row's spool, this row counted
	Length   *float64    // metres of that
	Finding  *Finding    // of a weigh-in
	Tare     ledger.Mass // of an opened spool: what the empty one weighs
	Label    ledger.Mass // of an opened spool: its net when it was full
	Source   *Source     // of a spool wound off another: what is left on that
	Currency string      // of the price of a spool bought
	Name     string      // of the row of a table
	Void     *Voided     // of a void
}

// Source is the spool that filament was wound off.
type Source struct {
	Net ledger.Mass // what the book has of it then; not given once it has ended
	U   float64     // standard uncertainty in grams
}

// Voided is the row that a void cancels.
type Voided struct {
	Row   ledger.Row
	Line  string // FILE:LINE where it stands
	Again string // the command that records it again
}

func voided(file string, row ledger.Row) Fact {
	return Fact{Void: &Voided{Row: row, Line: fmt.Sprintf("%s:%d", file, ledger.HeadOf(row).Line), Again: again(row)}}
}

func factOf(stock *filament.Stock, net ledger.Grams) Fact {
	metres := stock.Length(net.Float())
	return Fact{Net: ledger.Known(net), Length: &metres}
}

// nowOn is the fact of a spool that has so much left by the book; of an ended one there is none.
func nowOn(s *inventory.Spool, net ledger.Grams) Fact {
	if s.Ended {
		return Fact{}
	}
	return factOf(&s.Filament, net)
}
