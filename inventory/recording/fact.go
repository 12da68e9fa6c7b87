package recording

import (
	"tarebook/inventory"
	"tarebook/inventory/filament"
	"tarebook/ledger"
)

// A Fact is what a command finds of one row that it records, as figures. What does not apply is not given, nil or blank.
type Fact struct {
	Net      ledger.Mass // what the book has of the row's spool, this row counted
	Length   *float64    // metres of that
	Finding  *Finding    // of a weigh-in
	Currency string      // of the price of a spool bought
	Cancels  string      // of a void: FILE:LINE of the row that it cancels
	Again    string      // of a void: the command that records that row again
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
