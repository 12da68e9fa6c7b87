package ledger

import (
	"io"
	"slices"
	"strings"
	"time"
)

// A command that records row after row looks at the same book each time. Its views read each small file again, but decode only what
// stands behind the text that was there before; so it does not matter who has changed a file, or how. Consumption is too long for that:
// it counts as unchanged by what the disk says of its file, and only where no change can hide from that.

// Memory is what the views of a book have read, for later views of it. A Memory{} is empty.
type Memory struct {
	files map[string]any // of each small file that was read, a *remembered of its rows
	made  []string       // entries that were recorded meanwhile
}

// remembered is a file that is sound and whose last line has its end.
type remembered[T any] struct {
	text string
	decoded[T]
}

// decodeAgain decodes a small file of which an earlier view may have decoded the beginning.
func decodeAgain[T any, R rowOf[T]](v *View, file string, f io.Reader) (d decoded[T], err error) {
	var b strings.Builder
	b.Grow(int(v.size[file]))
	if _, err := io.Copy(&b, f); err != nil {
		return d, err
	}
	text, m := b.String(), v.book.Memory
	was, _ := m.files[file].(*remembered[T])
	switch {
	case was == nil || !strings.HasPrefix(text, was.text):
		d, err = decode[T, R](scanText(text))
	case len(text) == len(was.text):
		text, d = was.text, was.decoded
	default:
		d, err = decodeMore[T, R](was, strings.Clone(text[len(was.text):]))
	}
	v.texts[file] = text
	if delete(m.files, file); err == nil && d.faults == nil && strings.HasSuffix(text, "\n") {
		if m.files == nil {
			m.files = map[string]any{}
		}
		m.files[file] = &remembered[T]{text, d}
	}
	return d, err
}

// decodeMore decodes what stands behind the lines that are remembered.
func decodeMore[T any, R rowOf[T]](was *remembered[T], text string) (d decoded[T], err error) {
	d = was.decoded
	d.rows, d.room, d.lines, d.raws = slices.Clip(d.rows), nil, slices.Clip(d.lines), slices.Clip(d.raws)
	row := new(T)
	s := &scanner{block: text, line: strings.Count(was.text, "\n"), begun: true, eof: true}
	err = d.more(s, R(row), func() { d.keep(row) })
	return d, err
}

// note remembers the entries of rows that were recorded.
func (m *Memory) note(batch Batch) {
	batch.eachRow(func(r row) {
		if r, ok := r.(Row); ok {
			m.made = append(m.made, r.head().ID)
		}
	})
}

// SameConsumption reports whether the same rows of consumption count as in an earlier view, and all small files that v has read say the
// same as then but weigh-ins and voids; only entries that were recorded after o may be voided. v then has the conflicts of o, which has
// read consumption. It is false unless both views have the same Memory, and where that is not certain.
func (v *View) SameConsumption(o *View) bool {
	if v.texts == nil || o.texts == nil || v.book.Memory != o.book.Memory || !v.unchanged(o) {
		return false
	}
	for file, text := range v.texts {
		if was, read := o.texts[file]; file != Weighins && file != Voids && (!read || was != text) {
			return false
		}
	}
	later := v.book.Memory.made[o.made:]
	for id := range v.hidden {
		if !o.hidden[id] && !slices.Contains(later, id) { // consumption of then has no row with an entry of later
			return false
		}
	}
	for id := range o.hidden {
		if !v.hidden[id] {
			return false
		}
	}
	v.consumption = slices.Clone(o.consumption)
	return true
}

// diskClock is the coarsest step of the times that a disk gives to files: FAT has two seconds.
const diskClock = 2 * time.Second

// unchanged reports whether consumption is certainly as an earlier view has read it. Every write gives a file a new time, unless the last
// write was within the same step of the disk's clock. So the file must have been left alone for longer when o was made, by that same
// clock, which the lock file tells. A program may set the time of a write back, but not that of a change.
func (v *View) unchanged(o *View) bool {
	was, is := o.found[ConsumptionFile], v.found[ConsumptionFile]
	if was == nil || is == nil {
		return was == nil && is == nil
	}
	changed := changeTime(was)
	return same(was, is) && o.size[ConsumptionFile] == v.size[ConsumptionFile] && changed.Equal(changeTime(is)) &&
		o.clock.Sub(was.ModTime()) > diskClock && o.clock.Sub(changed) > diskClock
}

// remember prepares a new view for the book's Memory. It comes before the look at other files.
func (v *View) remember() {
	if v.book.Memory == nil || !v.asOf.IsZero() {
		return
	}
	v.texts, v.made = map[string]string{}, len(v.book.Memory.made)
	if lock, err := v.book.disk().Lstat(v.book.Dir, lockFile); err == nil {
		v.clock = lock.ModTime()
	}
}
