package ledger

import (
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"testing/iotest"
	"testing/synctest"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// closing is a reader that tells whether it was closed.
type closing struct {
	io.Reader
	closed atomic.Bool
}

func (c *closing) Close() error {
	c.closed.Store(true)
	return nil
}

// everyRow decodes a stream and returns its rows and faults in words, each block's faults behind its rows.
func everyRow(s *blockStream, spools ...string) (rows, faults []string, err error) {
	var d *rowDecoder
	row := &Consumption{}
	for b := s.next(); b != nil; b = s.next() {
		if d == nil {
			d = newRowDecoder(s.cutter.layout, newSpoolIndex(spools), row, func() { rows = append(rows, inWords(row)) }, func(e *RowError) { faults = append(faults, e.Error()) })
		}
		if err := d.decode(b.text(), b.line); err != nil {
			return rows, faults, err
		}
		for i := range b.bytes { // as another block would
			b.bytes[i] = 'x'
		}
		s.recycle(b)
	}
	return rows, faults, s.err
}

// inWords returns all that is known of a row.
func inWords(row *Consumption) string {
	shown := *row
	shown.setID()
	shown.layout, shown.SpoolNumber = nil, 0
	return fmt.Sprintf("%+v", shown)
}

// The blocks are the file: what is decoded from them is what the reader alone reads, whatever their size, and also where it is one.
func TestBlocksAreTheFile(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		content := csvText(t, ConsumptionFile)
		if header, rows, _ := strings.Cut(content, "\n"); rapid.Bool().Draw(t, "long") { // more blocks than may wait
			content = header + "\n" + strings.Repeat(rows, 20)
		}
		decodedAlike(t, content, rapid.SampledFrom([]int{1, 7, 64, 1000, streamBlock}).Draw(t, "block"), rapid.Bool().Draw(t, "ahead"))
	})
}

// decodedAlike compares blocks of a size, read ahead or not, with what the reader alone reads.
func decodedAlike(t interface{ Fatalf(string, ...any) }, content string, block int, ahead bool) {
	var wantRows, wantFaults []string
	row := &Consumption{}
	_, wantErr := scanRows(newScanner(strings.NewReader(content), blockSize), row, func(int, string) {
		wantRows = append(wantRows, inWords(row))
	}, func(e *RowError, _ []string) { wantFaults = append(wantFaults, e.Error()) })
	f := &closing{Reader: strings.NewReader(content)}
	var s *blockStream
	if ahead {
		s = newBlockStream(f, block)
	} else {
		s = &blockStream{cutter: newBlockCutter(f, block), file: f}
	}
	rows, faults, err := everyRow(s, "PLA-1", "A")
	if d := cmp.Diff(wantRows, rows) + cmp.Diff(wantFaults, faults); d != "" || fmt.Sprint(err) != fmt.Sprint(wantErr) || !f.closed.Load() {
		t.Fatalf("%q in blocks of %d: errors %v and %v, closed %t (-reader +blocks):\n%s", content, block, wantErr, err, f.closed.Load(), d)
	}
}

// What rows of one job share is decoded once, and for these rows only.
func TestRowsOfOneJob(t *testing.T) {
	t.Parallel()
	const at = ",2026-11-20T18:30:00Z,"
	jobs := []string{at + "a,c,P1,", at + "b,c,P1,", at + `"a",c,P1,`, ",2026-11-20T18:30:01Z,a,c,P1,", at + "a,c,,", at + "a:b,c,P1,", at + "a,,P1,"}
	ends := []string{"A,1,,.5,2,,,,,,", "PLA-1,1,,2,12345.678,3,failed,,1,,x", "A,1,,2,,,,,,,\r", `A,"1",,2,,1.5,,,,,`, "B,1,,,,,,,,,", "A,1,2"}
	rapid.Check(t, func(t *rapid.T) {
		rows := ""
		for range rapid.IntRange(2, 30).Draw(t, "rows") {
			entry := rapid.SampledFrom([]string{"", id(1), id(2), id(40), strings.ToLower(id(3))}).Draw(t, "entry")
			rows += entry + rapid.SampledFrom(jobs).Draw(t, "job") + rapid.SampledFrom(ends).Draw(t, "end") + "\n"
		}
		content := shuffled(rows, rapid.Uint64Max(9).Draw(t, "order"))
		decodedAlike(t, content, rapid.SampledFrom([]int{100, 1000, streamBlock}).Draw(t, "block"), rapid.Bool().Draw(t, "ahead"))
	})
}

