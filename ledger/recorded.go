package ledger

import (
	"bytes"
	"io"
	"os"
)

// What a command has recorded, for its receipt.

// RowsOf returns the rows of a batch of a ledger; nil of a table's.
func RowsOf(b Batch) (rows []Row) {
	b.eachRow(func(r row) {
		if r, ok := r.(Row); ok {
			rows = append(rows, r)
		}
	})
	return rows
}

// FileOf returns the file that a batch is of.
func FileOf(b Batch) string { return b.file() }

// RecordedLines returns the line in its file of each row that Update has recorded last; nil if another program has changed them since.
func (b *Book) RecordedLines() ([]int, error) {
	p := b.recorded
	if p == nil {
		return nil, nil
	}
	r, err := b.judge(p)
	if err != nil || r.remains != wholeLeft {
		return nil, err
	}
	f, err := b.disk().OpenFile(b.Dir, p.file, os.O_RDONLY)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	end, last := r.at+int64(len(r.bytes)), 0
	block := make([]byte, blockSize)
	for in := io.NewSectionReader(f, 0, end); ; {
		n, err := in.Read(block)
		last += bytes.Count(block[:n], []byte{'\n'})
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
	}
	lines := make([]int, p.entries.rows)
	for i := range lines {
		lines[i] = last - len(lines) + 1 + i
	}
	return lines, nil
}
