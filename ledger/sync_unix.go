//go:build unix

package ledger

import (
	"errors"
	"os"
)

// syncFolder makes the names in a folder durable.
func syncFolder(root *os.Root, name string) error {
	f, err := root.Open(name)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
