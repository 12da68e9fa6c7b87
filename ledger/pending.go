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
	batch  string
}

// start is where in the file the batch begins.
func (p *pending) start() int64 { return max(p.before, 0) }

// end is where in the file the batch ends.
func (p *pending) end() int64 { return p.start() + int64(len(p.batch)) }

// text is what stands in .tarebook/pending: a line with the file, its length before, the batch's length and SHA-256 and a
// check of the line itself; then the batch. As long as that is not whole, nothing has been appended yet.
func (p *pending) text() string {
	line := fmt.Sprintf("%s %d %d %x", p.file, p.before, len(p.batch), sha256.Sum256([]byte(p.batch)))
	return line + " " + check(line) + "\n" + p.batch
}

func check(line string) string {
	sum := sha256.Sum256([]byte(line))
	return hex.EncodeToString(sum[:8])
}

// parsePending reads the text of .tarebook/pending; ok is false when it is not whole.
func parsePending(text string) (p pending, ok bool) {
	line, batch, ended := strings.Cut(text, "\n")
	i := strings.LastIndexByte(line, ' ')
	if !ended || i < 0 || line[i+1:] != check(line[:i]) {
		return p, false
	}
	var length int
	if n, err := fmt.Sscanf(line[:i], "%s %d %d", &p.file, &p.before, &length); n != 3 || err != nil {
		return p, false
	}
	p.batch = batch
	return p, p.before >= -1 && filepath.Base(p.file) == p.file && p.text() == text
}

// wrote tells whether the bytes may be what a write of the batch that was cut short has left: bytes of the batch, and
// zeros where the disk had made room and no data had come yet.
func (p *pending) wrote(torn []byte) bool {
	for i, c := range torn {
		if c != 0 && c != p.batch[i] {
			return false
		}
	}
	return true
}
