package ledger

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/gofrs/flock"
)

// The lock is one file in the book's .tarebook folder, held exclusively while a command decides and appends, and
// shared for the moment in which a reader notes how long each file is. It is never deleted: a deleted lock
// file locks nobody. On network disks such a lock is advisory at best.

const (
	privateFolder = ".tarebook"
	lockFile      = "lock"
	holderFile    = "holder" // who holds the lock exclusively; a help for a message, not the lock
	lockWait      = 10 * time.Second
	lockRetry     = 5 * time.Millisecond
)

// ErrLocked says that another command held the lock for as long as this one would wait.
var ErrLocked = errors.New("the book is locked")

// lock takes the exclusive lock and returns what gives it back.
func (b *Book) lock() (unlock func() error, err error) {
	private := filepath.Join(b.Dir, privateFolder)
	if err := b.disk().Mkdir(private); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("cannot record in %s: %w", b.Dir, err)
	}
	release, err := b.take((*flock.Flock).TryLockContext)
	if err != nil {
		return nil, err
	}
	// Who cannot be named is not worth an error: the lock holds without.
	holder := filepath.Join(private, holderFile)
	_ = os.WriteFile(holder, fmt.Appendf(nil, "%d", os.Getpid()), 0o666)
	return func() error {
		_ = os.WriteFile(holder, nil, 0o666)
		return release()
	}, nil
}

// begun tells whether anybody has recorded in the book yet, or begun to: until then there is no lock to take.
func (b *Book) begun() bool {
	_, err := os.Stat(filepath.Join(b.Dir, privateFolder))
	return err == nil
}

// rlock takes the shared lock, but where the book may only be looked at and the lock not even that.
func (b *Book) rlock() (unlock func() error, err error) {
	unlock, err = b.take((*flock.Flock).TryRLockContext)
	if errors.Is(err, fs.ErrPermission) || errors.Is(err, errReadOnly) {
		return func() error { return nil }, nil
	}
	return unlock, err
}

func (b *Book) take(try func(*flock.Flock, context.Context, time.Duration) (bool, error)) (func() error, error) {
	f := flock.New(filepath.Join(b.Dir, privateFolder, lockFile), flock.SetPermissions(0o666))
	wait := b.Wait
	if wait <= 0 {
		wait = lockWait
	}
	ctx, cancel := context.WithTimeout(context.Background(), wait)
	defer cancel()
	switch _, err := try(f, ctx, lockRetry); {
	case errors.Is(err, context.DeadlineExceeded):
		return nil, fmt.Errorf("%w: %s has been recording in %s for %s; let it end, or wait longer with --wait", ErrLocked, b.holder(), b.Dir, wait)
	case err != nil:
		return nil, fmt.Errorf("cannot lock the book in %s: %w", b.Dir, err)
	}
	return f.Unlock, nil
}

// holder names the process that holds the lock.
func (b *Book) holder() string {
	pid, err := os.ReadFile(filepath.Join(b.Dir, privateFolder, holderFile))
	if text := strings.TrimSpace(string(pid)); err == nil && text != "" {
		return "process " + text
	}
	return "another process"
}
