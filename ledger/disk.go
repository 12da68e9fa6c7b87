package ledger

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
)

// Disk is all that the write path asks of a machine. Files and folders are named relative to a folder dir, with slashes. What
// was written is in the file for other processes at once, and outlives a loss of power only once it is synced: a file's
// content and length by its Sync, the names in a folder by SyncDir.
type Disk interface {
	// OpenFile opens a regular file; flag is made of those of package os. It follows no symbolic link below dir.
	OpenFile(dir, name string, flag int) (DiskFile, error)
	// Lstat describes a file or folder, of a symbolic link the link itself.
	Lstat(dir, name string) (fs.FileInfo, error)
	// Mkdir makes one folder.
	Mkdir(dir, name string) error
	// Remove takes the name of a file out of its folder.
	Remove(dir, name string) error
	// Rename gives a file another name.
	Rename(dir, name, to string) error
	// SyncDir makes the names in a folder durable; "." is dir itself.
	SyncDir(dir, name string) error
}

// DiskFile is an open file of a Disk.
type DiskFile interface {
	io.ReaderAt
	io.WriterAt // not of a file opened with os.O_APPEND
	io.Closer
	// Append writes at the end that the file has at that moment; the file was opened with os.O_APPEND.
	Append(p []byte) (int, error)
	Stat() (fs.FileInfo, error)
	// ID tells the file from every other on its disk, and from a copy of it. It holds no blank.
	ID() (string, error)
	Truncate(size int64) error
	Sync() error
}

// ErrNotPlain says that something else stands where the program expects a plain file or a folder.
var ErrNotPlain = errors.New("not a plain file")

// OSDisk is the disk of this machine.
type OSDisk struct{}

// OpenFile implements Disk.
func (OSDisk) OpenFile(dir, name string, flag int) (DiskFile, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	for range exchanges {
		f, err := openPlain(root, name, flag)
		if err != errExchanged {
			return f, err
		}
	}
	return nil, fmt.Errorf("%s: another program puts a new file in its place again and again; try once more when it has ended", name)
}

// exchanges is how often OpenFile looks again for a file that is exchanged while it is opened: an editor or a sync service
// that saves it at that moment does so once or twice, not a hundred times.
const exchanges = 100

// errExchanged says that one plain file stood at a name before it was opened and another one after.
var errExchanged = errors.New("exchanged while it was opened")

// openPlain opens a regular file below root. What was looked at may be exchanged before it is opened, so it looks again:
// the opened file must be the one that stands there.
func openPlain(root *os.Root, name string, flag int) (DiskFile, error) {
	if err := plain(root, name, flag&os.O_CREATE != 0); err != nil {
		return nil, err
	}
	f, err := root.OpenFile(name, flag|openNoWait, 0o666)
	if err != nil {
		return nil, err
	}
	opened, err := f.Stat()
	var there fs.FileInfo
	if err == nil {
		there, err = root.Lstat(name)
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		err = errExchanged
	case err != nil:
	case !there.Mode().IsRegular():
		err = notPlain(name, there)
	case !os.SameFile(there, opened):
		err = errExchanged
	default:
		return osFile{f}, nil
	}
	if closing := f.Close(); closing != nil {
		err = errors.Join(err, closing)
	}
	return nil, err
}

// plain returns an error unless name is a regular file in plain folders. With absent set, the file need not exist.
func plain(root *os.Root, name string, absent bool) error {
	if parent := path.Dir(name); parent != "." {
		info, err := root.Lstat(parent)
		if err != nil {
			return err
		}
		if !info.IsDir() {
			return notPlain(parent, info)
		}
	}
	info, err := root.Lstat(name)
	switch {
	case absent && errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case !info.Mode().IsRegular():
		return notPlain(name, info)
	}
	return nil
}

// notPlain returns the error for what stands where a plain file or folder of a book is expected.
func notPlain(name string, info fs.FileInfo) error {
	kind := "neither a file nor a folder"
	switch mode := info.Mode(); {
	case mode&fs.ModeSymlink != 0:
		kind = "a symbolic link"
	case mode.IsDir():
		kind = "a folder"
	case mode.IsRegular():
		kind = "a file"
	}
	mend := "put a plain file in its place"
	if path.Base(name) == privateFolder || path.Dir(name) == privateFolder {
		mend = "remove it; it is no part of the book"
	}
	return fmt.Errorf("%w: %s is %s, which is never opened here; %s", ErrNotPlain, name, kind, mend)
}

// Lstat implements Disk.
func (OSDisk) Lstat(dir, name string) (fs.FileInfo, error) {
	return os.Lstat(filepath.Join(dir, filepath.FromSlash(name)))
}

// Mkdir implements Disk.
func (OSDisk) Mkdir(dir, name string) error {
	return inRoot(dir, func(root *os.Root) error { return root.Mkdir(name, 0o777) })
}

// Remove implements Disk.
func (OSDisk) Remove(dir, name string) error {
	return inRoot(dir, func(root *os.Root) error { return root.Remove(name) })
}

// Rename implements Disk.
func (OSDisk) Rename(dir, name, to string) error {
	return inRoot(dir, func(root *os.Root) error { return root.Rename(name, to) })
}

// SyncDir implements Disk. On Windows there is no way to do it, and NTFS journals the names of files.
func (OSDisk) SyncDir(dir, name string) error {
	return inRoot(dir, func(root *os.Root) error { return syncFolder(root, name) })
}

func inRoot(dir string, do func(*os.Root) error) error {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	return errors.Join(do(root), root.Close())
}

type osFile struct{ *os.File }

func (f osFile) Append(p []byte) (int, error) { return f.Write(p) }

func (f osFile) ID() (string, error) { return fileID(f.File) }

// makeFolders makes dir and what is missing above it, durably.
func makeFolders(d Disk, dir string) error {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	parent, name := filepath.Split(dir)
	if name == "" {
		return nil // the root of the file system
	}
	err = d.Mkdir(parent, name)
	switch {
	case err == nil:
		return d.SyncDir(parent, ".")
	case errors.Is(err, fs.ErrExist):
		info, err := os.Stat(dir)
		if err == nil && !info.IsDir() {
			err = &fs.PathError{Op: "mkdir", Path: dir, Err: errors.New("a file is in the way")}
		}
		if err != nil {
			return err
		}
		// Sync the folder's name even if it exists: its creator may have crashed before that. A parent that this user may not
		// read was made by somebody else.
		if err := d.SyncDir(parent, "."); !errors.Is(err, fs.ErrPermission) {
			return err
		}
		return nil
	case errors.Is(err, fs.ErrNotExist):
		if err := makeFolders(d, parent); err != nil {
			return err
		}
		return makeFolders(d, dir)
	default:
		return err
	}
}
