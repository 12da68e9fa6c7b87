//go:build unix

package ledger

import "syscall"

// errReadOnly is what opening a file for writing says on a disk that may only be read.
var errReadOnly error = syscall.EROFS
