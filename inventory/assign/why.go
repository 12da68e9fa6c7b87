package assign

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Infeasible says why no assignment is possible. Limits and Reach are rules that together make it so, and of which none can be left
// out, as far as a short search can tell. Both are empty when feeds and pins alone make it so.
type Infeasible struct {
	What   string // in one line, with the Why of each limit; only some if there are many
	Limits []*Limit
	Reach  []Reach
}

func (e *Infeasible) Error() string { return e.What }

// An Axis is one of the three axes of a machine.
type Axis int

// The axes.
const (
	X Axis = iota
	Y
	Z
)

func (a Axis) String() string { return string("xyz"[a]) }

// Reach says how far a slot reaches along an axis, unshifted, and how far the nozzle does, in mm. Of Z only the greatest counts.
type Reach struct {
	Slot, Nozzle         int // by index
	Axis                 Axis
	Min, Max             float64
	NozzleMin, NozzleMax *float64 // nil: not known
}

// An obstacle is a limit, or the reach of a nozzle along an axis for one slot.
type obstacle struct {
	limit        *Limit
	slot, nozzle int
	axis         Axis
}

// obstacles lists all rules of a print on a machine that may be in the way.
func obstacles(p Print, m Machine) (all []obstacle) {
	for s, slot := range p.Slots {
		for i := range m.Bounds {
			for _, axis := range []Axis{X, Y, Z} {
				if slot.Box != nil && slot.Box.windows(m.Bounds[i], axis) != anywhere {
					all = append(all, obstacle{slot: s, nozzle: i, axis: axis})
				}
			}
		}
	}
	for i := range m.Limits {
		all = append(all, obstacle{limit: &m.Limits[i]})
	}
	return all
}

// crowded returns an error if feeds and pins alone make a print impossible.
func crowded(p Print, m Machine, pins map[int]int) error {
	feeds := 0
	pinned := make([]int, len(m.Feeds))
	for _, n := range m.Feeds {
		feeds += n
	}
	if len(p.Slots) > feeds {
		return &Infeasible{What: fmt.Sprintf("%s, %s in all", count(len(p.Slots), "slot"), count(feeds, "feed"))}
	}
	for _, nozzle := range pins {
		if nozzle < 0 || nozzle >= len(m.Feeds) {
			return &Infeasible{What: fmt.Sprintf("it has no nozzle %d", nozzle+1)}
		}
		pinned[nozzle]++
	}
	for nozzle, n := range pinned {
		if n > m.Feeds[nozzle] {
			return &Infeasible{What: fmt.Sprintf("%s pinned to nozzle %d, which has %s", count(n, "slot"), nozzle+1, count(m.Feeds[nozzle], "feed"))}
		}
	}
	return nil
}

