//go:build unix

package ledger

import (
	"io/fs"
	"os"
	"syscall"
)

// openFile opens a file for reading. Os.Open would ask the system whether the runtime can poll the file, which none on a disk can
// be: five calls more for each file, and a thirtieth of the time in which a small book is told.
func openFile(path string) (*os.File, error) {
	for {
		fd, err := syscall.Open(path, syscall.O_RDONLY|syscall.O_CLOEXEC, 0)
		switch err {
		case nil:
			return os.NewFile(uintptr(fd), path), nil
		case syscall.EINTR: // of a network's disk
		default:
			return nil, &fs.PathError{Op: "open", Path: path, Err: err}
		}
	}
}
