package ledger

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Disk is all that the write path asks of a machine. What was written is in the file for other processes at once, and
// outlives a loss of power only once it is synced: a file's content and length by its Sync, the names in a folder by
// SyncDir.
type Disk interface {
	// OpenFile opens a file; flag is made of those of package os.
	OpenFile(name string, flag int) (DiskFile, error)
	// Mkdir makes one folder.
	Mkdir(name string) error
	// Remove takes the name of a file out of its folder.
	Remove(name string) error
	// SyncDir makes the names in a folder durable.
	SyncDir(name string) error
}

// DiskFile is an open file of a Disk.
type DiskFile interface {
	io.ReaderAt
	io.WriterAt
	io.Closer
	Size() (int64, error)
	Truncate(size int64) error
	Sync() error
}

// OSDisk is the disk of this machine.
type OSDisk struct{}

// OpenFile implements Disk.
func (OSDisk) OpenFile(name string, flag int) (DiskFile, error) {
	f, err := os.OpenFile(name, flag, 0o666)
	if err != nil {
		return nil, err
	}
	return osFile{f}, nil
}

// Mkdir implements Disk.
func (OSDisk) Mkdir(name string) error { return os.Mkdir(name, 0o777) }

// Remove implements Disk.
func (OSDisk) Remove(name string) error { return os.Remove(name) }

// SyncDir implements Disk. On Windows there is no way to do it, and NTFS journals the names of files.
func (OSDisk) SyncDir(name string) error { return syncFolder(name) }

type osFile struct{ *os.File }

func (f osFile) Size() (int64, error) {
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}

// makeFolders makes dir and what is missing above it, durably.
func makeFolders(d Disk, dir string) error {
	err := d.Mkdir(dir)
	switch parent := filepath.Dir(dir); {
	case err == nil:
		return d.SyncDir(parent)
	case errors.Is(err, fs.ErrExist):
		info, err := os.Stat(dir)
		if err == nil && !info.IsDir() {
			err = &fs.PathError{Op: "mkdir", Path: dir, Err: errors.New("a file is in the way")}
		}
		if err != nil {
			return err
		}
		// Who made it may have died before it was durable. Of a folder that may not be read the parent is somebody else's care.
		if err := d.SyncDir(parent); !errors.Is(err, fs.ErrPermission) {
			return err
		}
		return nil
	case errors.Is(err, fs.ErrNotExist) && parent != dir:
		if err := makeFolders(d, parent); err != nil {
			return err
		}
		return makeFolders(d, dir)
	default:
		return err
	}
}
