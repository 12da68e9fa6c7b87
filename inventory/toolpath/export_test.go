package toolpath

import (
	"bufio"
	"bytes"
	"io"
)

// ReadBlocks reads like Read, so many bytes at a time.
func ReadBlocks(r io.Reader, name string, o Options, size int) (*File, error) {
	m := newMachine(name, o)
	m.block = size
	return m.run(r)
}

// Number reads a number before other text as billionths; ok is false for what is none, or too large.
func Number(text, behind string) (v int64, length int, ok bool) {
	v, next, s := number([]byte(text+behind+"\n"), 0)
	return v, next, s <= long
}

// Unpack undoes packed text.
func Unpack(data []byte) string {
	var p packed
	p.begin(bytes.NewReader(data))
	text, _ := io.ReadAll(&p)
	return string(text)
}

// Grow undoes heatshrink.
func Grow(data []byte, window uint) (string, error) {
	var in stored
	in.begin(bufio.NewReader(bytes.NewReader(data)), int64(len(data)), 0)
	var s shrunk
	s.begin(&in, window)
	text, err := io.ReadAll(&s)
	return string(text), err
}
