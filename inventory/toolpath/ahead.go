package toolpath

import (
	"io"
	"sync"
)

// ahead reads a stream in a goroutine of its own, so that one core decodes while another carries out what is decoded.
type ahead struct {
	full chan chunk
	free chan []byte
	stop chan struct{}
	done sync.WaitGroup

	now  chunk
	read int // bytes of now that were passed on
}

type chunk struct {
	buf []byte
	err error // after buf
}

func newAhead(r io.Reader) *ahead {
	const chunks = 3
	a := &ahead{full: make(chan chunk, chunks), free: make(chan []byte, chunks), stop: make(chan struct{})}
	for range chunks {
		a.free <- make([]byte, blockSize)
	}
	a.done.Go(func() {
		for {
			var buf []byte
			select {
			case buf = <-a.free:
			case <-a.stop:
				return
			}
			n, err := fill(r, buf)
			a.full <- chunk{buf[:n], err} // there is room for all
			if err != nil {
				return
			}
		}
	})
	return a
}

func (a *ahead) Read(p []byte) (int, error) {
	for a.read == len(a.now.buf) {
		if a.now.err != nil {
			return 0, a.now.err
		}
		if a.now.buf != nil {
			a.free <- a.now.buf[:cap(a.now.buf)]
		}
		a.now, a.read = <-a.full, 0
	}
	n := copy(p, a.now.buf[a.read:])
	a.read += n
	return n, nil
}

// close waits until the stream is no longer read.
func (a *ahead) close() {
	close(a.stop)
	a.done.Wait()
}
