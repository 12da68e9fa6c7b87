package crash

import (
	"fmt"
	"maps"
	"path"
	"slices"
	"strings"
)

const pageSize = 4096 // of the memory in which a file waits to be written, on most machines

// Machine is a computer as a crash sees it: what is durable in a folder, and what was done there since and waits to be
// written.
type Machine struct {
	nodes []*node     // 0 is the root
	open  map[int]int // opened files to nodes
}

// node is a file or a folder, whatever its name.
type node struct {
	// A file's.
	now     string // as processes see it
	durable string
	later   []change // what a sync has still to write, in its order

	// A folder's; nil of a file.
	names   map[string]int // durable
	renamed []naming       // since, in its order
}

// change is a write to a file, or a truncation.
type change struct {
	truncate bool
	offset   int64
	data     string
}

// naming gives a name to a node, or takes it away.
type naming struct {
	name string
	node int // absent: taken away
}

const absent = -1

// NewMachine returns a machine on which t is durable.
func NewMachine(t Tree) *Machine {
	m := &Machine{nodes: []*node{{names: map[string]int{}}}, open: map[int]int{}}
	for _, name := range slices.Sorted(maps.Keys(t)) { // a folder before what is in it
		parent, base := m.parent(name)
		made := &node{now: t[name], durable: t[name]}
		if strings.HasSuffix(name, "/") {
			made = &node{names: map[string]int{}}
		}
		parent.names[base] = m.add(made)
	}
	return m
}

func (m *Machine) add(n *node) int {
	m.nodes = append(m.nodes, n)
	return len(m.nodes) - 1
}

// at returns the node that processes find under a name.
func (m *Machine) at(name string) int {
	found := 0
	for part := range strings.SplitSeq(strings.Trim(name, "/"), "/") {
		if part != "." {
			found = m.nodes[found].called(part)
		}
		if found == absent {
			panic(fmt.Sprintf("crash: the log speaks of %s, which is not there", name))
		}
	}
	return found
}

// called returns the node that has a name in a folder.
func (n *node) called(name string) int {
	for _, r := range slices.Backward(n.renamed) {
		if r.name == name {
			return r.node
		}
	}
	if found, ok := n.names[name]; ok {
		return found
	}
	return absent
}

func (m *Machine) parent(name string) (folder *node, base string) {
	name = strings.TrimSuffix(name, "/")
	return m.nodes[m.at(path.Dir(name))], path.Base(name)
}

// Do carries out an operation.
func (m *Machine) Do(op Op) {
	switch op.Kind {
	case Open:
		if op.Created {
			parent, base := m.parent(op.Name)
			parent.renamed = append(parent.renamed, naming{base, m.add(&node{})})
		}
		m.open[op.File] = m.at(op.Name)
	case Mkdir:
		parent, base := m.parent(op.Name)
		parent.renamed = append(parent.renamed, naming{base, m.add(&node{names: map[string]int{}})})
	case Remove:
		parent, base := m.parent(op.Name)
		parent.renamed = append(parent.renamed, naming{base, absent})
	case Rename:
		parent, base := m.parent(op.Name)
		moved := m.at(op.Name)
		parent.renamed = append(parent.renamed, naming{base, absent})
		parent, base = m.parent(op.Data)
		parent.renamed = append(parent.renamed, naming{base, moved})
	case SyncDir:
		folder := m.nodes[m.at(op.Name)]
		for _, r := range folder.renamed {
			if folder.names[r.name] = r.node; r.node == absent {
				delete(folder.names, r.name)
			}
		}
		folder.renamed = nil
	case Write, Truncate:
		c := change{truncate: op.Kind == Truncate, offset: op.Offset, data: op.Data}
		file := m.nodes[m.open[op.File]]
		file.now = c.on(file.now)
		file.later = append(file.later, c)
	case Sync:
		file := m.nodes[m.open[op.File]]
		for i := range file.later {
			file.durable = file.later[i].on(file.durable)
		}
		file.later = nil
	case FailSync:
		m.nodes[m.open[op.File]].dropData()
	case Edit:
		parent, base := m.parent(op.Name)
		parent.renamed = slices.DeleteFunc(parent.renamed, func(r naming) bool { return r.name == base })
		parent.names[base] = m.add(&node{now: op.Data, durable: op.Data})
	}
}

// dropData forgets the data that waits to be written, but for lengths: a file that has grown reads as before until power is
// lost, and then as zeros.
func (n *node) dropData() {
	for i := range n.later {
		if c := &n.later[i]; !c.truncate {
			n.later[i] = change{truncate: true, offset: max(int64(len(n.durable)), c.offset+int64(len(c.data)))}
		}
		n.durable = n.later[i].on(n.durable)
	}
	n.later = nil
}

// on returns what the change makes of a content.
func (c *change) on(content string) string {
	if !c.truncate {
		return splice(content, c.offset, c.data)
	}
	if c.offset <= int64(len(content)) {
		return content[:c.offset]
	}
	return content + zeros(c.offset-int64(len(content)))
}

// leftover is what a deleted file has left on the disk: of a picture, say.
const leftover = "\x89stale\x1a\n"

func zeros(n int64) string { return strings.Repeat("\x00", int(n)) }

// splice writes data over content.
func splice(content string, offset int64, data string) string {
	if gap := offset - int64(len(content)); gap > 0 {
		content += zeros(gap)
	}
	if end := offset + int64(len(data)); end < int64(len(content)) {
		return content[:offset] + data + content[end:]
	}
	return content[:offset] + data
}
