package ledger

import (
	"hash/maphash"
	"math/bits"
)

// spoolIndex numbers spools from 1 on, by their ids. It is faster than a map, because it need not work for any string.
type spoolIndex struct {
	ids   []string
	seed  maphash.Seed
	slots []int32 // numbers, by the hash of the id, and behind it where that place is taken
}

func newSpoolIndex(ids []string) *spoolIndex {
	x := &spoolIndex{ids, maphash.MakeSeed(), make([]int32, 1<<bits.Len(uint(2*len(ids)+1)))}
	for i, id := range ids {
		at := x.hash(id)
		for x.slots[at] != 0 {
			at = (at + 1) & (len(x.slots) - 1)
		}
		x.slots[at] = int32(i + 1)
	}
	return x
}

func (x *spoolIndex) hash(id string) int {
	return int(uint32(maphash.String(x.seed, id))) & (len(x.slots) - 1)
}

// number returns the number of an id, 0 if it has none.
func (x *spoolIndex) number(id string) int {
	for at := x.hash(id); ; at = (at + 1) & (len(x.slots) - 1) {
		n := int(x.slots[at])
		if n == 0 || x.ids[n-1] == id {
			return n
		}
	}
}