func count(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// explainEffort bounds each of some dozens of tries, so that a refusal doesn't take longer than a plan. Where it isn't enough to
// tell that a rule can be left out, the rule stays in.
const explainEffort = 1 << 16

// explain returns rules that make a print impossible. It looks first for a slot that no nozzle can print, then at limits alone, then
// at reach alone. Proven says that the print is known to be impossible.
func explain(p Print, m Machine, pins map[int]int, proven bool) *Infeasible {
	failed := func(some []obstacle) bool {
		nozzle, sure := place(newRules(p, m, pins, some), (*placing).fill, explainEffort)
		return nozzle == nil && sure
	}
	all := obstacles(p, m)
	var groups [][]obstacle
	for s, may := range newRules(p, m, pins, all).may {
		if !slices.Contains(may, true) {
			groups = append(groups, only(all, func(o obstacle) bool {
				return o.limit == nil && o.slot == s || o.limit != nil && len(o.limit.Slots) == 1 && o.limit.Slots[0] == s
			}))
		}
	}
	groups = append(groups, only(all, func(o obstacle) bool { return o.limit != nil }), only(all, func(o obstacle) bool { return o.limit == nil }))
	some := all
	if i := slices.IndexFunc(groups, failed); i >= 0 {
		some = groups[i]
	} else if !proven && !failed(all) {
		return &Infeasible{What: "no assignment was found that keeps all limits and reaches"}
	}
	return infeasible(p, m, pins, reduce(failed, nil, some, false))
}

func only(all []obstacle, is func(o obstacle) bool) []obstacle {
	return slices.DeleteFunc(slices.Clone(all), func(o obstacle) bool { return !is(o) })
}

// reduce returns those of some that fail together with kept, of which none can be left out. With grown, kept is tried alone first.
// The method is Junker's QuickXplain (AAAI 2004), from memory.
func reduce(failed func([]obstacle) bool, kept, some []obstacle, grown bool) []obstacle {
	if grown && failed(kept) {
		return nil
	}
	if len(some) <= 1 {
		return some
	}
	late, early := some[len(some)/2:], some[:len(some)/2]
	fromEarly := reduce(failed, slices.Concat(kept, late), early, true)
	fromLate := reduce(failed, slices.Concat(kept, fromEarly), late, len(fromEarly) > 0)
	return slices.Concat(fromEarly, fromLate)
}

// mostWords is how many sentences a reason has, so that it can be read.
const mostWords = 4

// infeasible puts the rules in the way into words.
func infeasible(p Print, m Machine, pins map[int]int, least []obstacle) *Infeasible {
	e := &Infeasible{}
	for _, o := range least {
		if o.limit != nil {
			e.Limits = append(e.Limits, o.limit)
			continue
		}
		box, bounds := p.Slots[o.slot].Box, m.Bounds[o.nozzle]
		r := Reach{o.slot, o.nozzle, o.axis, box.XMin, box.XMax, bounds.XMin, bounds.XMax}
		switch o.axis {
		case Y:
			r.Min, r.Max, r.NozzleMin, r.NozzleMax = box.YMin, box.YMax, bounds.YMin, bounds.YMax
		case Z:
			r.Min, r.Max, r.NozzleMin, r.NozzleMax = 0, box.ZMax, nil, bounds.ZMax
		}
		e.Reach = append(e.Reach, r)
	}
	words := append(limitWords(p, e.Limits), reachWords(p, e.Reach)...)
	if more := len(words) - mostWords; more > 0 {
		words = append(words[:mostWords], fmt.Sprintf("%d more like these", more))
	}
	// Feeds have a part in it if enough of them would make it possible, and the shift if one for each slot would.
	roomy := newRules(p, m, pins, least)
	roomy.feeds = slices.Repeat([]int{len(p.Slots)}, len(m.Feeds))
	if nozzle, _ := place(roomy, (*placing).fill, explainEffort); nozzle != nil {
		words = append(words, "feeds: "+strings.Trim(strings.ReplaceAll(fmt.Sprint(m.Feeds), " ", "+"), "[]"))
	}
	e.What = strings.Join(words, "; ")
	loose := newRules(p, m, pins, least)
	for _, reach := range loose.reach {
		for i := range reach {
			reach[i] = anywhere
		}
	}
	if nozzle, _ := place(loose, (*placing).fill, explainEffort); nozzle != nil {
		e.What = "no one shift of the print suits all: " + e.What
	}
	return e
}

func (p *Print) name(slot int) string { return cmp.Or(p.Slots[slot].Name, strconv.Itoa(slot)) }

// limitWords has one sentence for all limits of one nozzle and one why.
func limitWords(p Print, limits []*Limit) (words []string) {
	type key struct {
		nozzle, slots int
		why           string
	}
	var keys []key
	names := map[key][]string{}
	for _, l := range limits {
		k := key{l.Nozzle, len(l.Slots), l.Why}
		if names[k] == nil {
			keys = append(keys, k)
		}
		name := p.name(l.Slots[0])
		if len(l.Slots) == 2 {
			name += " and " + p.name(l.Slots[1])
		}
		if !slices.Contains(names[k], name) {
			names[k] = append(names[k], name)
		}
	}
	for _, k := range keys {
		nozzle := fmt.Sprintf("nozzle %d", k.nozzle+1)
		if k.nozzle == Every {
			nozzle = "any nozzle"
		}
		form := "slot %s can't be printed by %s: %s"
		if k.slots == 2 {
			form = "slots %s can't share %s: %s"
			nozzle = strings.Replace(nozzle, "any", "a", 1)
		} else if len(names[k]) > 1 {
			form = "slots %s can't be printed by %s: %s"
		}
		words = append(words, fmt.Sprintf(form, strings.Join(names[k], ", "), nozzle, k.why))
	}
	return words
}

// reachWords has one sentence for each slot and axis.
func reachWords(p Print, reach []Reach) (words []string) {
	type reached struct {
		slot int
		axis Axis
	}
	index := map[reached]int{}
	for _, r := range reach {
		i, begun := index[reached{r.Slot, r.Axis}]
		if !begun {
			i = len(words)
			index[reached{r.Slot, r.Axis}] = i
			from := &r.Min
			if r.Axis == Z {
				from = nil
			}
			words = append(words, fmt.Sprintf("slot %s reaches %s %s", p.name(r.Slot), r.Axis, extent(from, &r.Max)))
		}
		words[i] += fmt.Sprintf(", nozzle %d %s", r.Nozzle+1, extent(r.NozzleMin, r.NozzleMax))
	}
	return words
}

func extent(least, most *float64) string {
	switch {
	case least == nil:
		return "to " + lengthText(*most) + " mm"
	case most == nil:
		return "from " + lengthText(*least) + " mm"
	}
	return "from " + lengthText(*least) + " to " + lengthText(*most) + " mm"
}

// lengthText shows enough digits to tell whatever is outside a bound from that bound.
func lengthText(mm float64) string {
	return strconv.FormatFloat(math.Round(mm*1000)/1000, 'f', -1, 64)
}
