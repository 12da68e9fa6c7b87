package ledger

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/gofrs/flock"
)

// The lock is one file in the book's .tarebook folder, held exclusively while a command decides and appends, and
// shared for the moment in which a reader notes how long each file is. It is never deleted: a deleted lock
// file locks nobody. On network disks such a lock is advisory at best.

const (
	privateFolder = ".tarebook"
	lockWait      = 10 * time.Second
	lockRetry     = 5 * time.Millisecond
)

// lock takes the exclusive lock and returns what gives it back.
func (b *Book) lock() (unlock func() error, err error) {
	if err := os.MkdirAll(filepath.Join(b.Dir, privateFolder), 0o777); err != nil {
		return nil, fmt.Errorf("cannot record in %s: %w", b.Dir, err)
	}
	return b.take((*flock.Flock).TryLockContext)
}

// rlock takes the shared lock. A book without .tarebook, or one that may only be read, has no writer.
func (b *Book) rlock() (unlock func() error, err error) {
	if _, err := os.Stat(filepath.Join(b.Dir, privateFolder)); err != nil {
		return func() error { return nil }, nil
	}
	unlock, err = b.take((*flock.Flock).TryRLockContext)
	if errors.Is(err, fs.ErrPermission) || errors.Is(err, errReadOnly) {
		return func() error { return nil }, nil
	}
	return unlock, err
}

func (b *Book) take(try func(*flock.Flock, context.Context, time.Duration) (bool, error)) (func() error, error) {
	f := flock.New(filepath.Join(b.Dir, privateFolder, "lock"))
	ctx, cancel := context.WithTimeout(context.Background(), lockWait)
	defer cancel()
	switch _, err := try(f, ctx, lockRetry); {
	case errors.Is(err, context.DeadlineExceeded):
		return nil, fmt.Errorf("another tarebook has been recording in %s for %s; let it end, then try again", b.Dir, lockWait)
	case err != nil:
		return nil, fmt.Errorf("cannot lock the book in %s: %w", b.Dir, err)
	}
	return f.Unlock, nil
}
