package reports

import (
	"tarebook/inventory"
	"tarebook/ledger"
)

// The stock on the page: a row of the table and a card for each spool.

// pageSpool is one spool. Course is nil if there is no drawing.
type pageSpool struct {
	Spool, Filament, Maker, Lot, Place                     string
	Net, U, Likely, Length, LengthU, Tare, Weighed, Moment string
	Value, Flags, Note                                     string
	Exact                                                  struct{ Net, Likely, Length string } // by which rows are sorted
	Wanted                                                 []jobLink
	Moved                                                  []Movement
	Course                                                 *courseDrawing
}

// stockFigures are the decimals of the columns of grams and of metres.
type stockFigures struct{ grams, metres int }

func (s Stock) figures() stockFigures {
	var us, ums []float64
	for _, r := range s.Rows {
		us, ums = append(us, 2*r.UG), append(ums, 2*r.UM)
	}
	return stockFigures{known(us...), known(ums...)}
}

func newPageSpool(r *StockRow, spool *inventory.Spool, at ledger.Time, f stockFigures, wanted []jobLink, moved *Movements) pageSpool {
	c := pageSpool{Spool: r.Spool, Filament: filamentOf(r.Material, r.Colour), Maker: name(r.Maker), Lot: name(spool.Lot), Place: name(dash(r.Place)),
		Net: minus(fixed(r.NetG.Float(), f.grams)), U: fixed(2*r.UG, f.grams), Likely: minus(fixed(r.LikelyG, f.grams)),
		Length: minus(fixed(r.LengthM, f.metres)), LengthU: fixed(2*r.UM, f.metres), Tare: "not known", Weighed: day(r.LastWeighed), Moment: minute(r.LastWeighed),
		Value: r.Value.in(r.Currency), Flags: r.Flags.words(), Note: shortened(ledger.Clean(spool.Purchase.Note), mostOfNote, "…"), Wanted: wanted, Moved: moved.of(spool)}
	c.Exact.Net, c.Exact.Likely, c.Exact.Length = r.NetG.String(), fixed(r.LikelyG, 3), fixed(r.LengthM, 3)
	if r.LastWeighed.IsZero() {
		c.Weighed, c.Moment = "never", "never"
	}
	if r.TareG.Given {
		c.Tare = r.TareG.Grams.String() + " g (" + r.TareFrom + ")"
	}
	if course := newCourse(spool, at); len(course.points) > 1 {
		drawing := course.draw()
		c.Course = &drawing
	}
	return c
}
