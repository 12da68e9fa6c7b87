package crash

import (
	"errors"
	"fmt"
	"io/fs"
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
	FailSync             // a sync that failed: what waited to be written is dropped, and reads as if it were on disk
	SyncDir              // the names in a folder
	Remove               // the name of a file
	Rename               // of a file, to Data
	Edit                 // a person's: the file, name and all, is durably Data at once
)

var kinds = [...]string{"nothing", "open", "mkdir", "write", "truncate", "sync", "failsync", "syncdir", "remove", "rename", "edit"}

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

// idle tells whether the operation changes nothing.
func (o Op) idle() bool { return o.Kind == Nothing || o.Kind == Open && !o.Created }

func (o Op) String() string {
	switch {
	case o.Kind == Write:
		return fmt.Sprintf("write %s %d+%d", o.Name, o.Offset, len(o.Data))
	case o.Kind == Truncate:
		return fmt.Sprintf("truncate %s %d", o.Name, o.Offset)
	case o.Kind == Rename:
		return "rename " + o.Name + " " + o.Data
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

	before   func(call int) error // is called before each call; nil: nothing is
	calls    int
	failSync int // which sync of a file fails, counted from 1; 0: none
	syncs    int
	dies     bool // the process, once that sync has failed
	dead     bool
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

// Before has f called before each call, with its number counted from 1. What f returns is the call's error.
func (r *Recorder) Before(f func(call int) error) { r.before = f }

// Calls returns how many calls there were.
func (r *Recorder) Calls() int { return r.calls }

// FailSync lets one sync of a file fail, counted from 1. With dies set, the process dies there.
func (r *Recorder) FailSync(n int, dies bool) { r.failSync, r.dies = n, dies }

// next is called before each call.
func (r *Recorder) next() error {
	if r.dead {
		return errSync
	}
	if r.calls++; r.before == nil {
		return nil
	}
	return r.before(r.calls)
}

// name returns a name relative to the root.
func (r *Recorder) name(dir, name string) (string, error) {
	abs, err := filepath.Abs(filepath.Join(dir, filepath.FromSlash(name)))
	if err != nil {
		return "", err
	}
	rel, err := filepath.Rel(r.root, abs)
	if err != nil {
		return "", err
	}
	if rel = filepath.ToSlash(rel); rel == ".." || strings.HasPrefix(rel, "../") {
		return "", fmt.Errorf("%s is outside of %s", abs, r.root)
	}
	return rel, nil
}

// OpenFile implements ledger.Disk.
func (r *Recorder) OpenFile(dir, name string, flag int) (ledger.DiskFile, error) {
	rel, err := r.name(dir, name)
	if err != nil {
		return nil, err
	}
	if err := r.next(); err != nil {
		return nil, err
	}
	_, missing := ledger.OSDisk{}.Lstat(dir, name)
	f, err := ledger.OSDisk{}.OpenFile(dir, name, flag)
	if err != nil {
		return nil, err
	}
	r.open++
	r.log(Op{Kind: Open, Name: rel, File: r.open, Created: missing != nil})
	return &recorded{f, r, rel, r.open}, nil
}

// Lstat implements ledger.Disk.
func (r *Recorder) Lstat(dir, name string) (fs.FileInfo, error) {
	if err := r.next(); err != nil {
		return nil, err
	}
	return ledger.OSDisk{}.Lstat(dir, name)
}

// Mkdir implements ledger.Disk.
func (r *Recorder) Mkdir(dir, name string) error {
	return r.do(Mkdir, dir, name, ledger.OSDisk{}.Mkdir)
}

// Remove implements ledger.Disk.
func (r *Recorder) Remove(dir, name string) error {
	return r.do(Remove, dir, name, ledger.OSDisk{}.Remove)
}

// Rename implements ledger.Disk.
func (r *Recorder) Rename(dir, name, to string) error {
	rel, err := r.name(dir, to)
	if err != nil {
		return err
	}
	err = r.do(Rename, dir, name, func(dir, name string) error { return ledger.OSDisk{}.Rename(dir, name, to) })
	if err == nil {
		r.ops[len(r.ops)-1].Data = rel
	}
	return err
}

// SyncDir implements ledger.Disk.
func (r *Recorder) SyncDir(dir, name string) error {
	return r.do(SyncDir, dir, name, func(dir, name string) error {
		_, err := ledger.OSDisk{}.Lstat(dir, name)
		return err
	})
}

func (r *Recorder) do(kind Kind, dir, name string, do func(dir, name string) error) error {
	rel, err := r.name(dir, name)
	if err != nil {
		return err
	}
	if err := r.next(); err != nil {
		return err
	}
	if err := do(dir, name); err != nil {
		return err
	}
	r.log(Op{Kind: kind, Name: rel})
	return nil
}

// edit does what a person does in an editor that saves well: the file is replaced, durably.
func (r *Recorder) edit(name, text string) error {
	rel, err := r.name(filepath.Dir(name), filepath.Base(name))
	if err != nil {
		return err
	}
	r.log(Op{Kind: Edit, Name: rel, Data: text})
	aside := name + "~"
	if err := os.WriteFile(aside, []byte(text), 0o666); err != nil {
		return err
	}
	return os.Rename(aside, name)
}

// OtherHands are what other programs do to a file, past the program's disk.
type OtherHands struct {
	r    *Recorder
	Path string
}

// OtherHands returns the hands of others on a file of a folder.
func (r *Recorder) OtherHands(dir, name string) *OtherHands {
	return &OtherHands{r, filepath.Join(dir, name)}
}

// Save replaces the file, durably.
func (o *OtherHands) Save(text string) error { return o.r.edit(o.Path, text) }

// Append adds to the file, as a shell does with >>.
func (o *OtherHands) Append(text string) error {
	info, err := os.Stat(o.Path)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(o.Path, os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	rel, err := o.r.name(filepath.Dir(o.Path), filepath.Base(o.Path))
	if err != nil {
		return err
	}
	o.r.open++
	o.r.log(Op{Kind: Open, Name: rel, File: o.r.open})
	o.r.log(Op{Kind: Write, Name: rel, File: o.r.open, Offset: info.Size(), Data: text})
	o.r.log(Op{Kind: Sync, Name: rel, File: o.r.open}) // what a loss of power does to the rows of others is their own care
	return nil
}

type recorded struct {
	ledger.DiskFile
	in   *Recorder
	name string
	file int
}

// ID implements ledger.DiskFile. A file that the checker puts back is the same one for the book.
func (f *recorded) ID() (string, error) { return "1", nil }

func (f *recorded) WriteAt(b []byte, offset int64) (int, error) {
	if err := f.in.next(); err != nil {
		return 0, err
	}
	n, err := f.DiskFile.WriteAt(b, offset)
	if n > 0 {
		f.in.log(Op{Kind: Write, Name: f.name, File: f.file, Offset: offset, Data: string(b[:n])})
	}
	return n, err
}

func (f *recorded) Append(b []byte) (int, error) {
	if err := f.in.next(); err != nil {
		return 0, err
	}
	info, err := f.DiskFile.Stat()
	if err != nil {
		return 0, err
	}
	n, err := f.DiskFile.Append(b)
	if n > 0 {
		f.in.log(Op{Kind: Write, Name: f.name, File: f.file, Offset: info.Size(), Data: string(b[:n])})
	}
	return n, err
}

func (f *recorded) Truncate(size int64) error {
	if err := f.in.next(); err != nil {
		return err
	}
	err := f.DiskFile.Truncate(size)
	if err == nil {
		f.in.log(Op{Kind: Truncate, Name: f.name, File: f.file, Offset: size})
	}
	return err
}

func (f *recorded) Sync() error {
	if err := f.in.next(); err != nil {
		return err
	}
	if f.in.syncs++; f.in.syncs == f.in.failSync {
		f.in.log(Op{Kind: FailSync, Name: f.name, File: f.file})
		f.in.dead = f.in.dies
		return errSync
	}
	f.in.log(Op{Kind: Sync, Name: f.name, File: f.file})
	return nil
}

// errSync is what a sync says that fails.
var errSync = &fs.PathError{Op: "sync", Path: "a file", Err: errors.New("input/output error")}
