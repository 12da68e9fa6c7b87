package hands

import (
	"fmt"
	"os"
	"runtime"
	"syscall"
	"testing"
)

// smallDisk mounts an empty disk of so many bytes, seen only by this test and what it runs, so that a test cut short
// leaves no mount behind. It tells why when that cannot be done here. The test must stay on its goroutine from here on.
func smallDisk(t *testing.T, size int) (dir string, err error) {
	t.Helper()
	if os.Getuid() != 0 {
		return "", fmt.Errorf("mounting wants root")
	}
	dir = t.TempDir()
	runtime.LockOSThread() // never unlocked: the thread, and with it the mount, ends with the test
	if err := syscall.Unshare(syscall.CLONE_NEWNS); err != nil {
		return "", fmt.Errorf("unshare: %w", err)
	}
	if err := syscall.Mount("", "/", "", syscall.MS_REC|syscall.MS_PRIVATE, ""); err != nil {
		return "", fmt.Errorf("make mounts private: %w", err)
	}
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%d", size)); err != nil {
		return "", fmt.Errorf("mount: %w", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Errorf("unmount: %v", err)
		}
	})
	return dir, nil
}

// writable lets the disk at dir be written, or only read.
func writable(t *testing.T, dir string, yes bool) {
	t.Helper()
	flags := uintptr(syscall.MS_REMOUNT)
	if !yes {
		flags |= syscall.MS_RDONLY
	}
	if err := syscall.Mount("", dir, "", flags, ""); err != nil {
		t.Fatal(err)
	}
}

// bound makes permission bits bind what this test runs, also when it is root. The test must stay on its goroutine from
// here on.
func bound(t *testing.T) {
	t.Helper()
	runtime.LockOSThread() // never unlocked: what is given up here cannot be had back
	if os.Getuid() != 0 {
		return
	}
	const (
		dropFromBoundingSet = 24
		dacOverride         = 1
		dacReadSearch       = 2
	)
	for _, capability := range []uintptr{dacOverride, dacReadSearch} {
		if _, _, err := syscall.RawSyscall(syscall.SYS_PRCTL, dropFromBoundingSet, capability, 0); err != 0 {
			t.Fatalf("root stays above permission bits: %v", err)
		}
	}
}
