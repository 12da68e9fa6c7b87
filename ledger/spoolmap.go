package ledger

// SpoolMap is a map by spools in which a fold finds that of each row. Rows that are read carry the number of their spool, by which it
// is found faster than by the id.
type SpoolMap[V any] struct {
	byID     map[string]V
	byNumber []numbered[V]
}

type numbered[V any] struct {
	value V
	asked bool
}

// NewSpoolMap returns the map of values by id. It is for one goroutine and the rows of one view.
func NewSpoolMap[V any](byID map[string]V) SpoolMap[V] { return SpoolMap[V]{byID: byID} }

// Get returns the value of a row's spool, the zero V if it has none.
func (m *SpoolMap[V]) Get(row *Consumption) V {
	n := row.SpoolNumber
	if n == 0 {
		return m.byID[row.Spool]
	}
	if n >= len(m.byNumber) {
		m.byNumber = append(m.byNumber, make([]numbered[V], max(n+1, len(m.byID)+1)-len(m.byNumber))...)
	}
	found := &m.byNumber[n]
	if !found.asked {
		found.value, found.asked = m.byID[row.Spool], true
	}
	return found.value
}

// Reader returns a map of the same values for another goroutine, or for another pass.
func (m *SpoolMap[V]) Reader() SpoolMap[V] { return SpoolMap[V]{byID: m.byID} }
