package ledger

import (
	"errors"
	"fmt"
	"io"
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

// The stream hands on what the reader alone reads, in its order, whatever the blocks are and whoever decodes them.
func TestStreamIsTheFile(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		content := csvText(t, ConsumptionFile)
		if header, rows, _ := strings.Cut(content, "\n"); rapid.Bool().Draw(t, "long") { // more blocks than may wait
			content = header + "\n" + strings.Repeat(rows, 20)
		}
		block := rapid.SampledFrom([]int{1, 7, 64, 1000, streamBlock}).Draw(t, "block")
		var rows, faults, wantRows, wantFaults []string
		row := &Consumption{}
		_, wantErr := scanRows(newScanner(strings.NewReader(content), blockSize), row, func(_ int, raw string) {
			wantRows = append(wantRows, fmt.Sprint(row.Line, raw))
		}, func(e *RowError, _ []string) { wantFaults = append(wantFaults, e.Error()) })
		f := &closing{Reader: strings.NewReader(content)}
		err := newRowStream(f, block).each(func(row *Consumption) {
			rows = append(rows, fmt.Sprint(row.Line, row.raw))
		}, func(e *RowError) { faults = append(faults, e.Error()) })
		if d := cmp.Diff(wantRows, rows) + cmp.Diff(wantFaults, faults); d != "" || fmt.Sprint(err) != fmt.Sprint(wantErr) || !f.closed.Load() {
			t.Fatalf("%q in blocks of %d: errors %v and %v, closed %t (-reader +stream):\n%s", content, block, wantErr, err, f.closed.Load(), d)
		}
	})
}

// manyRows is a consumption.csv of more blocks than a stream decodes ahead.
func manyRows() string {
	return lines(ConsumptionFile, strings.Repeat(",2026-11-20T18:30:00Z,vase,,,PLA-1,1,,,,,,,\n", blocksAhead*streamBlock/16))
}

// Who folds decodes no further ahead than the goroutine may, though that one is held up at a block.
func TestStreamIsBounded(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		s := newRowStream(&closing{Reader: strings.NewReader(manyRows())}, streamBlock)
		synctest.Wait()
		s.mu.Lock()
		if s.taken != blocksAhead || len(s.decoded) != blocksAhead {
			t.Errorf("alone the goroutine takes %d blocks and has %d, want %d", s.taken, len(s.decoded), blocksAhead)
		}
		late := s.decoded[1]
		delete(s.decoded, 1)
		s.mu.Unlock()
		rows := 0
		var err error
		go func() { err = s.each(func(*Consumption) { rows++ }, func(*RowError) {}) }()
		synctest.Wait()
		s.mu.Lock()
		if s.folded != 1 || s.taken != 1+blocksAhead {
			t.Errorf("%d blocks are folded and %d taken, want 1 and %d", s.folded, s.taken, 1+blocksAhead)
		}
		s.decoded[1] = late
		s.changed.Broadcast()
		s.mu.Unlock()
		synctest.Wait()
		if want := strings.Count(manyRows(), "vase"); err != nil || rows != want || s.working {
			t.Errorf("%v after %d rows of %d, working: %t", err, rows, want, s.working)
		}
	})
}

// Many lines within quotes are one record.
func TestStreamMakesNoRoomForLinesInQuotes(t *testing.T) {
	t.Parallel()
	l, err := newLayout(ConsumptionFile, columnsOf(&Consumption{}), columnsOf(&Consumption{}))
	if err != nil {
		t.Fatal(err)
	}
	var b rowBlock
	text := ",2026-11-20T18:30:00Z,vase,,,PLA-1,1,,,,,,,\"" + strings.Repeat("\n", 1<<20) + "\"\n"
	if err := new(blockReader).decode(&b, l, text, 1); err != nil || len(b.rows) != 1 || cap(b.rows) > streamBlock {
		t.Errorf("%v, %d rows in room for %d, want 1", err, len(b.rows), cap(b.rows))
	}
}

func TestStreamStops(t *testing.T) {
	t.Parallel()
	content := manyRows()
	quotes := endless{make(chan struct{}, 1)}
	for i, f := range []*closing{
		{Reader: strings.NewReader(content)},
		{Reader: strings.NewReader("")},
		{Reader: io.MultiReader(strings.NewReader(Header(ConsumptionFile)), quotes)}, // a quote that is never closed
	} {
		s := newRowStream(f, streamBlock)
		if i == 2 {
			<-quotes.begun
		}
		s.stop()
		if s.working || !f.closed.Load() {
			t.Errorf("stopped: working %t, closed %t", s.working, f.closed.Load())
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

func TestStreamTellsTroubleOfTheDisk(t *testing.T) {
	t.Parallel()
	trouble := errors.New("disk")
	rows := 0
	f := &closing{Reader: io.MultiReader(strings.NewReader(manyRows()), iotest.ErrReader(trouble))}
	err := newRowStream(f, 64).each(func(*Consumption) { rows++ }, func(*RowError) {})
	if !errors.Is(err, trouble) || rows == 0 || !f.closed.Load() {
		t.Errorf("got %v after %d rows, closed %t", err, rows, f.closed.Load())
	}
}

// A file that can't be opened any more is an error, also where it was to be read ahead.
func TestStreamOfWhatIsGone(t *testing.T) {
	t.Parallel()
	book := newBook(t, map[string]string{ConsumptionFile: lines(ConsumptionFile)})
	v := view(t, book)
	if err := os.Remove(filepath.Join(book.Dir, ConsumptionFile)); err != nil {
		t.Fatal(err)
	}
	defer v.ReadAhead()()
	wantError(t, v.FoldConsumption(nothing{}), ConsumptionFile)
}
