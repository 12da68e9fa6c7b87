package ledger

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// The small ledgers of a view: all but consumption, which is read as a stream.

// readLedger reads a small ledger, if it was not read before, and returns the rows that count. check, if not nil, is called with each
// row and reports names in it that are unknown.
func readLedger[T any, R RowOf[T]](v *View, k *kept[T], file string, check func(row R, bad func(what, mend string))) ([]*T, error) {
	if k.read {
		return k.live, k.err
	}
	k.read = true
	d, err := decodeFile[T, R](v, file)
	k.all, k.faults, k.err = d.rows, d.faults, err
	if file == Purchases {
		v.known, v.unsure = map[string]bool{}, d.lost || err != nil
		for _, record := range d.broken {
			v.known[Fold(d.layout.field(record, 2))] = true
		}
	}
	if k.err != nil {
		k.faults = faultsOf(k.err)
		return nil, k.err
	}
	if check != nil {
		sound := k.all[:0:0]
		line := 0
		bad := func(what, mend string) { k.faults = append(k.faults, &RowError{file, line, what, mend}) }
		for _, row := range k.all {
			before := len(k.faults)
			line = R(row).head().Line
			check(R(row), bad)
			if len(k.faults) == before {
				sound = append(sound, row)
			}
		}
		k.all = sound
	}
	k.faults.sort()
	if k.err = k.faults.err(); k.err != nil {
		return nil, k.err
	}
	var conflicting map[string][]*T
	exists := v.exists
	if file == Voids {
		exists = v.recorded
	}
	k.live, conflicting = settle[T, R](k.all, exists)
	hidden := v.hidden
	if voids, ok := any(k).(*kept[Void]); ok {
		v.hidden, hidden, voids.live = resolveVoids(voids.live, any(conflicting).(map[string][]*Void))
	} else {
		k.live = slices.DeleteFunc(k.live, func(row *T) bool { return hidden[R(row).head().ID] })
	}
	for _, id := range slices.Sorted(maps.Keys(conflicting)) {
		if hidden[id] {
			continue
		}
		var lines []int
		for _, row := range conflicting[id] {
			lines = append(lines, R(row).head().Line)
		}
		k.conflicts = append(k.conflicts, entryConflict(file, R(conflicting[id][0]).head().ID, lines))
	}
	return k.live, nil
}

// Voids returns the voids that count.
func (v *View) Voids() ([]*Void, error) {
	return readLedger[Void](v, &v.voids, Voids, nil)
}

// reference returns a function that reports a name, in the given column, that its table does not have.
func reference[T any](v *View, column string, t *table[T], file string) func(name string, bad func(what, mend string)) {
	last := "" // the last one that was known, as the next likely is
	return func(name string, bad func(what, mend string)) {
		if name == "" || name == last {
			return
		}
		if Named(t.byKey, name) != nil || !t.sure(name) {
			last = name
			return
		}
		hint := v.hints.near(column, name, func() []string { return slices.Sorted(maps.Keys(t.byKey)) })
		if hint == "" {
			hint = "add it to " + file
		}
		bad(fmt.Sprintf("%s %s is not in %s", column, quoted(name), file), hint)
	}
}

// Purchases returns the purchases that count, one for each spool, by time.
func (v *View) Purchases() ([]*Purchase, error) {
	if v.purchases.read {
		return v.purchases.live, v.purchases.err
	}
	_, err1 := v.Materials()
	_, err2 := v.Cores()
	_, err3 := v.Voids()
	var err4 error // of scales.csv, which is read only if a purchase names a scale
	material := reference(v, "material", &v.materials, Materials)
	core := reference(v, "core", &v.cores, Cores)
	scale := reference(v, "scale", &v.scales, Scales)
	var names map[string]bool
	live, err := readLedger(v, &v.purchases, Purchases, func(p *Purchase, bad func(what, mend string)) {
		if names == nil {
			for _, p := range v.purchases.all {
				v.known[p.Spool] = true
			}
			names = v.known
		}
		material(p.Material, bad)
		core(p.Core, bad)
		if p.Scale != "" {
			_, err4 = v.Scales()
			scale(p.Scale, bad)
		}
		if p.From != "" {
			v.spoolKnown("from", p.From, bad)
		}
	})
	if err := JoinFaults(err, err1, err2, err3, err4); err != nil {
		v.purchases.err = err
		return nil, err
	}
	first := map[string]*Purchase{}
	twice := map[string]*Conflict{}
	v.purchases.live = slices.DeleteFunc(live, func(p *Purchase) bool {
		earlier, ok := first[p.Spool]
		if !ok {
			first[p.Spool], p.Twice = p, false
			return false
		}
		earlier.Twice = true
		c := twice[p.Spool]
		if c == nil {
			c = &Conflict{File: Purchases, ID: p.ID, Lines: []int{earlier.Line}}
			twice[p.Spool] = c
			v.purchases.conflicts = append(v.purchases.conflicts, c)
		}
		c.Lines = append(c.Lines, p.Line)
		return true
	})
	for spool, c := range twice {
		c.What = fmt.Sprintf("spool %s is bought on lines %s; the earlier counts; settle it with: tarebook void --only %s --why REASON", spool, joinLines(slices.Clone(c.Lines)), c.ID)
	}
	return v.purchases.live, nil
}

