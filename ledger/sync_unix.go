//go:build unix

package ledger

import (
	"errors"
	"os"
)

// syncFolder makes a new file's name durable.
func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
