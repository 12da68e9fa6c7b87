package ledger

import (
	"hash/maphash"
	"math/bits"
)

// spoolIndex numbers spools from 1 on, by their ids. It is faster than a map, because it need not work for any string, and because a short id
// stands where it is looked for: rows of any order are as good as a look at one place of memory each.
type spoolIndex struct {
	ids   []string
	seed  maphash.Seed
	slots []spoolSlot // by the hash of the id, and behind it where that place is taken
}

// spoolSlot is a place for one spool.
type spoolSlot struct {
	number int32 // 0: the place is free
	length uint8 // of a short id; else more than short holds
	short  [19]byte
}

func newSpoolIndex(ids []string) *spoolIndex {
	x := &spoolIndex{ids, maphash.MakeSeed(), make([]spoolSlot, 1<<bits.Len(uint(2*len(ids)+1)))}
	for i, id := range ids {
		at := x.hash(id)
		for x.slots[at].number != 0 {
			at = (at + 1) & (len(x.slots) - 1)
		}
		s := &x.slots[at]
		s.number, s.length = int32(i+1), uint8(min(len(id), len(s.short)+1))
		copy(s.short[:], id)
	}
	return x
}

func (x *spoolIndex) hash(id string) int {
	return int(uint32(maphash.String(x.seed, id))) & (len(x.slots) - 1)
}

// number returns the number of an id, 0 if it has none.
func (x *spoolIndex) number(id string) int {
	for at := x.hash(id); ; at = (at + 1) & (len(x.slots) - 1) {
		s := &x.slots[at]
		switch n := int(s.number); {
		case n == 0:
			return 0
		case int(s.length) > len(s.short):
			if x.ids[n-1] == id {
				return n
			}
		case string(s.short[:s.length]) == id:
			return n
		}
	}
}
