package crash

import (
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"tarebook/ledger"
)

// Checker opens the book of one scenario in every state that a crash may leave it in. In each of them it requires:
// the book opens, and each of its files is byte for byte what it was before or after the command in progress (after it,
// once it was acknowledged); bytes of the command that had reached a file and do not count are kept in a torn file, and
// told of; verify finds no new problem; and the command, or the next, can record. What depends on equal contents alone is
// done once.
type Checker struct {
	History *History // of the scenario without a crash

	scenario Scenario
	folder   scratch
	books    []digest          // after each step; 0 is at the beginning
	after    map[digest]digest // what Next makes of a book
	known    map[string]bool   // problems of the book at the beginning
	opened   map[digest]*outcome
	verified map[digest]string // faults of books
	recorded map[digest]attempt
	hashes   digester
	courses  map[string]int // how often each course of tidying up was met
}

// outcome is what opening a state has shown, whatever was promised of it.
type outcome struct {
	book   digest
	making bool     // there was none, and book is what making it led to
	lost   []digest // bytes that were taken off files
	torn   []digest // contents of torn files
	fault  string
}

// attempt is what recording led to.
type attempt struct {
	tree  Tree
	fault string
}

// New carries out a scenario without a crash, in the folder root, which the Checker then has for itself.
func New(s Scenario, root string) (*Checker, error) {
	c := &Checker{
		History: &History{start: Tree{}}, scenario: s, folder: scratch{root: root},
		after: map[digest]digest{}, opened: map[digest]*outcome{}, verified: map[digest]string{},
		recorded: map[digest]attempt{}, hashes: digester{}, courses: map[string]int{},
	}
	h := c.History
	if s.Book != nil {
		h.start = s.Book.under(bookFolder)
	}
	if err := c.folder.put(h.start); err != nil {
		return nil, err
	}
	trees := []Tree{h.start}
	c.books = []digest{c.digest(bookIn(h.start))}
	for i := range s.Steps {
		step, r := &s.Steps[i], newRecorder(root, h.Ops)
		if err := step.do(root, r); err != nil {
			return nil, fmt.Errorf("step %d: %w", i+1, err)
		}
		if err := c.folder.look(); err != nil {
			return nil, err
		}
		before, book := c.books[i], c.digest(bookIn(c.folder.has))
		is := promise{books: []digest{book}}
		switch {
		case step.Tidy:
			h.add(r.Ops(), is, is)
			h.kept = lost(trees[i], c.folder.has)
		case i == 0 && s.Book == nil:
			h.add(r.Ops(), promise{is.books, true}, is)
		default:
			h.add(r.Ops(), is.or(before), is)
		}
		trees, c.books = append(trees, c.folder.has), append(c.books, book)
	}
	for i, tree := range trees {
		if isBook(tree) && !(i == 0 && s.Steps[0].Tidy) {
			if err := c.prepare(tree); err != nil {
				return nil, fmt.Errorf("after step %d: %w", i, err)
			}
		}
	}
	return c, nil
}

// prepare finds out what Next makes of a book, and which problems the first one has.
func (c *Checker) prepare(tree Tree) error {
	if err := c.folder.put(tree); err != nil {
		return err
	}
	if c.known == nil {
		v, err := (&ledger.Book{Dir: c.dir()}).View(ledger.Time{})
		if err != nil {
			return err
		}
		if c.known, err = problems(v); err != nil {
			return err
		}
	}
	if err := c.scenario.Next(c.dir(), NewRecorder(c.folder.root)); err != nil {
		return err
	}
	if err := c.folder.look(); err != nil {
		return err
	}
	c.after[c.digest(bookIn(tree))] = c.digest(bookIn(c.folder.has))
	return nil
}

func (c *Checker) digest(t Tree) digest { return c.hashes.of(t) }

func (c *Checker) dir() string { return filepath.Join(c.folder.root, bookFolder) }

// clock is ahead of all rows that a test may hold, whatever the day.
var clock = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)

func problems(v *ledger.View) (map[string]bool, error) {
	verified, err := v.Verify(clock, nil)
	if err != nil {
		return nil, err
	}
	found := map[string]bool{}
	for _, p := range verified.Problems {
		found[fmt.Sprintf("%s:%d: %s", p.File, p.Line, p.What)] = true
	}
	return found, nil
}

