//go:build !linux

package hands

import (
	"errors"
	"os"
	"testing"
)

func smallDisk(*testing.T, int) (dir string, err error) {
	return "", errors.New("only Linux mounts a small disk here")
}

func writable(t *testing.T, _ string, _ bool) { t.Fatal("only Linux mounts a small disk here") }

func bound(t *testing.T) {
	if os.Getuid() == 0 {
		t.Fatal("root stays above permission bits; run this as somebody else")
	}
}
