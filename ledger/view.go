package ledger

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// View is a snapshot of a book: every file up to the length that it had at one moment. A file is read when it is first asked for, so
// that faults in other files don't stop a command that does not need them.
type View struct {
	book  *Book
	asOf  Time
	until string // rows with a greater entry do not exist; blank: all do
	past  Time   // rows but voids with a later time do not exist; zero: all do
	size  map[string]int64
	found map[string]fs.FileInfo // of each file, when the snapshot was made
	odd   map[string]Faults      // of each file that is not a regular one

	lines *settingLines // nil until they are read

	settings  *Settings
	materials table[Material]
	cores     table[Core]
	scales    table[Scale]
	printers  table[Printer]
	purges    table[PairPurge]
	nozzles   table[Nozzle]
	limits    table[Limit]
	clients   table[Client]

	purchases kept[Purchase]
	weighins  kept[Weighin]
	needs     kept[Need]
	moves     kept[Move]
	voids     kept[Void]
	seals     kept[Seal]
	bills     kept[Bill]
	sliced    kept[SlicedFile]

	known       map[string]bool // spools that any row of purchases.csv names, voided or broken too
	unsure      bool            // rows that could not be read may name more spools
	hidden      map[string]bool // IDs that live voids hide
	consumption []*Conflict
	hints       hints
	stream      *blockStream // of consumption; set by ReadAhead

	texts map[string]string // of small files that were read; nil without a Memory
	made  int               // entries that the Memory had when the view was made
	clock time.Time         // of the disk, then or before
	index *spoolIndex       // of known; set when consumption is read
}

// kept is one small ledger that was read.
type kept[T any] struct {
	read      bool
	all       []*T // every sound row, in the order of lines
	live      []*T // the rows that count, by time
	conflicts []*Conflict
	faults    Faults
	err       error
}

func (b *Book) snapshot(asOf Time) (*View, error) {
	v := &View{book: b, asOf: asOf, size: map[string]int64{}, found: map[string]fs.FileInfo{}, odd: map[string]Faults{}, hints: hints{mostHints, map[string][]string{}}}
	v.remember()
	for _, file := range slices.Concat(Tables, Ledgers) {
		info, err := b.disk().Lstat(b.Dir, file)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		v.size[file], v.found[file] = info.Size(), info
		if odd := notRegular(file, info.Mode()); odd != nil {
			v.odd[file] = odd
		}
	}
	for _, file := range []string{SettingsFile, Purchases} {
		if _, ok := v.size[file]; !ok {
			return nil, fmt.Errorf("%w in %s: %s is not there; start one with: tarebook init", ErrNoBook, b.Dir, file)
		}
	}
	if err := v.checkFormat(); err != nil {
		return nil, err
	}
	return v, nil
}

// AsOf returns the instant up to which the view has rows; the zero Time if it has all.
func (v *View) AsOf() Time { return v.asOf }

// Until returns a view of the same files without the rows of ledgers that were recorded after a bill was issued. Rows typed by hand don't
// say when that was, and stay; tables have no times.
func (v *View) Until(b *Bill) *View {
	return &View{book: v.book, asOf: v.asOf, until: b.issued(), size: v.size, found: v.found, odd: v.odd, hints: v.hints, lines: v.lines}
}

// Past returns a view of the same files without what happened after a time. Unlike in a view as of that time, what was voided since is
// voided.
func (v *View) Past(at Time) *View {
	return &View{book: v.book, asOf: v.asOf, until: v.until, past: at, size: v.size, found: v.found, odd: v.odd, hints: v.hints, lines: v.lines}
}

// exists reports whether a row is there in a view of a time or of the entries until one.
func (v *View) exists(h *Head) bool {
	return v.recorded(h) && (v.past.IsZero() || !h.At.After(v.past))
}

// recorded is exists for voids, which count whenever they were made.
func (v *View) recorded(h *Head) bool {
	return (v.asOf.IsZero() || !h.At.After(v.asOf)) && (v.until == "" || h.Entry == "" || strings.ToUpper(h.Entry) <= v.until)
}

// open opens a file as it was in the snapshot; nil if it did not exist.
func (v *View) open(file string) (io.ReadCloser, error) {
	size, ok := v.size[file]
	if !ok || size == 0 && v.odd[file] == nil && v.beingMade(file) {
		return nil, nil
	}
	if odd := v.odd[file]; odd != nil {
		return nil, odd
	}
	f, err := openFile(filepath.Join(v.book.Dir, file))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, changed(file)
	}
	if err != nil {
		return nil, err
	}
	now, err := f.Stat()
	if err == nil && (!os.SameFile(v.found[file], now) || now.Size() < size) {
		err = changed(file)
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return &part{f, file, size}, nil
}

// part reads a file up to a length. A shorter file is an error.
type part struct {
	f    *os.File
	file string
	left int64
}

func (p *part) Read(b []byte) (int, error) {
	if p.left == 0 {
		return 0, io.EOF
	}
	n, err := p.f.Read(b[:min(int64(len(b)), p.left)])
	p.left -= int64(n)
	if err == io.EOF && p.left > 0 { // another program has cut it
		err = changed(p.file)
	}
	return n, err
}

func (p *part) Close() error { return p.f.Close() }

// decodeFile reads a table or a small ledger. A file that does not exist has no rows.
func decodeFile[T any, R rowOf[T]](v *View, file string) (d decoded[T], err error) {
	f, err := v.open(file)
	if err != nil || f == nil {
		return d, err
	}
	defer f.Close()
	if v.texts != nil {
		return decodeAgain[T, R](v, file, f)
	}
	return decode[T, R](v.newScanner(f, file))
}

// newScanner returns a scanner of an opened file, with a block no larger than the file.
func (v *View) newScanner(r io.Reader, file string) *scanner {
	return newScanner(r, int(min(blockSize, v.size[file]+1)))
}

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