// Check loses power at each moment of the scenario; and it lets the process die, another one tidy up and record, and power
// be lost then. What a process leaves that dies is among what a loss of power may leave.
func (c *Checker) Check(effort Effort) (Result, error) {
	all, err := c.LosePower(c.History, effort)
	for _, at := range c.deaths(effort) {
		for _, look := range []bool{true, false} {
			if err != nil {
				return all, err
			}
			var h *History
			var r Result
			if h, err = c.Kill(at[0], at[1], look); err == nil {
				r, err = c.LosePower(h, Coarse)
			}
			all.Add(r)
		}
	}
	return all, err
}

// LosePower opens the book in every state that a loss of power may leave at each moment of a history, and in a
// sample of them loses power again while what the first has left is tidied up: for each sequence of operations that
// this takes, in the 1st, 4th, 16th ... state that asks for it; with Whole in the first thousand too.
func (c *Checker) LosePower(h *History, effort Effort) (Result, error) {
	return c.losePower(h, effort, true)
}

func (c *Checker) losePower(h *History, effort Effort, again bool) (all Result, err error) {
	m := NewMachine(h.start)
	for done := 0; done <= len(h.Ops); done++ {
		if done > 0 {
			op := h.Ops[done-1]
			m.Do(op)
			if op.idle() && done > h.from && h.promises[done].equal(h.promises[done-1]) {
				continue
			}
		}
		if done < h.from {
			continue
		}
		for s := range m.States(effort) {
			all.States++
			var ops []Op
			o := c.opened[s.digest]
			if o == nil {
				if o, ops, err = c.open(s.Tree()); err != nil {
					return all, err
				}
				c.opened[s.digest] = o
				all.Distinct++
			}
			if what := o.breaks(h.promises[done], h.kept); what != "" {
				all.Violations = append(all.Violations, Violation{h.about + what, slices.Clone(h.Ops[:done]), s.Tree(), h.start})
				if len(all.Violations) >= enough {
					return all, nil
				}
			} else if again && c.sampled(ops, effort) {
				cut := &History{about: h.about + "power was lost while what was left was tidied up, ", start: s.Tree(), kept: slices.Concat(h.kept, o.lost)}
				p := promise{[]digest{o.book}, o.making}
				cut.add(ops, p, p)
				more, err := c.losePower(cut, Coarse, false)
				all.Add(more)
				if err != nil {
					return all, err
				}
			}
		}
	}
	return all, nil
}

// sampled tells whether a course of tidying up is to be cut short.
func (c *Checker) sampled(ops []Op, effort Effort) bool {
	var course strings.Builder
	changes := false
	for _, op := range ops {
		name := op.Name
		if strings.HasPrefix(name, private+"torn-") {
			name = private + "torn-"
		}
		fmt.Fprintln(&course, op.Kind, name)
		changes = changes || op.Kind != Open
	}
	if !changes {
		return false
	}
	c.courses[course.String()]++
	n := c.courses[course.String()]
	if effort == Whole && n <= 1000 {
		return true
	}
	for n%4 == 0 {
		n /= 4
	}
	return n == 1
}

// breaks says which promise an outcome breaks.
func (o *outcome) breaks(p promise, kept []digest) string {
	switch {
	case o.fault != "":
		return o.fault
	case o.making && !p.making:
		return "there is no book"
	case !slices.Contains(p.books, o.book):
		return "the book is neither what it was before nor what it was after what was going on"
	}
	for _, bytes := range slices.Concat(kept, o.lost) {
		if !slices.Contains(o.torn, bytes) {
			return "bytes that were taken off a file are not kept"
		}
	}
	return ""
}

// lost returns the bytes that were taken off the files of a book.
func lost(before, after Tree) (all []digest) {
	for name, content := range bookIn(before) {
		if now, ok := after[name]; name != last && (!ok || now != content) {
			if rest := strings.TrimPrefix(content, now); rest != "" {
				all = append(all, digestOf("", rest))
			}
		}
	}
	return all
}

