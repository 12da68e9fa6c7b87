package toolpath

import (
	"io"
	"sync"
)

// ahead reads a stream in a goroutine, so that one core decompresses while another parses. It holds three blocks at most.
type ahead struct {
	full chan chunk
	free chan []byte
	stop chan struct{}
	done sync.WaitGroup

	now  chunk
	read int // bytes of now that Read has returned
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
			a.full <- chunk{buf[:n], err} // never blocks, since full has room for all chunks
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

// close ends the goroutine. When it returns, nobody reads the stream.
func (a *ahead) close() {
	close(a.stop)
	a.done.Wait()
}
