package assign

import (
	"errors"
	"fmt"
	"math"
)

// Every stands for every nozzle in a [Limit].
const Every = -1

// A Limit is something that a machine can't do. With one slot, the nozzle can't print it. With two, the nozzle can't print both
// within one print. The caller matches materials; Why is only handed back.
type Limit struct {
	Nozzle int // by index, or Every
	Slots  []int
	Why    string
}

// rules say which assignments are possible.
type rules struct {
	feeds []int
	may   [][]bool    // by slot and nozzle: pin, limits and reach allow the two together
	apart [][]bitset  // by slot and nozzle: the slots that can't share the nozzle with this one
	reach [][]windows // by slot and nozzle
}

// newRules returns the rules that follow from pins and from the obstacles listed.
func newRules(p Print, m Machine, pins map[int]int, listed []obstacle) *rules {
	r := &rules{feeds: m.Feeds}
	for s := range p.Slots {
		may, reach := make([]bool, len(m.Feeds)), make([]windows, len(m.Feeds))
		pin, pinned := pins[s]
		for i := range m.Feeds {
			may[i] = m.Feeds[i] > 0 && (!pinned || pin == i)
			reach[i] = anywhere
		}
		r.may, r.reach, r.apart = append(r.may, may), append(r.reach, reach), append(r.apart, make([]bitset, len(m.Feeds)))
	}
	for _, o := range listed {
		if o.limit != nil {
			r.apply(o.limit)
			continue
		}
		reach := &r.reach[o.slot][o.nozzle]
		*reach = reach.and(p.Slots[o.slot].Box.windows(m.Bounds[o.nozzle], o.axis))
	}
	for s := range r.reach {
		for i, w := range r.reach[s] {
			dx, dy, ok := w.shift()
			if !ok || p.AsItLies && (dx != 0 || dy != 0) {
				r.may[s][i] = false
			}
			if p.AsItLies {
				r.reach[s][i] = anywhere
			}
		}
	}
	return r
}

// window returns the shifts that an assignment allows.
func (r *rules) window(nozzle []int) windows {
	w := anywhere
	for s, i := range nozzle {
		w = w.and(r.reach[s][i])
	}
	return w
}

func (r *rules) apply(l *Limit) {
	for i := range r.feeds {
		if l.Nozzle != Every && l.Nozzle != i {
			continue
		}
		if len(l.Slots) == 1 {
			r.may[l.Slots[0]][i] = false
			continue
		}
		a, b := l.Slots[0], l.Slots[1]
		r.apart[a][i].add(b)
		r.apart[b][i].add(a)
	}
}

// check reports limits, boxes and bounds that are not well formed.
func check(p Print, m Machine) error {
	for _, l := range m.Limits {
		if n := len(l.Slots); n != 1 && n != 2 || n == 2 && l.Slots[0] == l.Slots[1] {
			return fmt.Errorf("a limit names slots %v; it takes one slot, or two different ones", l.Slots)
		}
		for _, s := range l.Slots {
			if s < 0 || s >= len(p.Slots) {
				return fmt.Errorf("a limit names slot %d of %d", s, len(p.Slots))
			}
		}
		if l.Nozzle != Every && (l.Nozzle < 0 || l.Nozzle >= len(m.Feeds)) {
			return fmt.Errorf("a limit names nozzle %d of %d", l.Nozzle, len(m.Feeds))
		}
	}
	if len(m.Bounds) != 0 && len(m.Bounds) != len(m.Feeds) {
		return fmt.Errorf("bounds of %d nozzles, and feeds of %d", len(m.Bounds), len(m.Feeds))
	}
	for _, s := range p.Slots {
		if b := s.Box; b != nil {
			if sum := b.XMin + b.XMax + b.YMin + b.YMax + b.ZMax; math.IsNaN(sum) || math.IsInf(sum, 0) {
				return errors.New("a slot's box has no end")
			}
		}
	}
	return nil
}
