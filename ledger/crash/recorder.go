package crash

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"tarebook/ledger"
)

// Kind is what an operation does.
type Kind int

// The operations of a log.
const (
	Nothing  Kind = iota // in place of an operation that was taken out
	Open                 // a file; Created tells whether that made its name
	Mkdir                // one folder
	Write                // Data at Offset
	Truncate             // to Offset
	Sync                 // content and length of a file
	SyncDir              // the names in a folder
	Remove               // the name of a file
	Edit                 // a person's: the file, name and all, is durably Data at once
)

var kinds = [...]string{"nothing", "open", "mkdir", "write", "truncate", "sync", "syncdir", "remove", "edit"}

func (k Kind) String() string { return kinds[k] }

// Op is one operation on a disk.
type Op struct {
	Kind    Kind
	Name    string // relative to the root, with slashes; "." is the root itself
	File    int    // which opening of a file is meant, for it may have lost its name since
	Created bool
	Offset  int64
	Data    string
}

func (o Op) String() string {
	switch {
	case o.Kind == Write:
		return fmt.Sprintf("write %s %d+%d", o.Name, o.Offset, len(o.Data))
	case o.Kind == Truncate:
		return fmt.Sprintf("truncate %s %d", o.Name, o.Offset)
	case o.Kind == Open && o.Created:
		return "create " + o.Name
	}
	return o.Kind.String() + " " + o.Name
}

// Recorder is a disk that works on a real folder and keeps a log of what was asked of it. It syncs nothing, for no test
// outlives a loss of power. It serves one goroutine.
type Recorder struct {
	root string
	ops  []Op
	open int
}

// NewRecorder returns a Recorder that works under the folder root and refuses what lies elsewhere.
func NewRecorder(root string) *Recorder { return &Recorder{root: root} }

// newRecorder returns a Recorder that goes on after ops.
func newRecorder(root string, ops []Op) *Recorder {
	r := NewRecorder(root)
	for _, op := range ops {
		r.open = max(r.open, op.File)
	}
	return r
}

// Ops returns what succeeded, in its order.
func (r *Recorder) Ops() []Op { return r.ops }

func (r *Recorder) log(op Op) { r.ops = append(r.ops, op) }

// name returns a name relative to the root.
func (r *Recorder) name(name string) (string, error) {
	abs, err := filepath.Abs(name)
	if err != nil {
		return "", err
	}
	rel, err := filepath.Rel(r.root, abs)
	if err != nil {
		return "", err
	}
	if rel = filepath.ToSlash(rel); rel == ".." || strings.HasPrefix(rel, "../") {
		return "", fmt.Errorf("%s is outside of %s", name, r.root)
	}
	return rel, nil
}

// OpenFile implements ledger.Disk.
func (r *Recorder) OpenFile(name string, flag int) (ledger.DiskFile, error) {
	rel, err := r.name(name)
	if err != nil {
		return nil, err
	}
	_, missing := os.Lstat(name)
	f, err := ledger.OSDisk{}.OpenFile(name, flag)
	if err != nil {
		return nil, err
	}
	r.open++
	r.log(Op{Kind: Open, Name: rel, File: r.open, Created: missing != nil})
	if flag&os.O_TRUNC != 0 && missing == nil {
		r.log(Op{Kind: Truncate, Name: rel, File: r.open})
	}
	return &recorded{f, r, rel, r.open}, nil
}

// Mkdir implements ledger.Disk.
func (r *Recorder) Mkdir(name string) error {
	return r.do(Mkdir, name, ledger.OSDisk{}.Mkdir)
}

// Remove implements ledger.Disk.
func (r *Recorder) Remove(name string) error {
	return r.do(Remove, name, ledger.OSDisk{}.Remove)
}

// SyncDir implements ledger.Disk.
func (r *Recorder) SyncDir(name string) error {
	return r.do(SyncDir, name, func(name string) error {
		_, err := os.Stat(name)
		return err
	})
}

func (r *Recorder) do(kind Kind, name string, do func(string) error) error {
	rel, err := r.name(name)
	if err != nil {
		return err
	}
	if err := do(name); err != nil {
		return err
	}
	r.log(Op{Kind: kind, Name: rel})
	return nil
}

// edit does what a person does in an editor that saves well.
func (r *Recorder) edit(name, text string) error {
	rel, err := r.name(name)
	if err != nil {
		return err
	}
	r.log(Op{Kind: Edit, Name: rel, Data: text})
	return os.WriteFile(name, []byte(text), 0o666)
}

type recorded struct {
	ledger.DiskFile
	in   *Recorder
	name string
	file int
}

func (f *recorded) WriteAt(b []byte, offset int64) (int, error) {
	n, err := f.DiskFile.WriteAt(b, offset)
	if n > 0 {
		f.in.log(Op{Kind: Write, Name: f.name, File: f.file, Offset: offset, Data: string(b[:n])})
	}
	return n, err
}

func (f *recorded) Truncate(size int64) error {
	err := f.DiskFile.Truncate(size)
	if err == nil {
		f.in.log(Op{Kind: Truncate, Name: f.name, File: f.file, Offset: size})
	}
	return err
}

func (f *recorded) Sync() error {
	f.in.log(Op{Kind: Sync, Name: f.name, File: f.file})
	return nil
}
