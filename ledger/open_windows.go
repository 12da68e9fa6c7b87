package ledger

import (
	"fmt"
	"os"
	"syscall"
)

// Windows has neither named pipes among files nor a flag that refuses symbolic links: the caller compares what it opened
// with what stands under the name.
const (
	openNoWait   = 0
	openNoFollow = 0
)

// openFile opens a file for reading.
func openFile(path string) (*os.File, error) { return os.Open(path) }

// fileID returns the volume and the index of the file.
func fileID(f *os.File) (string, error) {
	var info syscall.ByHandleFileInformation
	if err := syscall.GetFileInformationByHandle(syscall.Handle(f.Fd()), &info); err != nil {
		return "", err
	}
	return fmt.Sprintf("%d-%d-%d", info.VolumeSerialNumber, info.FileIndexHigh, info.FileIndexLow), nil
}
