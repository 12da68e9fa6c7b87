package ledger

import (
	"io/fs"
	"syscall"
	"time"
)

// changeTime returns when a file or what its disk says of it last changed, the zero time where that is not known.
func changeTime(info fs.FileInfo) (t time.Time) {
	if stat, ok := info.Sys().(*syscall.Stat_t); ok {
		t = time.Unix(stat.Ctimespec.Unix())
	}
	return t
}
