package ledger

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/oklog/ulid/v2"
)

// The file .tarebook/pending: its format, and when its content is believed.

// MaxBatch is how many bytes one command may record. It also bounds what is read of .tarebook/pending.
const MaxBatch = 64 << 20

// maxLine bounds the first line of .tarebook/pending.
const maxLine = 1024

// pending is the batch that is being appended. It is in .tarebook/pending from before its first byte is written to the ledger until its
// last one is synced.
type pending struct {
	file    string // within the book's folder
	before  int64  // length of file before the batch, -1 if it did not exist
	entries span   // of the batch
	batch   string
	id      string // of .tarebook/pending itself: a copy of it has another
}

// span is the entries of one command, which are consecutive.
type span struct {
	first, last string // both blank: the rows have none
	rows        int
}

// start returns the offset at which the batch begins, unless another program appends at the same moment.
func (p *pending) start() int64 { return max(p.before, 0) }

// text returns the content of .tarebook/pending: a line with the file, its length before, the batch's length and SHA-256, its entries,
// the ID of the file .tarebook/pending and a check of the line itself; then the batch. While this is not complete, nothing
// has been appended yet.
func (p *pending) text() string {
	line := fmt.Sprintf("%s %d %d %x %s %s", p.file, p.before, len(p.batch), sha256.Sum256([]byte(p.batch)), p.entries, p.id)
	return line + " " + check(line) + "\n" + p.batch
}

// of wraps newEntry so that s notes the first and the last entry.
func (s *span) of(newEntry func() string) func() string {
	return func() string {
		s.last = newEntry()
		s.first = cmp.Or(s.first, s.last)
		return s.last
	}
}

func (s span) String() string {
	if s.first == "" {
		return fmt.Sprintf("- - %d", s.rows)
	}
	return fmt.Sprintf("%s %s %d", s.first, s.last, s.rows)
}

// parseSpan reads the three words of a span.
func parseSpan(first, last, rows string) (s span, ok bool) {
	s.first, s.last = first, last
	if first == "-" {
		s.first, s.last = "", ""
	}
	n, err := fmt.Sscan(rows, &s.rows)
	return s, n == 1 && err == nil && s.String() == strings.Join([]string{first, last, rows}, " ")
}

func check(line string) string {
	sum := sha256.Sum256([]byte(line))
	return hex.EncodeToString(sum[:8])
}

// parsePending parses the text of .tarebook/pending; ok is false if it is not complete.
func parsePending(text string) (p pending, ok bool) {
	line, batch, ended := strings.Cut(text, "\n")
	words := strings.Split(line, " ")
	if !ended || len(words) != 9 {
		return p, false
	}
	p.file, p.id, p.batch = words[0], words[7], batch
	if p.entries, ok = parseSpan(words[4], words[5], words[6]); !ok {
		return p, false
	}
	if n, err := fmt.Sscan(words[1], &p.before); n != 1 || err != nil {
		return p, false
	}
	return p, p.text() == text
}

// ours reports whether this program could have written it: it names a file that the program appends to, at an offset in it.
func (p *pending) ours() bool {
	return p.before >= -1 && len(p.batch) > 0 && len(p.batch) <= MaxBatch && slices.Contains(appended, p.file)
}

// Files that Init makes beside ledgers and tables.
const (
	gitAttributes = ".gitattributes"
	gitIgnore     = ".gitignore"
)

// appended are the files that a batch may be for.
var appended = slices.Concat(Tables, Ledgers, []string{gitAttributes, gitIgnore})

// remains says how much of a batch its file holds.
type remains int

const (
	nothingLeft remains = iota // it had not reached the file
	wholeLeft                  // all of it is there
	tornLeft                   // a part of it is there, at the end
	strangeLeft                // another program has changed the file since
)

// find looks for the batch in tail, the content of its file from p.start() on. Another program may have appended a moment before, so the
// batch may begin later, at the beginning of a line. at is its offset in tail, n the number of its bytes there.
func (p *pending) find(tail string) (left remains, at, n int) {
	if strings.HasPrefix(tail, p.batch) {
		return wholeLeft, 0, len(p.batch)
	}
	if tail == "" {
		return nothingLeft, 0, 0
	}
	if wrote(tail, p.batch) {
		return tornLeft, 0, len(tail)
	}
	rows := strings.TrimPrefix(p.batch, "\n") // where a line begins, the batch needs no line end before it
	begins := rows[:min(len(rows), ulid.EncodedSize)]
	for i := range len(tail) {
		if i > 0 && tail[i-1] != '\n' {
			continue
		}
		switch rest := tail[i:]; {
		case strings.HasPrefix(rest, rows):
			return wholeLeft, i, len(rows)
		case i > 0 && wrote(rest, rows) && !strings.Contains(tail[:i], begins): // else it is what follows a part of it
			return tornLeft, i, len(rest)
		}
	}
	if p.stale(tail) {
		return tornLeft, 0, len(tail)
	}
	return strangeLeft, 0, 0
}

// wrote reports whether left can come from an interrupted write of text: bytes of text, and zeros where the disk had allocated room and
// no data had arrived.
func wrote(left, text string) bool {
	if len(left) > len(text) {
		return false
	}
	for i := range len(left) {
		if left[i] != 0 && left[i] != text[i] {
			return false
		}
	}
	return true
}

// sector is the least that a disk writes at once (ATA and NVMe command sets: logical blocks of 512 bytes or a multiple).
const sector = 512

// stale reports whether left can come from an interrupted write to a disk that had allocated room: bytes of a deleted file in place of
// data that had not arrived. Such bytes fill whole sectors after the one in which the file ended.
func (p *pending) stale(left string) bool {
	if len(left) > len(p.batch) {
		return false
	}
	first := min(len(left), int((sector-p.start()%sector)%sector))
	if first > 0 {
		return wrote(left[:first], p.batch)
	}
	// The batch began with a sector, so nothing of it need be there. What people append is text, and other text than this.
	same := 0
	for same < len(left) && left[same] == p.batch[same] {
		same++
	}
	return 2*same > len(left) || !utf8.ValidString(left) || strings.ContainsFunc(left, func(r rune) bool { return unicode.IsControl(r) && !strings.ContainsRune("\r\n\t", r) })
}

// left is what .tarebook/pending held when it was read.
type left struct {
	pending *pending // the batch of a command that died; nil if there is none to recover
	foreign string   // why no command in this folder can have written it; blank if one can
	some    bool     // the file is not empty
}

// readPending reads .tarebook/pending.
func (b *Book) readPending() (l left, err error) {
	f, err := b.disk().OpenFile(b.Dir, pendingFile, os.O_RDONLY)
	if errors.Is(err, fs.ErrNotExist) {
		return l, nil
	}
	if err != nil {
		return l, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil || info.Size() == 0 {
		return l, err
	}
	l.some = true
	if info.Size() > MaxBatch+maxLine {
		l.foreign = fmt.Sprintf("it is %d bytes long, more than a command may record", info.Size())
		return l, nil
	}
	text := make([]byte, info.Size())
	if n, err := f.ReadAt(text, 0); err != nil && err != io.EOF {
		return l, err
	} else {
		text = text[:n]
	}
	p, whole := parsePending(string(text))
	if !whole {
		return l, nil // nothing of its batch was appended
	}
	id, err := f.ID()
	switch {
	case err != nil:
		return l, err
	case !p.ours():
		l.foreign = "it names what no command records"
	case p.id != id:
		l.foreign = "it came here in a copy of the folder, by git or in an archive for example"
	default:
		l.pending = &p
	}
	return l, nil
}
