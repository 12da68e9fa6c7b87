package assign

import (
	"math"
	"math/bits"
	"slices"
)

// A division finds the best way to divide at most Exact slots among nozzles, with shifts from one region. It goes from the last
// nozzle to the first and finds, for each set of slots left to a nozzle and those after it, the least total.
//
// Each nozzle counts the least shift that its own slots need. The greatest of them is a lower bound of the shift of all.
type division struct {
	all    uint32
	feeds  []int
	room   []int      // feeds of a nozzle and all after it
	scores totals     // by set
	fits   [][]region // by nozzle and set: the shifts that the set allows there, empty if the nozzle can't serve it
	alike  []int      // by nozzle: the first with the same rules; they share tables
	same   int        // the first nozzle of which all after it have the same rules
	shifts shifts

	own           []totals   // by nozzle: scores, with the least shift of the region, or impossible
	before, after totals     // the least, by the set left to a nozzle and those after it; to those after it alone
	chosen        [][]uint32 // by nozzle and set left
}

// A total is the score of several nozzles and the greatest shift that one of them needs.
type total struct {
	score
	shift int64
}

func (a total) less(b total) bool {
	if a.score != b.score {
		return a.score.less(b.score)
	}
	return a.shift < b.shift
}

// totals are the totals of sets. Each level has a list of its own, because most comparisons need only the first two.
type totals struct {
	short              []int8
	waste, time, shift []int64
}

// impossible stands for the short slots of a set that can't be served. It is more than any number of slots, and twice it is an int8.
const impossible = 60

func newTotals(sets uint32) totals {
	return totals{make([]int8, sets), make([]int64, sets), make([]int64, sets), make([]int64, sets)}
}

func (t *totals) set(set uint32, to total) {
	t.short[set], t.waste[set], t.time[set], t.shift[set] = int8(to.short), to.waste, to.time, to.shift
}

func (t *totals) get(set uint32) total {
	return total{score{int(t.short[set]), t.waste[set], t.time[set]}, t.shift[set]}
}

// clear makes all sets impossible.
func (t *totals) clear() {
	for set := range t.short {
		t.short[set] = impossible
	}
}

func newDivision(e *evaluator, r *rules) *division {
	n := len(e.print.Slots)
	d := &division{all: uint32(1)<<n - 1, feeds: r.feeds, room: make([]int, len(r.feeds)+1), shifts: newShifts(r)}
	d.scores, d.before, d.after = newTotals(d.all+1), newTotals(d.all+1), newTotals(d.all+1)
	for set, s := range e.table() {
		d.scores.set(uint32(set), total{s, 0})
	}
	for i := len(d.feeds) - 1; i >= 0; i-- {
		d.room[i] = d.room[i+1] + d.feeds[i]
	}
	for i := range d.feeds {
		first := 0
		for !r.alike(first, i) {
			first++
		}
		if first == i {
			own := totals{make([]int8, d.all+1), d.scores.waste, d.scores.time, make([]int64, d.all+1)}
			d.fits, d.own = append(d.fits, d.fitting(r, i)), append(d.own, own)
		} else {
			d.fits, d.own = append(d.fits, d.fits[first]), append(d.own, d.own[first])
		}
		if i > 0 && d.alike[i-1] != first {
			d.same = i
		}
		d.alike = append(d.alike, first)
		d.chosen = append(d.chosen, make([]uint32, d.all+1))
	}
	return d
}

// fitting returns the shifts at which a nozzle can serve each set.
func (d *division) fitting(r *rules, nozzle int) []region {
	alone, apart := make([]region, len(r.may)), make([]uint32, len(r.may))
	for s := range r.may {
		alone[s] = noShifts
		if r.may[s][nozzle] {
			alone[s] = d.shifts.region(r.reach[s][nozzle])
		}
		apart[s] = uint32(r.apart[s][nozzle][0])
	}
	fits := make([]region, d.all+1)
	fits[0] = d.shifts.all()
	for set := uint32(1); set <= d.all; set++ {
		s, rest := bits.TrailingZeros32(set), set&(set-1)
		if apart[s]&rest != 0 || bits.OnesCount32(set) > d.feeds[nozzle] {
			fits[set] = noShifts
			continue
		}
		fits[set] = fits[rest].and(alone[s])
	}
	return fits
}

