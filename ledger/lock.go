package ledger

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/gofrs/flock"
)

// The lock is one file in the book's .tarebook folder, held exclusively while a command decides and appends, and
// shared for the moment in which a reader notes how long each file is. It is never deleted: a deleted lock
// file locks nobody. On network disks such a lock is advisory at best.

const (
	privateFolder = ".tarebook"
	lockFile      = privateFolder + "/lock"
	lockWait      = 10 * time.Second

	// A command that has waited longer tries again sooner, so that none waits for ever among many: the pause falls from lockRetry to
	// a millisecond within lockAge.
	lockRetry = 8 * time.Millisecond
	lockAge   = 400 * time.Millisecond
)

// ErrLocked means that other commands held the lock for as long as this one would wait.
var ErrLocked = errors.New("the book is locked")

// lock takes the exclusive lock and returns the function that releases it.
func (b *Book) lock() (unlock func() error, err error) {
	if err := b.disk().Mkdir(b.Dir, privateFolder); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("cannot record in %s: %w", b.Dir, err)
	}
	release, err := b.await((*flock.Flock).TryLock)
	if err != nil {
		return nil, err
	}
	b.sign()
	return release, nil
}

// begun reports whether a command has ever recorded in the book, or started to. Before that there is no lock to take.
func (b *Book) begun() (bool, error) {
	info, err := b.disk().Lstat(b.Dir, privateFolder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, err
	case !info.IsDir():
		return false, notPlain(privateFolder, info)
	}
	return true, nil
}

// rlock takes the shared lock. It does without if the book is read-only and the lock can't be opened.
func (b *Book) rlock() (unlock func() error, err error) {
	unlock, err = b.await((*flock.Flock).TryRLock)
	if errors.Is(err, fs.ErrPermission) || errors.Is(err, errReadOnly) {
		return func() error { return nil }, nil
	}
	return unlock, err
}

// await tries to take the lock until it succeeds or has waited long enough.
func (b *Book) await(try func(*flock.Flock) (bool, error)) (unlock func() error, err error) {
	if _, err := b.begun(); err != nil {
		return nil, err
	}
	if info, err := b.disk().Lstat(b.Dir, lockFile); err == nil && !info.Mode().IsRegular() {
		return nil, notPlain(lockFile, info)
	}
	f := flock.New(filepath.Join(b.Dir, filepath.FromSlash(lockFile)), flock.SetPermissions(0o666), flock.SetFlag(os.O_CREATE|os.O_RDONLY|openNoFollow))
	wait := cmp.Or(max(b.Wait, 0), lockWait)
	began := time.Now()
	for {
		ok, err := try(f)
		if err != nil {
			return nil, fmt.Errorf("cannot lock the book in %s: %w", b.Dir, err)
		}
		if ok {
			return f.Unlock, nil
		}
		waited := time.Since(began)
		if waited >= wait {
			return nil, errors.Join(fmt.Errorf("%w: others have recorded in %s for all of the %s that this command waited, now %s; try again, or wait longer with --wait", ErrLocked, b.Dir, wait, b.holder()), f.Close())
		}
		pause := max(time.Millisecond, lockRetry-lockRetry*waited/lockAge)
		time.Sleep(min(pause, wait-waited))
	}
}

// sign writes the id of this process into the lock file, after its first byte, which Windows locks for readers too. The id only improves
// a message, so a failure is ignored.
func (b *Book) sign() {
	f, err := OSDisk{}.OpenFile(b.Dir, lockFile, os.O_RDWR)
	if err != nil {
		return
	}
	_, _ = f.WriteAt(fmt.Appendf(nil, "\n%-20d\n", os.Getpid()), 0)
	_ = f.Close()
}

// holder returns words for the process that holds the lock.
func (b *Book) holder() string {
	f, err := OSDisk{}.OpenFile(b.Dir, lockFile, os.O_RDONLY)
	if err != nil {
		return "another process"
	}
	defer f.Close()
	text := make([]byte, 20)
	n, _ := f.ReadAt(text, 1)
	if pid, err := strconv.Atoi(strings.TrimSpace(string(text[:n]))); err == nil && pid > 0 {
		return fmt.Sprintf("process %d", pid)
	}
	return "another process"
}
