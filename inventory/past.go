package inventory

import "tarebook/ledger"

// Past returns the shelf as it was at a time, by what is known now: tares and how estimates run are those of s. A spool that was bought
// later is not on it. v is the view of which s was loaded.
func (s *Shelf) Past(v *ledger.View, at ledger.Time) (*Shelf, error) {
	view := v.Past(at)
	past, err := LoadSpools(view)
	if err != nil {
		return nil, err
	}
	past.now = s
	return past, past.ReadConsumption(view)
}

// later returns a spool of a shelf of the past as it is now; nil on any other shelf.
func (s *Shelf) later(spool *Spool) *Spool {
	if s.now == nil {
		return nil
	}
	return s.now.ByID[spool.ID]
}