// open opens the book that a crash has left, and tries to record in it. It returns the operations of tidying up.
func (c *Checker) open(left Tree) (*outcome, []Op, error) {
	if err := c.folder.put(left); err != nil {
		return nil, nil, err
	}
	r := NewRecorder(c.folder.root)
	v, told, err := c.look(r)
	if err != nil {
		return &outcome{fault: "the book does not open: " + err.Error()}, nil, nil
	}
	now := c.folder.has
	o := &outcome{book: c.digest(bookIn(now)), making: v == nil}
	if v != nil {
		if o.fault, err = c.verify(o.book, v); err != nil {
			return nil, nil, err
		}
	}
	then := c.record(o.book, now)
	if o.fault == "" {
		o.fault = then.fault
	}
	o.keep(now)
	if o.making { // it may have been tidied up only now
		now, o.book = then.tree, c.digest(bookIn(then.tree))
		o.keep(now)
	}
	o.lost = lost(left, now)
	if o.fault == "" && len(o.lost) > 0 && !o.making && told == 0 {
		o.fault = "bytes were taken off a file and nothing was told"
	}
	return o, r.Ops(), nil
}

// keep notes what torn files hold.
func (o *outcome) keep(t Tree) {
	for name, content := range t {
		if strings.HasPrefix(name, private+"torn-") {
			o.torn = append(o.torn, digestOf("", content))
		}
	}
}

// look opens the book, and returns nil and no error where there is none. What a look leaves to who records, such as half a
// line of a batch that was never begun, is then tidied up too.
func (c *Checker) look(disk ledger.Disk) (v *ledger.View, told int, err error) {
	book := &ledger.Book{Dir: c.dir(), Disk: disk, Tell: func(string) { told++ }}
	v, err = book.View(ledger.Time{})
	none := errors.Is(err, ledger.ErrNoBook)
	if err != nil && !none {
		return nil, told, err
	}
	if err := c.folder.look(); err != nil {
		return nil, told, err
	}
	if c.folder.has[private+"pending"] != "" {
		err := book.Update(nil, func(*ledger.View) (ledger.Batch, error) { return nil, nil })
		if err != nil && !(none || errors.Is(err, ledger.ErrNoBook)) {
			return nil, told, err
		}
		if err := c.folder.look(); err != nil {
			return nil, told, err
		}
	}
	return v, told, nil
}

// verify returns what is wrong with a book that was not before.
func (c *Checker) verify(book digest, v *ledger.View) (fault string, err error) {
	if fault, ok := c.verified[book]; ok {
		return fault, nil
	}
	found, err := problems(v)
	if err != nil {
		return "", err
	}
	for _, p := range slices.Sorted(maps.Keys(found)) {
		if !c.known[p] && fault == "" {
			fault = "verify says " + p
		}
	}
	c.verified[book] = fault
	return fault, nil
}

// record carries out what the scenario has next of a book.
func (c *Checker) record(book digest, left Tree) (a attempt) {
	key := bookIn(left)
	for name, content := range left { // other files than torn ones bear on it
		if _, ok := key[name]; !ok && !strings.HasPrefix(name, private+"torn-") {
			key[name] = content
		}
	}
	if c.recorded[c.digest(key)].tree != nil {
		return c.recorded[c.digest(key)]
	}
	defer func() { c.recorded[c.digest(key)] = a }()
	run := c.scenario.Next
	want, known := c.after[book]
	for i := range c.scenario.Steps {
		step := &c.scenario.Steps[i]
		if step.Run != nil && !step.Tidy && (book == c.books[i] || i == 0 && !isBook(left)) {
			run, want, known = step.Run, c.books[i+1], true
		}
	}
	if err := run(c.dir(), NewRecorder(c.folder.root)); err != nil {
		a.fault = "nothing can be recorded: " + err.Error()
	}
	if err := c.folder.look(); err != nil {
		a.fault = err.Error()
	}
	a.tree = c.folder.has
	now := bookIn(a.tree)
	if a.fault == "" && known && c.digest(now) != want {
		a.fault = "recording did not lead to what it leads to without a crash"
	}
	for name, content := range bookIn(left) {
		if a.fault == "" && isBook(left) && name != last && !strings.HasPrefix(now[name], content) {
			a.fault = "recording did more to " + name + " than add to it"
		}
	}
	if a.fault == "" && a.tree[private+"pending"] != "" {
		a.fault = "a batch is pending after it was acknowledged"
	}
	return a
}
