package crash

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"tarebook/ledger"
)

// Command is one command, carried out in this process on the book in dir by way of disk.
type Command func(dir string, disk ledger.Disk) error

// Step is one thing that happened to a book. It ended well, so what it did is acknowledged.
type Step struct {
	Run   Command           // nil: a person's edit
	Edits map[string]string // files of the book and what they are made to hold, durably
	Tidy  bool              // Run records nothing; it only tidies up what the book at the beginning has left pending
}

// Scenario is what happened to a book until the crash.
type Scenario struct {
	Book  Tree // at the beginning, durably; nil: there is none, and the first step makes it
	Steps []Step
	Next  Command // a command that can be carried out after any of the steps, also when they did not get far
}

// promise is what holds of a crash at one moment.
type promise struct {
	books  []digest // the book is one of these
	making bool     // or there is none yet, and making it leads to one of these
}

func (p promise) or(more ...digest) promise {
	p.books = slices.Concat(p.books, more)
	return p
}

func (p promise) equal(q promise) bool { return p.making == q.making && slices.Equal(p.books, q.books) }

// History is the log of what happened to a book, and what holds of a crash at each moment.
type History struct {
	Ops      []Op
	about    string // in words
	start    Tree
	from     int       // crashes before so many operations are another history's
	promises []promise // by the number of operations done
	kept     []digest  // torn bytes that must be in a file of their own, whenever the crash comes
}

// add adds a step: its operations, what holds while it goes on, and from its end on.
func (h *History) add(ops []Op, meanwhile, then promise) {
	if h.promises == nil {
		h.promises = []promise{meanwhile}
	}
	for _, op := range ops {
		h.Ops = append(h.Ops, op)
		h.promises = append(h.promises, meanwhile)
	}
	h.promises[len(h.promises)-1] = then
}

// Without returns the history with one operation left out, as a program that forgot it would have made it.
func (h *History) Without(i int) *History {
	c := *h
	c.Ops = slices.Clone(h.Ops)
	c.Ops[i].Kind = Nothing
	return &c
}

// Syncs returns which operations sync a file or a folder.
func (h *History) Syncs() (all []int) {
	for i, op := range h.Ops {
		if i >= h.from && (op.Kind == Sync || op.Kind == SyncDir) {
			all = append(all, i)
		}
	}
	return all
}

// machine returns the machine after all operations.
func (h *History) machine() *Machine {
	m := NewMachine(h.start)
	for _, op := range h.Ops {
		m.Do(op)
	}
	return m
}

// last names the batches that were recorded last. What void --last cancels is as much a promise as the rows are.
const last = private + "last"

// bookIn returns what is the book in a tree: all but what is private to the program, and what it recorded last.
func bookIn(t Tree) Tree {
	book := maps.Clone(t)
	maps.DeleteFunc(book, func(name, _ string) bool { return strings.HasPrefix(name, private) && name != last })
	return book
}

// isBook tells whether there is a book in a tree.
func isBook(t Tree) bool {
	_, settings := t[bookFolder+"/"+ledger.SettingsFile]
	_, purchases := t[bookFolder+"/"+ledger.Purchases]
	return settings && purchases
}

// do carries out a step in a folder.
func (s *Step) do(root string, disk *Recorder) error {
	dir := filepath.Join(root, bookFolder)
	if s.Run != nil {
		return s.Run(dir, disk)
	}
	for _, name := range slices.Sorted(maps.Keys(s.Edits)) {
		if err := disk.edit(filepath.Join(dir, name), s.Edits[name]); err != nil {
			return fmt.Errorf("edit %s: %w", name, err)
		}
	}
	return nil
}
