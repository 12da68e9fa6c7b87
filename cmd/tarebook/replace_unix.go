//go:build unix

package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"

	"github.com/gofrs/flock"
	"github.com/google/renameio/v2"
)

// replaceFile puts a file in place, whole or not at all. It clears away what a command has left that was killed at this: who
// still writes to such a file holds a lock on it.
func replaceFile(path string, text []byte, mode fs.FileMode) error {
	clearLeft(path)
	f, err := renameio.NewPendingFile(path, renameio.WithTempDir(filepath.Dir(path)), renameio.WithStaticPermissions(mode))
	if err != nil {
		return err
	}
	defer f.Cleanup() // of no effect once the file is in place
	lock := flock.New(f.Name())
	if _, err := lock.TryLock(); err != nil {
		return err
	}
	defer lock.Close()
	if _, err := f.Write(text); err != nil {
		return err
	}
	return f.CloseAtomicallyReplace()
}

// clearLeft removes temporary files of earlier commands that are dead. What can't be removed does no harm.
func clearLeft(path string) {
	dir, base := filepath.Split(path)
	name := regexp.MustCompile("^\\." + regexp.QuoteMeta(base) + "[0-9]+$") // as renameio has it
	entries, err := os.ReadDir(filepath.Clean(dir))
	if err != nil {
		return
	}
	for _, e := range entries {
		if !e.Type().IsRegular() || !name.MatchString(e.Name()) {
			continue
		}
		lock := flock.New(filepath.Join(dir, e.Name()), flock.SetFlag(os.O_RDONLY))
		if dead, err := lock.TryLock(); err == nil && dead {
			_ = os.Remove(filepath.Join(dir, e.Name()))
		}
		_ = lock.Close()
	}
}
