package crash

import (
	"iter"
	"maps"
	"slices"
	"strings"
)

// Effort tells how many of the states are made.
type Effort int

const (
	// Coarse cuts a write after its first byte, in its middle, before its last byte and at the ends of pages.
	Coarse Effort = iota
	// Fine cuts a write after each of its bytes. Where several files wait to be written, each in turn is cut so and the
	// others coarsely.
	Fine
	// Whole does so too, and also puts zeros after each cut, up to where the write was to end. Minutes, where Fine takes
	// seconds.
	Whole
)

// parts calls yield with what a change to content may leave, but for nothing; some more than once.
func (c *change) parts(content string, effort Effort, yield func(string) bool) bool {
	if c.truncate {
		return yield(c.on(content))
	}
	n := int64(len(c.data))
	pages := []int64{} // ends of pages, within data
	for end := pageSize - c.offset%pageSize; end < n; end += pageSize {
		pages = append(pages, end)
	}
	pages = append(pages, n)
	cuts := slices.Concat([]int64{1, n / 2, n - 1}, pages)
	if effort > Coarse {
		cuts = make([]int64, n)
		for i := range cuts {
			cuts[i] = int64(i + 1)
		}
	}
	for _, cut := range cuts {
		if cut < 1 {
			continue
		}
		if !yield(splice(content, c.offset, c.data[:cut])) {
			return false
		}
		if grown := c.offset + n - max(c.offset+cut, int64(len(content))); effort == Whole && grown > 0 && !yield(splice(content, c.offset, c.data[:cut])+zeros(grown)) {
			return false
		}
	}
	// What of a page did not arrive reads as what was there; where the file has grown, as zeros or, in pages that it did not
	// have before, as what a deleted file has left there.
	const zero, stale, arrived = 0, 1, 2
	size := int64(len(content))
	for upTo := range pages {
		for _, fate := range fates(upTo+1, effort) {
			b, from := []byte(splice(content, c.offset, c.data[:pages[upTo]])), int64(0)
			for i, end := range pages[:upTo+1] {
				if fate[i] != arrived {
					here := b[c.offset+from : c.offset+end]
					clear(here)
					if c.offset+from < size {
						copy(here, content[c.offset+from:])
					}
					if fate[i] == stale && (c.offset+from)/pageSize*pageSize >= size {
						copy(here, strings.Repeat(leftover, len(here)/len(leftover)+1))
					}
				}
				from = end
			}
			if !yield(string(b)) {
				return false
			}
		}
	}
	return true
}

// fates returns what may become of n pages: all combinations of a few, of many those in which one has a fate of its own.
func fates(n int, effort Effort) (all [][]int) {
	many := 1
	if effort > Coarse {
		many = 4
	}
	if n > many {
		for i := range n {
			for others := range 3 {
				for own := range 3 {
					fate := slices.Repeat([]int{others}, n)
					fate[i] = own
					all = append(all, fate)
				}
			}
		}
		return all
	}
	all = [][]int{nil}
	for range n {
		var longer [][]int
		for _, fate := range all {
			for own := range 3 {
				longer = append(longer, append(slices.Clip(fate), own))
			}
		}
		all = longer
	}
	return all
}

// contents returns each content that a file may be left with, once.
func (n *node) contents(effort Effort) iter.Seq[string] {
	return func(yield func(string) bool) {
		seen := map[digest]bool{}
		var after func(content string, later []change) bool
		after = func(content string, later []change) bool {
			if len(later) == 0 {
				d := digestOf("", content)
				if seen[d] {
					return true
				}
				seen[d] = true
				return yield(content)
			}
			return after(content, later[1:]) && later[0].parts(content, effort, func(part string) bool {
				return after(part, later[1:])
			})
		}
		after(n.durable, n.later)
	}
}

// State is one way in which a crash may leave the folder. It is good until the next one is made.
type State struct {
	digest digest
	files  []placed
}

// placed is a node under a name.
type placed struct {
	name    string
	node    *node // nil of a folder
	content string
	digest  digest
}

