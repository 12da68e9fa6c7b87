package assign

// bitset is a set of at most 256 slots.
type bitset [4]uint64

func (b *bitset) add(slot int)    { b[slot/64] |= 1 << (slot % 64) }
func (b *bitset) remove(slot int) { b[slot/64] &^= 1 << (slot % 64) }

func (b *bitset) has(slot int) bool { return b[slot/64]>>(slot%64)&1 != 0 }

func (b *bitset) meets(other *bitset) bool {
	return b[0]&other[0]|b[1]&other[1]|b[2]&other[2]|b[3]&other[3] != 0
}
