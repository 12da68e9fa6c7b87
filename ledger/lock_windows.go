package ledger

import "golang.org/x/sys/windows"

// errReadOnly is what opening a file for writing says on a disk that may only be read.
var errReadOnly error = windows.ERROR_WRITE_PROTECT
