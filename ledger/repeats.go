package ledger

import (
	"hash/maphash"
	"maps"
	"math/bits"
	"slices"
	"strings"
)

// Which rows of consumption repeat. Entries are made in ascending order, so in a file that nothing has disturbed none can, and that is
// known without keeping them: of each block only its ascending runs are kept, and where no two runs overlap no entry repeats. Only what
// overlaps, and rows without an entry, are kept as fingerprints of 64 bits; only where two are the same the rows themselves are compared.

// mostRuns is how many ascending runs of one block are kept: one row out of its place makes up to three. Of a block with more its
// fingerprints are kept, which cost 8 bytes a row, and up to 4 while they are compared, and spare another look at it.
const mostRuns = 3

const idLength = 26 // of a ULID, and of the ID of a row without an entry

// entryRun is a sequence of ascending entries in one block.
type entryRun struct {
	block           int
	least, greatest [idLength]byte
	kept            bool // its fingerprints are kept
}

// blockOrder is what one worker finds of the order of entries.
type blockOrder struct {
	seed   maphash.Seed
	runs   []entryRun
	prints printList

	// Of the present block.
	present []entryRun
	entries []string // share the memory of the block

	_ ownLines
}

// add notes a row. Its strings need not be valid after end.
func (o *blockOrder) add(row *Consumption) {
	if row.Entry == "" {
		o.prints.add(fingerprint(o.seed, row))
		return
	}
	if o.entries == nil {
		o.entries = make([]string, 0, streamBlock/64) // a row is about twice as long
	}
	if n := len(o.entries); n == 0 || row.ID <= o.entries[n-1] {
		o.endRun()
		o.present = append(o.present, entryRun{least: [idLength]byte([]byte(row.ID))})
	}
	o.entries = append(o.entries, row.ID)
}

func (o *blockOrder) endRun() {
	if n := len(o.present); n > 0 {
		copy(o.present[n-1].greatest[:], o.entries[len(o.entries)-1])
	}
}

// end ends a block.
func (o *blockOrder) end(block int) {
	o.endRun()
	runs := o.present
	if len(runs) > mostRuns {
		for _, id := range o.entries {
			o.prints.add(maphash.String(o.seed, id))
		}
		whole := runs[0]
		for _, r := range runs {
			if string(r.least[:]) < string(whole.least[:]) {
				whole.least = r.least
			}
			if string(r.greatest[:]) > string(whole.greatest[:]) {
				whole.greatest = r.greatest
			}
		}
		whole.kept = true
		runs = append(runs[:0], whole)
	}
	for _, r := range runs {
		r.block = block
		o.runs = append(o.runs, r)
	}
	clear(o.entries)
	o.present, o.entries = o.present[:0], o.entries[:0]
}

// fingerprint returns a hash by which a row is known: of its entry, or of its content if it has none.
func fingerprint(seed maphash.Seed, row *Consumption) uint64 {
	if row.Entry != "" {
		return maphash.String(seed, row.ID)
	}
	return row.hash(seed)
}

// overlapping returns the blocks whose runs overlap with another and whose fingerprints are not kept.
func overlapping(orders []*blockOrder) map[int]bool {
	var runs []entryRun
	for _, o := range orders {
		runs = append(runs, o.runs...)
	}
	slices.SortFunc(runs, func(a, b entryRun) int { return strings.Compare(string(a.least[:]), string(b.least[:])) })
	blocks := map[int]bool{}
	greatest := ""
	for i := range runs {
		r := &runs[i]
		least, end := string(r.least[:]), string(r.greatest[:])
		overlaps := i > 0 && least <= greatest || i+1 < len(runs) && string(runs[i+1].least[:]) <= end
		if overlaps && !r.kept {
			blocks[r.block] = true
		}
		greatest = max(greatest, end)
	}
	return blocks
}

// repeats describes rows that are the same entry, or have the same content and no entry.
type repeats struct {
	counts int // the line that counts; 0 if the rows differ, so that none counts
	lines  []int
	text   string
}

// shown returns the line of the row that stands for all.
func (r *repeats) shown() int {
	if r.counts == 0 {
		return r.lines[0]
	}
	return r.counts
}

// repeated is all that repeats in a file.
type repeated struct {
	seed   maphash.Seed
	prints printSet
	rows   map[string]*repeats // by entry, or by content
}

// of returns what repeats the row; nil if nothing does.
func (t *repeated) of(row *Consumption) *repeats {
	if t == nil || !t.prints.has(fingerprint(t.seed, row)) {
		return nil
	}
	return t.rows[identity(row)]
}

// printSet is a set of fingerprints. Most that it is asked for are not in it, which a bit tells.
type printSet struct {
	all  map[uint64]bool
	bits printBits
}

func newPrintSet(prints []uint64) printSet {
	s := printSet{map[uint64]bool{}, newPrintBits(len(prints))}
	for _, p := range prints {
		s.all[p] = true
		s.bits.add(p)
	}
	return s
}

func (s printSet) has(p uint64) bool { return s.bits.mayHold(p) && s.all[p] }

// printList is any number of fingerprints, in pieces: none is copied when there are more.
type printList [][]uint64

func (l *printList) add(p uint64) {
	last := len(*l) - 1
	if last < 0 || len((*l)[last]) == cap((*l)[last]) {
		*l = append(*l, make([]uint64, 0, 1024))
		last++
	}
	(*l)[last] = append((*l)[last], p)
}

func (l printList) length() (n int) {
	for _, piece := range l {
		n += len(piece)
	}
	return n
}

// printBits tells which fingerprints were not added. For all that end alike there is one bit, so it may hold others than were.
type printBits []uint64

