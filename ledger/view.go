package ledger

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// View is a snapshot of a book: every file up to the length that it had at one moment. A file is read when it is first asked for, so
// that faults in other files don't stop a command that does not need them.
type View struct {
	book  *Book
	asOf  Time
	until string // rows with a greater entry do not exist; blank: all do
	past  Time   // rows but voids with a later time do not exist; zero: all do
	size  map[string]int64
	found map[string]fs.FileInfo // of each file, when the snapshot was made
	odd   map[string]Faults      // of each file that is not a regular one

	lines *settingLines // nil until they are read

	settings  *Settings
	materials table[Material]
	cores     table[Core]
	scales    table[Scale]
	printers  table[Printer]
	purges    table[PairPurge]
	nozzles   table[Nozzle]
	limits    table[Limit]
	clients   table[Client]

	purchases kept[Purchase]
	weighins  kept[Weighin]
	needs     kept[Need]
	moves     kept[Move]
	voids     kept[Void]
	seals     kept[Seal]
	bills     kept[Bill]
	sliced    kept[SlicedFile]

	known       map[string]bool // spools that any row of purchases.csv names, voided or broken too
	unsure      bool            // rows that could not be read may name more spools
	hidden      map[string]bool // IDs that live voids hide
	consumption []*Conflict
	hints       hints
	stream      *blockStream // of consumption; set by ReadAhead

	texts map[string]string // of small files that were read; nil without a Memory
	made  int               // entries that the Memory had when the view was made
	clock time.Time         // of the disk, then or before
	index *spoolIndex       // of known; set when consumption is read
}

// kept is one small ledger that was read.
type kept[T any] struct {
	read      bool
	all       []*T // every sound row, in the order of lines
	live      []*T // the rows that count, by time
	conflicts []*Conflict
	faults    Faults
	err       error
}

func (b *Book) snapshot(asOf Time) (*View, error) {
	v := &View{book: b, asOf: asOf, size: map[string]int64{}, found: map[string]fs.FileInfo{}, odd: map[string]Faults{}, hints: hints{mostHints, map[string][]string{}}}
	v.remember()
	for _, file := range slices.Concat(Tables, Ledgers) {
		info, err := b.disk().Lstat(b.Dir, file)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		v.size[file], v.found[file] = info.Size(), info
		if odd := notRegular(file, info.Mode()); odd != nil {
			v.odd[file] = odd
		}
	}
	for _, file := range []string{SettingsFile, Purchases} {
		if _, ok := v.size[file]; !ok {
			return nil, fmt.Errorf("%w in %s: %s is not there; start one with: tarebook init", ErrNoBook, b.Dir, file)
		}
	}
	if err := v.checkFormat(); err != nil {
		return nil, err
	}
	return v, nil
}

// AsOf returns the instant up to which the view has rows; the zero Time if it has all.
func (v *View) AsOf() Time { return v.asOf }

// Until returns a view of the same files without the rows of ledgers that were recorded after a bill was issued. Rows typed by hand don't
// say when that was, and stay; tables have no times.
func (v *View) Until(b *Bill) *View {
	return &View{book: v.book, asOf: v.asOf, until: b.issued(), size: v.size, found: v.found, odd: v.odd, hints: v.hints, lines: v.lines}
}

// Past returns a view of the same files without what happened after a time. Unlike in a view as of that time, what was voided since is
// voided.
func (v *View) Past(at Time) *View {
	return &View{book: v.book, asOf: v.asOf, until: v.until, past: at, size: v.size, found: v.found, odd: v.odd, hints: v.hints, lines: v.lines}
}

// exists reports whether a row is there in a view of a time or of the entries until one.
func (v *View) exists(h *Head) bool {
	return v.recorded(h) && (v.past.IsZero() || !h.At.After(v.past))
}

// recorded is exists for voids, which count whenever they were made.
func (v *View) recorded(h *Head) bool {
	return (v.asOf.IsZero() || !h.At.After(v.asOf)) && (v.until == "" || h.Entry == "" || strings.ToUpper(h.Entry) <= v.until)
}

// open opens a file as it was in the snapshot; nil if it did not exist.
func (v *View) open(file string) (io.ReadCloser, error) {
	size, ok := v.size[file]
	if !ok || size == 0 && v.odd[file] == nil && v.beingMade(file) {
		return nil, nil
	}
	if odd := v.odd[file]; odd != nil {
		return nil, odd
	}
	f, err := openFile(filepath.Join(v.book.Dir, file))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, changed(file)
	}
	if err != nil {
		return nil, err
	}
	now, err := f.Stat()
	if err == nil && (!os.SameFile(v.found[file], now) || now.Size() < size) {
		err = changed(file)
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return &part{f, file, size}, nil
}

// part reads a file up to a length. A shorter file is an error.
type part struct {
	f    *os.File
	file string
	left int64
}

func (p *part) Read(b []byte) (int, error) {
	if p.left == 0 {
		return 0, io.EOF
	}
	n, err := p.f.Read(b[:min(int64(len(b)), p.left)])
	p.left -= int64(n)
	if err == io.EOF && p.left > 0 { // another program has cut it
		err = changed(p.file)
	}
	return n, err
}

func (p *part) Close() error { return p.f.Close() }

// decodeFile reads a table or a small ledger. A file that does not exist has no rows.
func decodeFile[T any, R rowOf[T]](v *View, file string) (d decoded[T], err error) {
	f, err := v.open(file)
	if err != nil || f == nil {
		return d, err
	}
	defer f.Close()
	if v.texts != nil {
		return decodeAgain[T, R](v, file, f)
	}
	return decode[T, R](v.newScanner(f, file))
}

// newScanner returns a scanner of an opened file, with a block no larger than the file.
func (v *View) newScanner(r io.Reader, file string) *scanner {
	return newScanner(r, int(min(blockSize, v.size[file]+1)))
}
