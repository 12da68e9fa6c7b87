package crash

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tarebook/ledger"
)

// What is too long to let the process die at each byte of a write, or at each operation of a scenario.
const (
	longWrite    = 1000
	longScenario = 64
)

// deaths returns where the process is to die: in which operations, and after how many bytes of those that are writes. Of a
// long scenario it takes both ends and some operations between them; Whole takes each operation, and each byte if
// neither is long.
func (c *Checker) deaths(effort Effort) (all [][2]int) {
	const ends, step = 16, 23 // the step takes turns at the operations of one file after the other
	n := len(c.History.Ops)
	for i, op := range c.History.Ops {
		if i > 0 && c.History.Ops[i-1].idle() { // the process leaves the same as before that
			continue
		}
		if n > longScenario && i >= ends && n-i > ends && i%step != 0 && effort < Whole {
			continue
		}
		all = append(all, [2]int{i, 0})
		if op.Kind != Write {
			continue
		}
		size := len(op.Data)
		for bytes := 1; bytes < size; bytes++ {
			each := effort == Whole && n <= longScenario && size <= longWrite
			if each || bytes == 1 || bytes == size/2 || bytes == size-1 {
				all = append(all, [2]int{i, bytes})
			}
		}
	}
	return all
}

// Kill returns the history in which the process died in operation i of the scenario, after so many bytes of it if it is a
// write, and the machine went on: somebody looks at the book, if look is set, and the next command records in it.
// Nothing is synced that these do not sync.
func (c *Checker) Kill(i, bytes int, look bool) (*History, error) {
	h := c.died(i, bytes)
	h.about = fmt.Sprintf("a process died in operation %d after %d bytes, ", i+1, bytes)
	if err := c.goOn(h, c.History.promises[i], look); err != nil {
		return nil, fmt.Errorf("after a command that died in %s (%d bytes): %w", c.History.Ops[i], bytes, err)
	}
	return h, nil
}

// goOn lets the machine go on after h, where meanwhile holds: somebody looks at the book, if look is set, and the next
// command records in it.
func (c *Checker) goOn(h *History, meanwhile promise, look bool) error {
	if look {
		h.about += "somebody looked at the book, "
	}
	h.about += "another one recorded, "
	if err := c.folder.put(h.machine().Tree()); err != nil {
		return err
	}
	if look {
		r := newRecorder(c.folder.root, h.Ops)
		v, _, err := c.look(r)
		if err != nil {
			return err
		}
		then := meanwhile
		if v != nil { // who looked has seen what is there
			then = promise{books: []digest{c.digest(bookIn(c.folder.has))}}
		}
		h.add(r.Ops(), meanwhile, then)
		meanwhile = then
	}
	run, want := c.scenario.Next, []digest{}
	for _, book := range meanwhile.books {
		want = append(want, c.after[book])
	}
	if meanwhile.making {
		run, want = c.scenario.Steps[0].Run, meanwhile.books
	}
	r := newRecorder(c.folder.root, h.Ops)
	refused := run(c.dir(), r)
	if err := c.folder.look(); err != nil {
		return err
	}
	book := c.digest(bookIn(c.folder.has))
	h.add(r.Ops(), meanwhile.or(book), promise{books: []digest{book}})
	made := meanwhile.making && book == want[0] // then it was right to refuse
	if refused != nil && !made || !slices.Contains(want, book) {
		return fmt.Errorf("the next one goes wrong: %v", refused)
	}
	return nil
}

// FailSync returns the history in which sync n of a file failed in the first step, counted from 1, and the machine went on
// as after Kill; nil when that step has no such sync. The command must say that it has not recorded, or that this is in
// doubt; or with dies set it dies there.
func (c *Checker) FailSync(n int, look, dies bool) (*History, error) {
	h := &History{start: c.History.start, about: fmt.Sprintf("sync %d failed, ", n)}
	if err := c.folder.put(h.start); err != nil {
		return nil, err
	}
	r := NewRecorder(c.folder.root)
	r.FailSync(n, dies)
	err := c.scenario.Steps[0].do(c.folder.root, r)
	if r.syncs < n {
		return nil, nil
	}
	if err == nil {
		return nil, fmt.Errorf("sync %d failed, and the command said that it had recorded", n)
	}
	if err := c.folder.look(); err != nil {
		return nil, err
	}
	before, after := promise{books: c.books[:1], making: c.scenario.Book == nil}, promise{books: c.books[1:2]}
	meanwhile := before.or(after.books...)
	then := before
	switch {
	case before.making: // files that were made stay, and are no book yet
		then.books = after.books
	case dies, errors.Is(err, ledger.ErrInDoubt):
		then = meanwhile
	}
	h.add(r.Ops(), meanwhile, then)
	return h, c.goOn(h, then, look)
}

// Left returns the book as the process leaves it that dies in operation i, after so many bytes of it if it is a write.
func (c *Checker) Left(i, bytes int) Tree {
	left := Tree{}
	for name, content := range c.died(i, bytes).machine().Tree() {
		if in, ok := strings.CutPrefix(name, bookFolder+"/"); ok && in != "" {
			left[in] = content
		}
	}
	return left
}

// died returns the history until the death of the process.
func (c *Checker) died(i, bytes int) *History {
	h := &History{start: c.History.start, kept: c.History.kept}
	meanwhile := c.History.promises[i]
	h.add(c.History.Ops[:i], meanwhile, meanwhile)
	if bytes > 0 {
		op := c.History.Ops[i]
		op.Data = op.Data[:bytes]
		h.add([]Op{op}, meanwhile, meanwhile)
	}
	h.from = len(h.Ops)
	return h
}