// Tree returns what the folder then holds.
func (s *State) Tree() Tree {
	t := make(Tree, len(s.files))
	for _, f := range s.files {
		t[f.name] = f.content
	}
	return t
}

// Tree returns what processes see: what is left when one of them dies and the machine goes on.
func (m *Machine) Tree() Tree {
	t := Tree{}
	m.see(m.nodes[0], "", t)
	return t
}

func (m *Machine) see(folder *node, prefix string, t Tree) {
	for name := range folder.options() {
		n := folder.called(name)
		switch {
		case n == absent:
		case m.nodes[n].names != nil:
			t[prefix+name+"/"] = ""
			m.see(m.nodes[n], prefix+name+"/", t)
		default:
			t[prefix+name] = m.nodes[n].now
		}
	}
}

// options returns what each name in a folder may stand for after a crash: what is durable, or what any later naming said.
func (n *node) options() map[string][]int {
	all := map[string][]int{}
	for name, found := range n.names {
		all[name] = []int{found}
	}
	for _, r := range n.renamed {
		if all[r.name] == nil {
			all[r.name] = []int{absent}
		}
		if !slices.Contains(all[r.name], r.node) {
			all[r.name] = append(all[r.name], r.node)
		}
	}
	return all
}

// States returns every state in which a loss of power now may leave the folder.
func (m *Machine) States(effort Effort) iter.Seq[*State] {
	return func(yield func(*State) bool) {
		m.layouts([]placed{{name: "", node: m.nodes[0]}}, nil, func(files []placed) bool {
			return vary(files, effort, yield)
		})
	}
}

// layouts calls yield with every way in which names may be left: it takes the first of the folders, and for each of its names
// what that may stand for.
func (m *Machine) layouts(folders, files []placed, yield func([]placed) bool) bool {
	if len(folders) == 0 {
		return yield(files)
	}
	prefix, options := folders[0].name, folders[0].node.options()
	names := slices.Sorted(maps.Keys(options))
	var choose func(i int, folders, files []placed) bool
	choose = func(i int, folders, files []placed) bool {
		if i == len(names) {
			return m.layouts(folders, files, yield)
		}
		for _, n := range options[names[i]] {
			name := prefix + names[i]
			switch {
			case n == absent:
				if !choose(i+1, folders, files) {
					return false
				}
			case m.nodes[n].names != nil:
				folder := placed{name: name + "/", digest: digestOf(name+"/", "")}
				if !choose(i+1, append(slices.Clip(folders), placed{name: name + "/", node: m.nodes[n]}), append(slices.Clip(files), folder)) {
					return false
				}
			case !choose(i+1, folders, append(slices.Clip(files), placed{name: name, node: m.nodes[n]})):
				return false
			}
		}
		return true
	}
	return choose(0, slices.Clone(folders[1:]), files)
}

// vary calls yield with every combination of contents of the files.
func vary(files []placed, effort Effort, yield func(*State) bool) bool {
	s := State{files: slices.Clone(files)}
	var waiting []int // files that wait to be written
	for i := range s.files {
		f := &s.files[i]
		if f.node == nil {
			s.digest = s.digest.plus(f.digest)
		} else if len(f.node.later) > 0 {
			waiting = append(waiting, i)
		} else {
			f.content = f.node.durable
			s.digest = s.digest.plus(digestOf(f.name, f.content))
		}
	}
	var choose func(left []int, fine int, sum digest) bool
	choose = func(left []int, fine int, sum digest) bool {
		if len(left) == 0 {
			s.digest = sum
			return yield(&s)
		}
		effort := effort
		f := &s.files[left[0]]
		if left[0] != fine || f.name == unread {
			effort = Coarse
		}
		for f.content = range f.node.contents(effort) {
			if !choose(left[1:], fine, sum.plus(digestOf(f.name, f.content))) {
				return false
			}
		}
		return true
	}
	if len(waiting) == 0 {
		return yield(&s)
	}
	sum := s.digest
	for _, fine := range waiting {
		if !choose(waiting, fine, sum) {
			return false
		}
		if effort == Coarse {
			break
		}
	}
	return true
}