// newPrintBits returns 8 to 16 bits for each of so many fingerprints; its size is a power of 2.
func newPrintBits(prints int) printBits {
	b := make(printBits, 1<<bits.Len(uint(prints/8)))
	clear(b) // of new memory, what is read first is fetched twice: as zeros that all share, and as a page of its own once it is written to
	return b
}

func (b printBits) add(p uint64) {
	n := p & uint64(64*len(b)-1)
	b[n/64] |= 1 << (n % 64)
}

func (b printBits) mayHold(p uint64) bool {
	n := p & uint64(64*len(b)-1)
	return b[n/64]>>(n%64)&1 != 0
}

// identity returns the entry, or the content, which is no entry.
func identity(row *Consumption) string {
	if row.Entry == "" {
		return row.canonical()
	}
	return row.ID
}

// findRepeated returns what repeats in the file that run has read; nil if nothing does.
func (p *pass) findRepeated() (*repeated, error) {
	orders := p.orders
	if blocks := overlapping(orders); len(blocks) > 0 {
		again := make([]*blockOrder, p.workers)
		err := p.read(len(again), blocks, func(i int) worker {
			o := &blockOrder{seed: p.seed}
			again[i] = o
			note := func(id string) bool { // of a row that may be unsound; it is not among the rows that are compared then
				o.prints.add(maphash.String(p.seed, id))
				return false
			}
			return worker{wants: note, row: func(row *Consumption) {
				if row.Entry != "" {
					note(row.ID)
				}
			}}
		})
		if err != nil && faultsOf(err) == nil {
			return nil, err
		}
		orders = append(slices.Clone(orders), again...)
	}
	prints := twicePrints(orders)
	p.orders = nil
	if len(prints) == 0 {
		return nil, nil
	}
	return p.compareRepeated(newPrintSet(prints))
}

// twicePrints returns the fingerprints that stand more than once, each once.
func twicePrints(orders []*blockOrder) []uint64 {
	var all printList
	for _, o := range orders {
		all = append(all, o.prints...)
	}
	// Only those that end as another does are sorted.
	once, again := newPrintBits(all.length()), newPrintBits(all.length())
	for _, piece := range all {
		for _, p := range piece {
			if once.mayHold(p) {
				again.add(p)
			}
			once.add(p)
		}
	}
	var alike []uint64
	for _, piece := range all {
		for _, p := range piece {
			if again.mayHold(p) {
				alike = append(alike, p)
			}
		}
	}
	slices.Sort(alike)
	twice := alike[:0]
	for i := 1; i < len(alike); i++ {
		if p := alike[i]; p == alike[i-1] && (len(twice) == 0 || twice[len(twice)-1] != p) {
			twice = append(twice, p)
		}
	}
	return twice
}

// compareRepeated reads the rows with the given fingerprints again and returns those that are the same.
func (p *pass) compareRepeated(prints printSet) (*repeated, error) {
	type copied struct {
		line     int
		id, text string
		entry    bool
	}
	copies := make([][]copied, p.workers)
	err := p.read(len(copies), nil, func(i int) worker {
		wants := func(id string) bool { return prints.has(maphash.String(p.seed, id)) }
		return worker{wants: wants, row: func(row *Consumption) {
			if prints.has(fingerprint(p.seed, row)) {
				c := copied{row.Line, strings.Clone(identity(row)), "", row.Entry != ""}
				if c.entry {
					c.text = contentOf(row.canonical())
				}
				copies[i] = append(copies[i], c)
			}
		}}
	})
	if err != nil && faultsOf(err) == nil {
		return nil, err
	}
	all := slices.Concat(copies...)
	slices.SortFunc(all, func(a, b copied) int { return a.line - b.line })
	rows := map[string]*repeats{}
	for _, c := range all {
		r := rows[c.id]
		if r == nil {
			rows[c.id] = &repeats{c.line, []int{c.line}, c.text}
			continue
		}
		r.lines = append(r.lines, c.line)
		if r.text != c.text {
			r.counts = 0
		}
	}
	maps.DeleteFunc(rows, func(_ string, r *repeats) bool { return len(r.lines) == 1 })
	if len(rows) == 0 {
		return nil, nil
	}
	return &repeated{p.seed, prints, rows}, nil
}

// hiddenRows tells the IDs that voids hide.
type hiddenRows struct {
	ids       map[string]bool
	filter    idFilter
	byContent bool // an ID may be that of a row without an entry
}

func newHiddenRows(ids map[string]bool) *hiddenRows {
	h := &hiddenRows{ids: ids, filter: newIDFilter(len(ids))}
	for id := range ids {
		h.filter.add(id)
		h.byContent = h.byContent || len(id) == idLength && strings.Trim(id, "0123456789ABCDEF") == ""
	}
	return h
}

// has reports whether the ID, which is blank or that of a row, is hidden.
func (h *hiddenRows) has(id string) bool { return h.filter.mayHold(id) && h.ids[id] }

// idFilter tells which IDs were not added, by their last eight characters, in which entries differ most. Nearly all rows are in no map of a
// few IDs.
type idFilter struct{ bits printBits }

func newIDFilter(ids int) idFilter { return idFilter{newPrintBits(2 * ids)} }

// scattered returns a hash of an ID's last eight characters, whose low bits depend on all of them.
func scattered(id string) uint64 {
	const scatter = 0x9e3779b97f4a7c15 // 2 to the 64th by the golden ratio, as usual for hashes by multiplication
	high, low := bits.Mul64(eightBytes(id, idLength-8), scatter)
	return high ^ low
}

func (f idFilter) add(id string) {
	if len(id) == idLength {
		f.bits.add(scattered(id))
	}
}

// mayHold reports whether an ID may have been added; false for a blank one.
func (f idFilter) mayHold(id string) bool {
	return len(id) == idLength && f.bits.mayHold(scattered(id))
}
