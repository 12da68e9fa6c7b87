package assign

import "math/bits"

// division is the search for the best way to divide slots among nozzles: nozzle by nozzle, from the last, the least score for
// each set of slots that is left to a nozzle and those after it.
type division struct {
	all   uint32
	feeds []int
	need  []uint32 // by nozzle: slots pinned to it
	may   []uint32 // slots not pinned to another
	room  []int    // feeds of a nozzle and all after it
}

func divide(slots int, feeds []int, pins map[int]int) *division {
	d := &division{all: uint32(1)<<slots - 1, feeds: feeds, room: make([]int, len(feeds)+1)}
	for i := range feeds {
		var need, other uint32
		for slot, nozzle := range pins {
			if nozzle == i {
				need |= 1 << slot
			} else {
				other |= 1 << slot
			}
		}
		d.need, d.may = append(d.need, need), append(d.may, d.all&^other)
	}
	for i := len(feeds) - 1; i >= 0; i-- {
		d.room[i] = d.room[i+1] + feeds[i]
	}
	return d
}

// left calls f with each set of slots that may be left to nozzle i and those after it.
func (d *division) left(i int, f func(left uint32)) {
	if i == 0 {
		f(d.all)
		return
	}
	for left := uint32(0); left <= d.all; left++ {
		if n := bits.OnesCount32(left); n <= d.room[i] && bits.OnesCount32(d.all)-n <= d.room[0]-d.room[i] {
			f(left)
		}
	}
}

// choices calls f with each set that nozzle i may serve of those left: every way once.
func (d *division) choices(i int, left uint32, f func(set uint32)) {
	if d.need[i]&^left != 0 {
		return
	}
	free := left & d.may[i] &^ d.need[i]
	for part := free; ; part = (part - 1) & free {
		set := part | d.need[i]
		if bits.OnesCount32(set) <= d.feeds[i] && bits.OnesCount32(left&^set) <= d.room[i+1] {
			f(set)
		}
		if part == 0 {
			return
		}
	}
}

// exact returns the best assignment of at most Exact slots. Of equally good ones, early slots stand on early nozzles.
func exact(e *evaluator, pins map[int]int) []int {
	n := len(e.print.Slots)
	d := divide(n, e.machine.Feeds, pins)
	sets := e.table()
	type best struct {
		score
		set   uint32
		found bool
	}
	after := make([]best, d.all+1) // by what is left to the nozzles after this one
	after[0].found = true
	chosen := make([][]uint32, len(d.feeds))
	for i := len(d.feeds) - 1; i >= 0; i-- {
		here := make([]best, d.all+1)
		chosen[i] = make([]uint32, d.all+1)
		d.left(i, func(left uint32) {
			b := best{}
			d.choices(i, left, func(set uint32) {
				rest := &after[left&^set]
				if !rest.found {
					return
				}
				total := sets[set].add(rest.score)
				// Equal: the set that has the first slot in which the two differ.
				if !b.found || total.less(b.score) || total == b.score && (set^b.set)&-(set^b.set)&set != 0 {
					b = best{total, set, true}
				}
			})
			here[left], chosen[i][left] = b, b.set
		})
		after = here
	}
	nozzle := make([]int, n)
	left := d.all
	for i := range d.feeds {
		for _, s := range of(chosen[i][left]) {
			nozzle[s] = i
		}
		left &^= chosen[i][left]
	}
	return nozzle
}

// of lists the slots of a set.
func of(set uint32) (slots []int) {
	for ; set != 0; set &= set - 1 {
		slots = append(slots, bits.TrailingZeros32(set))
	}
	return slots
}
