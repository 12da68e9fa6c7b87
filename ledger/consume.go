package ledger

import (
	"cmp"
	"fmt"
	"hash/maphash"
	"maps"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
)

// A ConsumptionFold takes consumption rows in any order. Rows are reused: what a fold keeps, it clones.
type ConsumptionFold interface {
	Add(*Consumption)
	Reset() // forgets all rows that were added, because the pass starts again
}

// A SharedFold is a fold whose rows several workers add at a time, each to a fold of its own. The memory of a row's strings is used for
// other rows after Add: what is not cloned changes.
type SharedFold interface {
	ConsumptionFold
	Split() SharedFold // returns a fold of the same kind without rows
	Join(SharedFold)   // adds what a fold that Split returned has gathered; that one is not used any more
}

// maxFaults is how many faults of a broken ledger one pass keeps. Verify keeps all.
const maxFaults = 100

// FoldConsumption adds every live consumption row to the fold, once each and in no particular order. Memory grows only with rows that
// have no entry and with entries that come out of order, by up to 12 bytes each, because only those can repeat.
func (v *View) FoldConsumption(f ConsumptionFold) error {
	p, err := v.newPass(f, maxFaults)
	if err != nil {
		return err
	}
	_, err = p.runAll()
	return err
}

// runAll runs the pass. If rows repeat, it notes the conflicts, resets the fold and runs the pass once more without the copies. It returns
// what repeats.
func (p *pass) runAll() (*repeated, error) {
	err := p.run(nil)
	if err != nil && (!p.all || faultsOf(err) == nil) {
		return nil, err
	}
	twice, failed := p.findRepeated()
	if failed != nil || twice == nil {
		return nil, cmp.Or(failed, err)
	}
	p.noteConflicts(twice)
	p.fold.Reset()
	return twice, p.run(twice)
}

// watchConsumption calls each with every sound row, once for each entry and voided ones too, after it has noted the conflicts. Its error
// holds all faults.
func (v *View) watchConsumption(each func(*Consumption)) error {
	_, e1 := v.Purchases()
	_, e2 := v.Voids()
	// Faults in those files are reported elsewhere. Only if no spool is known, nothing can be said about consumption.
	if err := cmp.Or(e1, e2); err != nil && (faultsOf(err) == nil || len(v.known) == 0) {
		return err
	}
	p := v.passOf(nothing{}, math.MaxInt)
	if err := p.run(nil); err != nil && faultsOf(err) == nil {
		return err
	}
	twice, err := p.findRepeated()
	if err != nil && faultsOf(err) == nil {
		return err
	}
	p.noteConflicts(twice)
	return p.read(1, nil, func(int) worker {
		return worker{keeps: true, row: func(row *Consumption) {
			row.setID()
			if r := twice.of(row); r == nil || r.shown() == row.Line {
				each(row)
			}
		}}
	})
}

// checkAll folds every sound row, once for each entry and voided ones too. If rows repeat, the conflicts are noted before the fold is
// reset. Its error holds all faults.
func (v *View) checkAll(f SharedFold) error {
	p := v.passOf(f, math.MaxInt)
	p.all = true
	_, err := p.runAll()
	return err
}

// nothing is a fold that keeps no rows.
type nothing struct{}

func (nothing) Add(*Consumption)  {}
func (nothing) Reset()            {}
func (nothing) Split() SharedFold { return nothing{} }
func (nothing) Join(SharedFold)   {}

// setID sets the ID of a row without an entry, by its content.
func (h *Head) setID() {
	if h.ID == "" {
		h.ID = strings.ToUpper(contentID(h.canonical()))
	}
}

// pass is one run over consumption.csv; it may read the file several times.
type pass struct {
	v      *View
	fold   ConsumptionFold
	faults Faults
	limit  int
	all    bool // voided rows are folded too, and sound rows of a file with faults

	block   int           // bytes of a block
	workers int           // of a shared fold
	seed    maphash.Seed  // of fingerprints
	orders  []*blockOrder // what each worker found of the order of entries
}

func (v *View) newPass(f ConsumptionFold, limit int) (*pass, error) {
	_, err1 := v.Purchases()
	_, err2 := v.Voids()
	if err := JoinFaults(err1, err2); err != nil {
		return nil, err
	}
	return v.passOf(f, limit), nil
}

func (v *View) passOf(f ConsumptionFold, limit int) *pass {
	return &pass{v: v, fold: f, limit: limit, block: streamBlock, workers: v.workers(), seed: maphash.MakeSeed()}
}

// run folds the file. If it is known what repeats, only the row that counts is folded.
func (p *pass) run(twice *repeated) error {
	p.orders = nil
	p.v.consumption = nil
	folds := []ConsumptionFold{p.fold}
	shared, ok := p.fold.(SharedFold)
	if ok {
		for range p.workers - 1 {
			folds = append(folds, shared.Split())
		}
	}
	hidden := newHiddenRows(p.v.hidden)
	err := p.read(len(folds), nil, func(i int) worker {
		fold := folds[i]
		add := func(row *Consumption) {
			if !ok || p.all || hidden.byContent {
				row.setID()
			}
			if p.all || !hidden.has(row.ID) {
				fold.Add(row)
			}
		}
		if twice != nil {
			return worker{keeps: !ok, row: func(row *Consumption) {
				if r := twice.of(row); r == nil || r.counts == row.Line || p.all && r.shown() == row.Line {
					add(row)
				}
			}}
		}
		order := &blockOrder{seed: p.seed}
		p.orders = append(p.orders, order)
		return worker{keeps: !ok, end: order.end, row: func(row *Consumption) {
			order.add(row)
			add(row)
		}}
	})
	if err != nil && (!p.all || faultsOf(err) == nil) {
		return err
	}
	for _, fold := range folds[1:] {
		shared.Join(fold.(SharedFold))
	}
	p.noteConflicts(twice)
	return err
}