// mostLines is how many line numbers a message lists.
const mostLines = 8

// joinLines sorts the numbers of lines and lists them, as "2 and 3". Of many lines it lists the first ones and counts the rest.
func joinLines(lines []int) string {
	slices.Sort(lines)
	var words []string
	for _, n := range lines[:min(len(lines), mostLines)] {
		words = append(words, fmt.Sprint(n))
	}
	if more := len(lines) - len(words); more > 0 {
		words = append(words, fmt.Sprintf("%d more", more))
	}
	return strings.Join(words, " and ")
}

// Spools returns the ids of all spools that a purchase names, also a voided one.
func (v *View) Spools() ([]string, error) {
	_, err := v.Purchases()
	return slices.Sorted(maps.Keys(v.known)), err
}

// spoolKnown reports a spool, in the given column, that was never bought.
func (v *View) spoolKnown(column, spool string, bad func(what, mend string)) {
	if spool == "" || v.known[spool] || v.unsure {
		return
	}
	hint := v.hints.near("spool", spool, func() []string { return slices.Sorted(maps.Keys(v.known)) })
	if hint == "" {
		hint = "book its purchase first, with: tarebook buy"
	}
	bad(fmt.Sprintf("%s %s was never bought", column, spool), hint)
}

// Weighins returns the weigh-ins that count, by time.
func (v *View) Weighins() ([]*Weighin, error) {
	if v.weighins.read {
		return v.weighins.live, v.weighins.err
	}
	_, err1 := v.Purchases()
	_, err2 := v.Scales()
	scale := reference(v, "scale", &v.scales, Scales)
	last := ""
	_, err := readLedger(v, &v.weighins, Weighins, func(w *Weighin, bad func(what, mend string)) {
		v.spoolKnown("spool", w.Spool, bad)
		scale(w.Scale, bad)
		if w.Scale == last {
			w.Scale = last // one string for all is compared without a look at its letters
		}
		last = w.Scale
	})
	v.weighins.err = JoinFaults(err, err1, err2)
	return v.weighins.live, v.weighins.err
}

// Needs returns the rows of the queue that count, by time.
func (v *View) Needs() ([]*Need, error) {
	if v.needs.read {
		return v.needs.live, v.needs.err
	}
	_, err1 := v.Purchases()
	_, err2 := v.Materials()
	material := reference(v, "material", &v.materials, Materials)
	_, err := readLedger(v, &v.needs, Queue, func(n *Need, bad func(what, mend string)) {
		for _, id := range n.Turn() {
			v.spoolKnown("spool", id, bad)
		}
		material(n.Material, bad)
	})
	v.needs.err = JoinFaults(err, err1, err2)
	return v.needs.live, v.needs.err
}

// Moves returns the moves that count, by time.
func (v *View) Moves() ([]*Move, error) {
	if v.moves.read {
		return v.moves.live, v.moves.err
	}
	_, err1 := v.Purchases()
	_, err := readLedger(v, &v.moves, Moves, func(m *Move, bad func(what, mend string)) {
		v.spoolKnown("spool", m.Spool, bad)
	})
	v.moves.err = JoinFaults(err, err1)
	return v.moves.live, v.moves.err
}

// Conflicts returns the conflicts in the files that were read so far.
func (v *View) Conflicts() []*Conflict {
	return slices.Concat(v.purchases.conflicts, v.weighins.conflicts, v.consumption, v.needs.conflicts, v.moves.conflicts, v.voids.conflicts, v.seals.conflicts, v.bills.conflicts, v.sliced.conflicts)
}