// shuffled puts the columns of consumption into another order, drops some that may be absent and adds one that is none; 0 leaves them. Lines
// of as many fields go with the header.
func shuffled(rows string, order uint64) (content string) {
	columns := columnsOf(&Consumption{})
	if order == 0 {
		return Header(ConsumptionFile) + rows
	}
	r := rand.New(rand.NewPCG(order, 0))
	var places []int // in a line; -1 for the column that is none
	for i, name := range columns {
		if !mayBeAbsent(ConsumptionFile, name) || r.IntN(4) > 0 {
			places = append(places, i)
		}
	}
	places = append(places, -1)
	if r.IntN(2) == 0 { // else the first columns stand in the usual order
		r.Shuffle(len(places), func(i, j int) { places[i], places[j] = places[j], places[i] })
	}
	pick := func(fields []string, none string) string {
		var picked []string
		for _, i := range places {
			if i < 0 {
				picked = append(picked, none)
			} else {
				picked = append(picked, fields[i])
			}
		}
		return strings.Join(picked, ",")
	}
	lines := []string{pick(columns, "what")}
	for line := range strings.SplitSeq(rows, "\n") {
		if fields := strings.Split(line, ","); len(fields) == len(columns) {
			line = pick(fields, []string{"", "x", " ", `"quoted, once"`}[r.IntN(4)])
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "\n")
}

// Rows of any text are decoded as the reader decodes them, under any header.
func FuzzBlocks(f *testing.F) {
	const at = "2026-11-20T18:30:00Z"
	for _, row := range []string{
		id(1) + "," + at + ",job,c,P1,PLA-1,1,2.5,3,4.125,5,failed,path,1,a.gcode,x", "," + at + ",job,,,A,1,,,,,,,,,\r", "," + at + ",a:b,,,A,1,,,,,,,,,",
		",2026-11-20T18:30:00.5+01:00,job,,,A, 1 ,,,,2.0,FAILED,,a/b,,", ",2026-11-20T25:30:00Z,job,,,B,1,,,,,,,,,", ",0001-01-01T00:00:00Z,,,,A,1,,,,,,,,,",
		",0000-01-01T00:00:01Z,,,,A,1,,,,,,,,,\n,0000-01-01T00:00:02-00:01,,,,A,1,,,,,,,,,", ",\xff,\"", "\n \n;;\n",
		id(2) + "," + at + `,"job, twice",c,P1,"PLA-1",1,"2.5",3,4.1256,5,failed,path,1,a.gcode," a note "`, "," + at + `,"a""b",,,A,1,,,,,,,,,"two` + "\nlines\"", "," + at + `,job ,"a:b",,A,1,,,,,,,,,"x"y`,
		strings.Repeat("\x00", 24) + "00," + at + ",job,,,A,1,2,3,4,5,failed,path,,,x",
		",2026-11-20T24:30:00Z,job,,,A,999999999,1234567890,,,,,,,,\n,2026-11-20T23:59:60Z,job,,,A,.5,,,,,,,,,",
	} {
		for order := range uint64(4) {
			f.Add(row, 64, order)
		}
	}
	f.Fuzz(func(t *testing.T, rows string, block int, order uint64) {
		decodedAlike(t, shuffled(rows, order), 1+int(uint(block)%streamBlock), block%2 == 0)
	})
}

// manyRows is a consumption.csv of more blocks than are read ahead.
func manyRows() string {
	return lines(ConsumptionFile, strings.Repeat(",2026-11-20T18:30:00Z,vase,,,PLA-1,1,,,,,,,\n", 4*blocksAhead*streamBlock/16))
}

// No more blocks are read than may wait.
func TestBlocksAreBounded(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		r := &countedReader{Reader: strings.NewReader(manyRows())}
		s := newBlockStream(r, streamBlock)
		synctest.Wait()
		if len(s.ahead) != blocksAhead || r.read > (blocksAhead+2)*streamBlock {
			t.Errorf("%d blocks wait and %d bytes are read, want %d blocks", len(s.ahead), r.read, blocksAhead)
		}
		s.stop()
	})
}

// countedReader counts the bytes that were read.
type countedReader struct {
	io.Reader
	read int
}

func (c *countedReader) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.read += n
	return n, err
}

func (c *countedReader) Close() error { return nil }

func TestBlocksStop(t *testing.T) {
	t.Parallel()
	content := manyRows()
	quotes := endless{make(chan struct{}, 1)}
	for i, f := range []*closing{
		{Reader: strings.NewReader(content)},
		{Reader: strings.NewReader("")},
		{Reader: io.MultiReader(strings.NewReader(Header(ConsumptionFile)), quotes)}, // a quote that is never closed
	} {
		s := newBlockStream(f, streamBlock)
		if i == 2 {
			<-quotes.begun
		}
		s.stop()
		if !f.closed.Load() {
			t.Error("stopped, and the file is open")
		}
	}
}

// endless is one record without an end.
type endless struct{ begun chan struct{} }

func (e endless) Read(p []byte) (int, error) {
	select {
	case e.begun <- struct{}{}:
	default:
	}
	return copy(p, `"`), nil
}

func TestBlocksTellTroubleOfTheDisk(t *testing.T) {
	t.Parallel()
	trouble := errors.New("disk")
	f := &closing{Reader: io.MultiReader(strings.NewReader(manyRows()), iotest.ErrReader(trouble))}
	rows, _, err := everyRow(newBlockStream(f, 64), "PLA-1")
	if !errors.Is(err, trouble) || len(rows) == 0 || !f.closed.Load() {
		t.Errorf("got %v after %d rows, closed %t", err, len(rows), f.closed.Load())
	}
}

// A file that can't be opened any more is an error, also where it was to be read ahead.
func TestBlocksOfWhatIsGone(t *testing.T) {
	t.Parallel()
	book := newBook(t, map[string]string{ConsumptionFile: lines(ConsumptionFile)})
	v := view(t, book)
	if err := os.Remove(filepath.Join(book.Dir, ConsumptionFile)); err != nil {
		t.Fatal(err)
	}
	defer v.ReadAhead()()
	wantError(t, v.FoldConsumption(nothing{}), ConsumptionFile)
}
