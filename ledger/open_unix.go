//go:build unix

package ledger

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// openNoWait keeps the opening of a named pipe from waiting for whoever writes into it.
const openNoWait = syscall.O_NONBLOCK

// openNoFollow refuses a symbolic link in the last element of a path.
const openNoFollow = syscall.O_NOFOLLOW

// openFile opens a regular file for reading, and no symbolic link. It does not use os.Open, which asks the system whether
// the runtime can poll the file, which no file on a disk can be: five system calls more for each file of the book, and a
// thirtieth of the time that a command takes on a small one.
func openFile(path string) (*os.File, error) {
	for {
		fd, err := syscall.Open(path, syscall.O_RDONLY|syscall.O_CLOEXEC|openNoFollow|openNoWait, 0)
		switch {
		case err == nil:
			unix.FcntlInt(uintptr(fd), unix.F_SETFL, 0) // os.NewFile would take a file that does not wait for one to be polled
			return os.NewFile(uintptr(fd), path), nil
		case errors.Is(err, syscall.EINTR): // on a network disk
		default:
			return nil, &fs.PathError{Op: "open", Path: path, Err: err}
		}
	}
}

// fileID returns the number of the file's inode. The device is left out, since its number may change when the machine
// starts again.
func fileID(f *os.File) (string, error) {
	info, err := f.Stat()
	if err != nil {
		return "", err
	}
	stat, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return "", fmt.Errorf("%s has no inode", f.Name())
	}
	return fmt.Sprint(stat.Ino), nil
}
