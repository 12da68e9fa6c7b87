package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path/filepath"
	"strings"
)

// pending is the batch that is being appended: what stands in .tarebook/pending from before its first byte is written until
// its last one is synced.
type pending struct {
	file   string // within the book's folder
	before int64  // length of file before the batch, -1 when it was not there
	length int64  // of the batch
	sum    [sha256.Size]byte
}

func newPending(file string, before int64, text []byte) pending {
	return pending{file, before, int64(len(text)), sha256.Sum256(text)}
}

// start is where in the file the batch begins.
func (p *pending) start() int64 { return max(p.before, 0) }

// end is where in the file the batch ends.
func (p *pending) end() int64 { return p.start() + p.length }

// line is the text of the pending batch. It ends in a check of its own: of a line that was itself half written nothing
// has been appended yet.
func (p *pending) line() string {
	text := fmt.Sprintf("%s %d %d %x", p.file, p.before, p.length, p.sum)
	return text + " " + check(text) + "\n"
}

func check(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:8])
}

// parsePending reads the text of .tarebook/pending; ok is false when it holds no whole line.
func parsePending(text string) (p pending, ok bool) {
	line, ended := strings.CutSuffix(text, "\n")
	i := strings.LastIndexByte(line, ' ')
	if !ended || i < 0 || line[i+1:] != check(line[:i]) {
		return p, false
	}
	var sum []byte
	if n, err := fmt.Sscanf(line[:i], "%s %d %d %x", &p.file, &p.before, &p.length, &sum); n != 4 || err != nil {
		return p, false
	}
	if len(sum) != len(p.sum) || p.before < -1 || p.length < 0 || filepath.Base(p.file) != p.file {
		return p, false
	}
	copy(p.sum[:], sum)
	return p, true
}
