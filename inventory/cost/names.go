package cost

import (
	"hash/maphash"
	"iter"
	"math/bits"
	"slices"

	"tarebook/ledger"
)

// nameID stands for a name, whatever its case. It is a hash that is another one in each process: two of a million names have the same
// with a probability of 3e-8, and are then counted as one.
type nameID uint64

const noName nameID = 0

// nameIDs makes ids. It keeps the last one, because rows of one job come together.
type nameIDs struct {
	seed   maphash.Seed
	last   []byte // the name that was asked for last, which is not blank
	folded []byte
	id     nameID
}

func newNameIDs() nameIDs {
	return nameIDs{seed: maphash.MakeSeed()}
}

// another makes the same ids in another goroutine.
func (n *nameIDs) another() nameIDs { return nameIDs{seed: n.seed} }

// of returns the id of a name, and whether it is another name than the last one.
func (n *nameIDs) of(name string) (id nameID, other bool) {
	if string(n.last) == name && n.id != noName {
		return n.id, false
	}
	n.last, n.folded = append(n.last[:0], name...), ledger.AppendFold(n.folded[:0], name)
	n.id = max(noName+1, nameID(maphash.Bytes(n.seed, n.folded)))
	return n.id, true
}

// nameSet is a set of names. A few lie in a list; more lie in a table by their last bits, with room between them.
type nameSet struct {
	ids []nameID // in a table noName is a free place
	n   int
}

const mostListed = 16 // of the names of a set in a list

// add adds a name.
func (s *nameSet) add(id nameID) {
	switch {
	case len(s.ids) > mostListed:
		if 8*s.n >= 7*len(s.ids) {
			s.grow(2 * s.n)
		}
	case slices.Contains(s.ids, id):
		return
	case s.n < mostListed:
		s.ids = append(s.ids, id)
		s.n++
		return
	default:
		s.grow(2 * s.n)
	}
	s.put(id)
}

// grow moves the names to a new table with room for more of them than the given number.
func (s *nameSet) grow(length int) {
	names := s.ids
	s.ids, s.n = make([]nameID, 1<<bits.Len(uint(length))), 0
	clear(s.ids) // of new memory, what is read first is fetched twice: as zeros that all share, and as a page of its own once it is written to
	for _, id := range names {
		if id != noName {
			s.put(id)
		}
	}
}

// put adds a name to a table that has room.
func (s *nameSet) put(id nameID) {
	at := int(id) & (len(s.ids) - 1)
	for s.ids[at] != noName {
		if s.ids[at] == id {
			return
		}
		at = (at + 1) & (len(s.ids) - 1)
	}
	s.ids[at] = id
	s.n++
}

// has reports whether a name is in the set.
func (s *nameSet) has(id nameID) bool {
	if len(s.ids) <= mostListed {
		return slices.Contains(s.ids, id)
	}
	at := int(id) & (len(s.ids) - 1)
	for s.ids[at] != noName && s.ids[at] != id {
		at = (at + 1) & (len(s.ids) - 1)
	}
	return s.ids[at] == id
}

// all yields each name once.
func (s *nameSet) all() iter.Seq[nameID] {
	return func(yield func(nameID) bool) {
		for _, id := range s.ids {
			if id != noName && !yield(id) {
				return
			}
		}
	}
}

// union returns all names of the sets, of which it may be one.
func union(sets []*nameSet) *nameSet {
	if len(sets) == 1 {
		return sets[0]
	}
	n := 0
	for _, s := range sets {
		n += s.n
	}
	all := &nameSet{}
	if n > mostListed {
		all.grow(n + n/4)
	}
	for _, s := range sets {
		all.addAll(s)
	}
	return all
}

// addAll adds the names of another set. It makes room before: names in the order of another table would fill a part of this one first.
func (s *nameSet) addAll(o *nameSet) {
	if n := s.n + o.n; n > mostListed && 8*n > 7*len(s.ids) {
		s.grow(n + n/4)
	}
	for id := range o.all() {
		s.add(id)
	}
}
