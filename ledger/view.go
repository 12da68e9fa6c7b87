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
)

// View is a snapshot of a book: every file up to the length it had at one moment. Files are read when first asked
// for, and only those: a command is troubled by the rows it needs alone.
type View struct {
	book  *Book
	asOf  Time
	until string // rows with a greater entry do not exist; blank: all do
	size  map[string]int64
	found map[string]fs.FileInfo // the files as they were
	odd   map[string]Faults      // what stands in place of a file and is none

	settings  *Settings
	materials table[Material]
	cores     table[Core]
	scales    table[Scale]
	printers  table[Printer]
	purges    table[PairPurge]
	clients   table[Client]

	purchases kept[Purchase]
	weighins  kept[Weighin]
	needs     kept[Need]
	moves     kept[Move]
	voids     kept[Void]
	seals     kept[Seal]
	bills     kept[Bill]

	known       map[string]bool // spools that any row of purchases.csv names
	unsure      bool            // it may name more of them, in rows that could not be read
	hidden      map[string]bool // what live voids hide
	consumption []*Conflict
	hints       hints
	stream      *rowStream // of consumption, when it was asked for ahead
}

// kept is one ledger once it was read.
type kept[T any] struct {
	read      bool
	all       []*T // every sound row, in the order of lines
	live      []*T // what counts, in the order of the ledger
	conflicts []*Conflict
	faults    Faults
	err       error
}

func (b *Book) snapshot(asOf Time) (*View, error) {
	v := &View{book: b, asOf: asOf, size: map[string]int64{}, found: map[string]fs.FileInfo{}, odd: map[string]Faults{}, hints: hints{mostHints, map[string][]string{}}}
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
	return v, nil
}

// AsOf returns the instant after which no row exists; the zero Time when the view is of all.
func (v *View) AsOf() Time { return v.asOf }

// Until returns a view of the same files without the rows of ledgers that were recorded after a bill was issued. Rows typed by hand don't
// say when that was, and stay; tables have no times.
func (v *View) Until(b *Bill) *View {
	return &View{book: v.book, asOf: v.asOf, until: b.issued(), size: v.size, found: v.found, odd: v.odd, hints: v.hints}
}

// exists reports whether a row is there in a view of a time or of the entries until one.
func (v *View) exists(h *Head) bool {
	return (v.asOf.IsZero() || !h.At.After(v.asOf)) && (v.until == "" || h.Entry == "" || strings.ToUpper(h.Entry) <= v.until)
}

// open returns the snapshot of a file, nil when it was not there.
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

// part reads a file up to a length, which it must have.
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
	if err == io.EOF && p.left > 0 { // another program made it shorter meanwhile
		err = changed(p.file)
	}
	return n, err
}

func (p *part) Close() error { return p.f.Close() }

// decodeFile reads a table or a small ledger; one that was not there has no rows.
func decodeFile[T any, R interface {
	*T
	row
}](v *View, file string) (d decoded[T], err error) {
	f, err := v.open(file)
	if err != nil || f == nil {
		return d, err
	}
	defer f.Close()
	return decode[T, R](v.newScanner(f, file))
}

// newScanner scans what was opened of a file.
func (v *View) newScanner(r io.Reader, file string) *scanner {
	return newScanner(r, int(min(blockSize, v.size[file]+1)))
}

// readLedger reads a small ledger once: its rows, what they name, which of them count.
func readLedger[T any, R interface {
	*T
	Row
}](v *View, k *kept[T], file string, refer func(row R, bad func(what, mend string))) ([]*T, error) {
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
	if refer != nil {
		sound := k.all[:0:0]
		line := 0
		bad := func(what, mend string) { k.faults = append(k.faults, &RowError{file, line, what, mend}) }
		for _, row := range k.all {
			before := len(k.faults)
			line = R(row).head().Line
			refer(R(row), bad)
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
	k.live, conflicting = settle[T, R](k.all, v.exists)
	hidden := v.hidden
	if voids, ok := any(k).(*kept[Void]); ok {
		v.hidden, hidden, voids.live = targets(voids.live, any(conflicting).(map[string][]*Void))
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

// reference returns a check that name, of a column, is one that its table knows.
func reference[T any](v *View, column string, t *table[T], file string) func(name string, bad func(what, mend string)) {
	return func(name string, bad func(what, mend string)) {
		if name == "" || Named(t.byKey, name) != nil || !t.sure(name) {
			return
		}
		hint := v.hints.near(column, name, func() []string { return slices.Sorted(maps.Keys(t.byKey)) })
		if hint == "" {
			hint = "add it to " + file
		}
		bad(fmt.Sprintf("%s %s is not in %s", column, quoted(name), file), hint)
	}
}

// Purchases returns the spools' purchases that count, one a spool, in the order of the ledger.
func (v *View) Purchases() ([]*Purchase, error) {
	if v.purchases.read {
		return v.purchases.live, v.purchases.err
	}
	_, err1 := v.Materials()
	_, err2 := v.Cores()
	_, err3 := v.Voids()
	var err4 error // of scales.csv, which few purchases need
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
			first[p.Spool] = p
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

// mostLines is how many lines a message lists.
const mostLines = 8

// joinLines lists lines, sorted, as 2 and 3; of many the first, and how many more.
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

// Spools returns the ids of all spools that any purchase names, also a voided one.
func (v *View) Spools() ([]string, error) {
	_, err := v.Purchases()
	return slices.Sorted(maps.Keys(v.known)), err
}

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

// Weighins returns the weigh-ins that count, in the order of the ledger.
func (v *View) Weighins() ([]*Weighin, error) {
	if v.weighins.read {
		return v.weighins.live, v.weighins.err
	}
	_, err1 := v.Purchases()
	_, err2 := v.Scales()
	scale := reference(v, "scale", &v.scales, Scales)
	_, err := readLedger(v, &v.weighins, Weighins, func(w *Weighin, bad func(what, mend string)) {
		v.spoolKnown("spool", w.Spool, bad)
		scale(w.Scale, bad)
	})
	v.weighins.err = JoinFaults(err, err1, err2)
	return v.weighins.live, v.weighins.err
}

// Needs returns the queue's rows that count, in the order of the ledger.
func (v *View) Needs() ([]*Need, error) {
	if v.needs.read {
		return v.needs.live, v.needs.err
	}
	_, err1 := v.Purchases()
	_, err2 := v.Materials()
	material := reference(v, "material", &v.materials, Materials)
	_, err := readLedger(v, &v.needs, Queue, func(n *Need, bad func(what, mend string)) {
		v.spoolKnown("spool", n.Spool, bad)
		material(n.Material, bad)
	})
	v.needs.err = JoinFaults(err, err1, err2)
	return v.needs.live, v.needs.err
}

// Moves returns the moves that count, in the order of the ledger.
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

// Conflicts returns the conflicts in the files that were read.
func (v *View) Conflicts() []*Conflict {
	return slices.Concat(v.purchases.conflicts, v.weighins.conflicts, v.consumption, v.needs.conflicts, v.moves.conflicts, v.voids.conflicts, v.seals.conflicts, v.bills.conflicts)
}