// best returns the set of each nozzle in the best division with shifts from a region, or nil if there is none. Of equally good
// ones, early slots go to early nozzles.
func (d *division) best(within region) (sets []uint32, least total) {
	n := len(d.feeds)
	may, later := make([]uint32, n), make([]uint32, n+1) // slots that a nozzle can serve; that it or one after it can
	for i, first := range d.alike {
		may[i] = may[first]
		if first == i {
			may[i] = d.restrict(i, within)
		}
	}
	for i := n - 1; i >= 0; i-- {
		later[i] = later[i+1] | may[i]
	}
	d.after.clear()
	d.after.set(0, total{})
	for i := n - 1; i >= 0; i-- {
		var earlier uint32
		for _, slots := range may[:i] {
			earlier |= slots
		}
		d.before.clear()
		for left := range d.left(i, earlier, later[i]) {
			must := left &^ later[i+1]
			if i >= d.same {
				must |= left & -left // with nozzles alike, any of them may have the first slot
			}
			d.choose(i, left, left&may[i], must)
		}
		d.before, d.after = d.after, d.before
	}
	least = d.after.get(d.all)
	if least.short >= impossible {
		return nil, least
	}
	left := d.all
	for i := range d.feeds {
		sets = append(sets, d.chosen[i][left])
		left &^= d.chosen[i][left]
	}
	return sets, least
}

// restrict limits what a nozzle can serve to a region, and returns the slots that it can serve.
func (d *division) restrict(nozzle int, within region) (may uint32) {
	own := &d.own[nozzle]
	for set, fits := range d.fits[nozzle] {
		own.short[set], own.shift[set] = impossible, d.shifts.least(fits.and(within))
		if own.shift[set] >= 0 {
			own.short[set] = d.scores.short[set]
			if set&(set-1) == 0 {
				may |= uint32(set)
			}
		}
	}
	return may
}

// left returns the sets of slots that may be left to a nozzle and those after it, given which slots the nozzles before it and
// these can serve.
func (d *division) left(nozzle int, earlier, later uint32) func(yield func(uint32) bool) {
	return func(yield func(uint32) bool) {
		for left := range d.all + 1 {
			n, taken := bits.OnesCount32(left), bits.OnesCount32(d.all&^left)
			if left&^later == 0 && d.all&^left&^earlier == 0 && n <= d.room[nozzle] && taken <= d.room[0]-d.room[nozzle] && !yield(left) {
				return
			}
		}
	}
}

// choose finds the best set for a nozzle: of the slots left, those it may serve, with those it must.
func (d *division) choose(nozzle int, left, may, must uint32) {
	if must&^may != 0 {
		return
	}
	best, chosen := total{score: score{short: impossible - 1, waste: math.MaxInt64}}, must // more than any
	own, rest := &d.own[nozzle], &d.after
	for set := range d.choices(may, must) {
		short := int(own.short[set]) + int(rest.short[left^set])
		if short > best.short {
			continue
		}
		waste := own.waste[set] + rest.waste[left^set]
		if short == best.short && waste > best.waste {
			continue
		}
		t := total{score{short, waste, own.time[set] + rest.time[left^set]}, max(own.shift[set], rest.shift[left^set])}
		// Equally good: the set that has the first slot in which the two differ.
		if t.less(best) || t == best && (set^chosen)&-(set^chosen)&set != 0 {
			best, chosen = t, set
			d.before.set(left, best)
		}
	}
	d.chosen[nozzle][left] = chosen
}

// choices returns the sets that a nozzle may serve, each once: all that it must, with any others.
func (d *division) choices(may, must uint32) func(yield func(uint32) bool) {
	return func(yield func(uint32) bool) {
		for part := may &^ must; yield(part|must) && part != 0; {
			part = (part - 1) & may &^ must
		}
	}
}

// alike reports whether two nozzles have the same rules.
func (r *rules) alike(a, b int) bool {
	if r.feeds[a] != r.feeds[b] {
		return false
	}
	return !slices.ContainsFunc(r.may, func(may []bool) bool { return may[a] != may[b] }) &&
		!slices.ContainsFunc(r.apart, func(apart []bitset) bool { return apart[a] != apart[b] }) &&
		!slices.ContainsFunc(r.reach, func(reach []windows) bool { return reach[a] != reach[b] })
}
