package ledger

import (
	"errors"
	"io"
)

// Reading ahead: consumption is decoded on a goroutine of its own while the caller still reads the small files that its
// rows refer to, and later while it folds. Order is kept, so nobody can tell but by the clock.

const (
	batchRows  = 64
	batchAhead = 14 // batches that wait for the fold; with the rows it bounds the memory
)

// rowBatch is some consumption rows in the order of lines, and what broke a rule among them.
type rowBatch struct {
	rows   []Consumption
	faults []*RowError
}

// rowStream decodes consumption.csv ahead of whoever folds it.
type rowStream struct {
	full chan *rowBatch
	free chan *rowBatch
	quit chan struct{}
	err  error // once full is closed
}

var errStopped = errors.New("nobody reads on")

// stoppable is a reader that ends when its stream is stopped.
type stoppable struct {
	io.Reader
	quit <-chan struct{}
}

func (s stoppable) Read(p []byte) (int, error) {
	select {
	case <-s.quit:
		return 0, errStopped
	default:
		return s.Reader.Read(p)
	}
}

func (v *View) newRowStream() *rowStream {
	s := &rowStream{make(chan *rowBatch, batchAhead), make(chan *rowBatch, batchAhead+2), make(chan struct{}), nil}
	go func() {
		defer close(s.full)
		s.err = s.run(v)
	}()
	return s
}

func (s *rowStream) run(v *View) (err error) {
	f, err := v.open(ConsumptionFile)
	if err != nil || f == nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	batch := s.next()
	send := func() {
		select {
		case s.full <- batch:
		case <-s.quit:
		}
		batch = s.next()
	}
	_, err = scanRows(v.newScanner(stoppable{f, s.quit}, ConsumptionFile), func(row *Consumption, _ int, _ string) {
		batch.rows = append(batch.rows, *row)
		if len(batch.rows) == batchRows {
			send()
		}
	}, func(e *RowError, _ []string) {
		batch.faults = append(batch.faults, e)
		if len(batch.faults) == batchRows {
			send()
		}
	})
	send()
	return err
}

// next returns an empty batch, one that was folded already if there is one.
func (s *rowStream) next() *rowBatch {
	select {
	case b := <-s.free:
		b.rows, b.faults = b.rows[:0], nil
		return b
	default:
		return &rowBatch{rows: make([]Consumption, 0, batchRows)}
	}
}

// each hands on every row and every fault, and returns when the file is at its end. Rows are reused.
func (s *rowStream) each(row func(*Consumption), bad func(*RowError)) error {
	for b := range s.full {
		for i := range b.rows {
			row(&b.rows[i])
		}
		for _, e := range b.faults {
			bad(e)
		}
		s.free <- b
	}
	return s.err
}

// stop ends the stream, and returns when its file is closed.
func (s *rowStream) stop() {
	close(s.quit)
	for range s.full {
	}
}

// ReadAhead begins to decode consumption. What is returned ends it, and is to be called when all that was wanted has been
// read.
func (v *View) ReadAhead() (stop func()) {
	if v.stream == nil {
		v.stream = v.newRowStream()
	}
	return func() {
		if v.stream != nil {
			v.stream.stop()
			v.stream = nil
		}
	}
}
