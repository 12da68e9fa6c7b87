package cost

import (
	"cmp"
	"hash/maphash"
	"slices"

	"tarebook/ledger"
)

// nameID stands for a name, whatever its case. It has 128 bits of a hash that is another one in each process: two of ten million names
// have the same with a probability below 1e-24.
type nameID struct{ a, b uint64 }

func (n nameID) compare(o nameID) int {
	switch {
	case n.a < o.a:
		return -1
	case n.a > o.a:
		return 1
	}
	return cmp.Compare(n.b, o.b)
}

// nameIDs makes ids. It keeps the last one, because rows of one job come together.
type nameIDs struct {
	seeds  [2]maphash.Seed
	last   []byte // the name that was asked for last, which is not blank
	folded []byte
	id     nameID
}

func newNameIDs() nameIDs {
	return nameIDs{seeds: [2]maphash.Seed{maphash.MakeSeed(), maphash.MakeSeed()}}
}

// another makes the same ids in another goroutine.
func (n *nameIDs) another() nameIDs { return nameIDs{seeds: n.seeds} }

// of returns the id of a name, and whether it is another name than the last one.
func (n *nameIDs) of(name string) (id nameID, other bool) {
	if string(n.last) == name && n.id != (nameID{}) {
		return n.id, false
	}
	n.last, n.folded = append(n.last[:0], name...), ledger.AppendFold(n.folded[:0], name)
	n.id = nameID{maphash.Bytes(n.seeds[0], n.folded), maphash.Bytes(n.seeds[1], n.folded)}
	return n.id, true
}

// nameSet is a set of names, some of which may be in it several times. It does not grow with what is added again.
type nameSet []nameID

// add adds a name. The same one in turn costs nothing.
func (s *nameSet) add(id nameID) {
	set := *s
	if len(set) > 0 && set[len(set)-1] == id {
		return
	}
	if len(set) == cap(set) && len(set) > 32 {
		set.settle()
		set = slices.Grow(set, len(set)) // so that what is sorted next is twice as long
	}
	*s = append(set, id)
}

// settle sorts the set and removes what is in it again.
func (s *nameSet) settle() {
	slices.SortFunc(*s, nameID.compare)
	*s = slices.Compact(*s)
}
