package toolpath

import "io"

// ReadBlocks reads like Read, so many bytes at a time.
func ReadBlocks(r io.Reader, name string, o Options, size int) (*File, error) {
	m := newMachine(name, o)
	m.block = size
	return m.run(r)
}

// Number reads a number as billionths; ok is false for what is none, or too large.
func Number(text string) (v int64, length int, ok bool) {
	v, next, s := number([]byte(text+"\n"), 0)
	return v, next, s == sound
}
