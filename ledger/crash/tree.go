package crash

import (
	"crypto/sha256"
	"encoding/binary"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

const (
	bookFolder = "book" // within the root
	private    = bookFolder + "/.tarebook/"
)

// What the ledger writes aside of its Disk into its own folder: the lock is no matter for a crash.
var aside = []string{"lock"}

// unread is a file that no command reads before it is synced and has another name, so that it matters little where a write
// to it is cut.
const unread = private + "last-new"

// Tree is what a folder holds: names relative to it, with slashes, and contents. The name of a folder ends in a slash.
type Tree map[string]string

// digest tells trees apart. The digest of a tree is the sum of those of its files, so that of a tree which differs in
// one file is found without a look at the others.
type digest [2]uint64

func digestOf(name, content string) digest {
	h := sha256.New()
	h.Write([]byte(name))
	h.Write([]byte{0})
	h.Write([]byte(content))
	var sum [sha256.Size]byte
	h.Sum(sum[:0])
	return digest{binary.LittleEndian.Uint64(sum[:]), binary.LittleEndian.Uint64(sum[8:])}
}

func (d digest) plus(e digest) digest { return digest{d[0] + e[0], d[1] + e[1]} }

// digester computes digests of trees that have most of their files in common.
type digester map[string]hashed

type hashed struct {
	content string
	digest  digest
}

func (h digester) of(t Tree) (d digest) {
	for name, content := range t {
		if last, ok := h[name]; !ok || last.content != content {
			h[name] = hashed{content, digestOf(name, content)}
		}
		d = d.plus(h[name].digest)
	}
	return d
}

// under returns a tree that holds t in a folder.
func (t Tree) under(folder string) Tree {
	out := Tree{folder + "/": ""}
	for name, content := range t {
		out[folder+"/"+name] = content
	}
	return out
}

// ReadTree returns what a folder holds.
func ReadTree(folder string) (Tree, error) {
	s := scratch{root: folder}
	err := s.look()
	return s.has, err
}

// Folder makes a temporary folder for many small books on the fastest disk at hand: one in memory, where there is such a thing.
func Folder() (string, error) {
	const memory = "/dev/shm"
	if dir, err := os.MkdirTemp(memory, "crash"); err == nil {
		return dir, nil
	}
	return os.MkdirTemp("", "crash")
}

// scratch is a folder that is made to hold one tree after the other, at little cost.
type scratch struct {
	root string
	has  Tree // what it holds; good once look has been called
}

// stamp is the time of a file that nobody has written to since put made it.
var stamp = time.Unix(1e9, 0)

// put makes the folder hold a tree.
func (s *scratch) put(want Tree) error {
	if s.has == nil {
		if err := s.look(); err != nil {
			return err
		}
	}
	for _, name := range slices.Sorted(maps.Keys(s.has)) {
		if _, ok := want[name]; !ok {
			if err := os.RemoveAll(s.path(name)); err != nil { // what was written aside goes with its folder
				return err
			}
		}
	}
	for _, name := range slices.Sorted(maps.Keys(want)) { // a folder comes before what is in it
		if has, ok := s.has[name]; ok && has == want[name] {
			continue
		}
		if strings.HasSuffix(name, "/") {
			if err := os.Mkdir(s.path(name), 0o777); err != nil {
				return err
			}
			continue
		}
		if err := os.WriteFile(s.path(name), []byte(want[name]), 0o666); err != nil {
			return err
		}
		if err := os.Chtimes(s.path(name), stamp, stamp); err != nil {
			return err
		}
	}
	s.has = want
	return nil
}

func (s *scratch) path(name string) string { return filepath.Join(s.root, filepath.FromSlash(name)) }

// look reads what the folder holds now.
func (s *scratch) look() error {
	t := Tree{}
	if err := s.read("", t); err != nil {
		return err
	}
	s.has = t
	return nil
}

func (s *scratch) read(folder string, t Tree) error {
	entries, err := os.ReadDir(s.path(folder))
	if err != nil {
		return err
	}
	for _, e := range entries {
		name := folder + e.Name()
		if e.IsDir() {
			t[name+"/"] = ""
			if err := s.read(name+"/", t); err != nil {
				return err
			}
			continue
		}
		if folder == private && slices.Contains(aside, e.Name()) {
			continue
		}
		info, err := e.Info()
		if err != nil {
			return err
		}
		if old, ok := s.has[name]; ok && info.ModTime().Equal(stamp) && info.Size() == int64(len(old)) {
			t[name] = old
			continue
		}
		text, err := os.ReadFile(s.path(name))
		if err != nil {
			return err
		}
		t[name] = string(text)
	}
	return nil
}