func (p *pass) noteConflicts(twice *repeated) {
	if twice == nil {
		return
	}
	for _, id := range slices.Sorted(maps.Keys(twice.rows)) {
		if r := twice.rows[id]; r.counts == 0 && !p.v.hidden[id] {
			p.v.consumption = append(p.v.consumption, entryConflict(ConsumptionFile, id, r.lines))
		}
	}
}

const (
	blocksOfWorker = 4 // for how many a worker is worth its start
	mostWorkers    = 8
)

// workers returns how many workers should share a fold.
func (v *View) workers() int {
	return max(1, min(runtime.GOMAXPROCS(0), int(v.size[ConsumptionFile]/(blocksOfWorker*streamBlock)), mostWorkers))
}

// worker is what is done with the rows of the blocks that one goroutine decodes.
type worker struct {
	row   func(*Consumption)
	wants func(id string) bool // of entries: most other rows are passed over, also unsound ones; nil: all
	end   func(block int)      // after the last row of a block; may be nil
	keeps bool                 // strings of rows are valid after the end of their block too
}

// found is what one worker found wrong.
type found struct {
	faults  Faults
	strange []strange
	more    int // that are not kept
	err     error
}

// strange is a row whose spool was never bought.
type strange struct {
	line  int
	spool string
}

// read gives every row that the view includes, and whose spool was bought, to one of the workers, which run at the same time. One worker
// alone gets them in the order of the file. Other rows are faults. If only is not nil, it reads those
// blocks alone.
func (p *pass) read(workers int, only map[int]bool, start func(i int) worker) error {
	p.faults = nil
	v := p.v
	if v.index == nil || len(v.index.ids) != len(v.known) {
		v.index = newSpoolIndex(slices.Collect(maps.Keys(v.known)))
	}
	stream := v.stream
	if v.stream = nil; stream == nil || p.block != streamBlock {
		var err error
		// The same for each read of a pass, since blocks are known by their numbers.
		if stream, err = v.newBlockStream(p.block, p.workers > 1 || v.Large()); err != nil {
			return err
		}
	}
	all := make([]found, workers)
	var running sync.WaitGroup
	for i := 1; i < workers; i++ {
		w := start(i)
		running.Go(func() { p.work(stream, &all[i], w, only) })
	}
	p.work(stream, &all[0], start(0), only)
	running.Wait()
	for i := range all {
		if err := all[i].err; err != nil {
			return err
		}
	}
	if stream.err != nil {
		return stream.err
	}
	p.gather(all)
	return p.faults.err()
}

// work decodes blocks of the stream until there are no more.
func (p *pass) work(s *blockStream, f *found, w worker, only map[int]bool) {
	var d *rowDecoder
	var own struct {
		row Consumption
		_   ownLines
	}
	row := &own.row
	v := p.v
	// Each worker reads in the order of lines, so the first faults of all are among the first of each.
	each := func() {
		if row.SpoolNumber == 0 {
			switch {
			case v.unsure:
			case len(f.strange) < p.limit:
				f.strange = append(f.strange, strange{row.Line, strings.Clone(row.Spool)})
			default:
				f.more++
			}
		} else if v.exists(&row.Head) {
			w.row(row)
		}
	}
	bad := func(e *RowError) {
		if len(f.faults) < p.limit {
			f.faults = append(f.faults, e)
		} else {
			f.more++
		}
	}
	for b := s.next(); b != nil; b = s.next() {
		if f.err == nil && (only == nil || only[b.number]) {
			if d == nil {
				d = newRowDecoder(s.cutter.layout, v.index, row, each, bad)
				d.wanted = w.wants
			}
			f.err = d.decode(b.text(), b.line)
			if w.end != nil {
				w.end(b.number)
			}
		}
		if !w.keeps {
			s.recycle(b)
		}
	}
}

// gather makes the faults of the pass of what its workers found: the first ones by line, and how many more there are. Names near to
// unknown ones are searched only here, for the faults that are shown.
func (p *pass) gather(all []found) {
	var faults Faults
	var unknown []strange
	more := 0
	for _, f := range all {
		more += f.more
		faults = append(faults, f.faults...)
		unknown = append(unknown, f.strange...)
	}
	faults.sort()
	slices.SortFunc(unknown, func(a, b strange) int { return a.line - b.line })
	more += max(0, len(faults)+len(unknown)-p.limit)
	for len(p.faults) < p.limit && len(faults)+len(unknown) > 0 {
		if len(unknown) == 0 || len(faults) > 0 && faults[0].Line < unknown[0].line {
			p.faults = append(p.faults, faults[0])
			faults = faults[1:]
			continue
		}
		line := unknown[0].line
		p.v.spoolKnown("spool", unknown[0].spool, func(what, mend string) {
			p.faults = append(p.faults, &RowError{ConsumptionFile, line, what, mend})
		})
		unknown = unknown[1:]
	}
	if more > 0 {
		p.faults = append(p.faults, &RowError{ConsumptionFile, 0, fmt.Sprintf("%d more rows break a rule", more), "see them with: tarebook verify"})
	}
	p.faults.sort()
}
