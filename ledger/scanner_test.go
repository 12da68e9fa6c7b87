package ledger

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
)

// scanAll returns the records that the scanner finds before the first error, and the line of that error or 0.
func scanAll(r io.Reader, size int) (records [][]string, line int) {
	s := newScanner(r, size)
	for {
		record, raw, line, err := s.next()
		switch {
		case err == io.EOF:
			return records, 0
		case err != nil:
			return records, syntaxError("", line-1, raw, err).Line
		}
		records = append(records, slices.Clone(record))
	}
}

// reference does the same by encoding/csv alone.
func reference4180(content string) (records [][]string, line int) {
	content = strings.TrimPrefix(content, "\ufeff")
	r := csv.NewReader(strings.NewReader(content))
	r.FieldsPerRecord = -1
	for {
		start := r.InputOffset()
		record, err := r.Read()
		switch {
		case err == io.EOF:
			return records, 0
		case err != nil:
			return records, syntaxError("", 0, content[start:r.InputOffset()], err).Line
		case strings.Trim(content[start:r.InputOffset()], " \t\r\n") != "": // a line of blanks is nothing
			records = append(records, record)
		}
	}
}

// FuzzScanner holds the block reader against encoding/csv: the same records, and the same line of the first error.
func FuzzScanner(f *testing.F) {
	for _, s := range []string{
		"", "\n", "\ufeffa,b\n", "a,b\r\nc,d", "a\r", "\r\r\n", "a,\"b\nc\",d\ne,f\n", "a,\"b\"\"\r\n\"\"c\"\n", "a,b\"b,c\nd\n", "\"a\"b\n",
		"a\n\"b\nc\nd", "\"a\nb\"c\nd\n", "a \"b\nc\" d\n", "  \n\t\n,\n", "\"\"\n\"\"", "a\x00b,\xff\n", "\"", "\"\n", "\ufeff\"a\"\n", "\ufeff\ufeffa\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		want, wantLine := reference4180(string(data))
		for _, size := range []int{1, 7, 64} {
			got, gotLine := scanAll(bytes.NewReader(data), size)
			if d := cmp.Diff(want, got); d != "" || gotLine != wantLine {
				t.Fatalf("blocks of %d: %q: first error on line %d, want %d; records (-want +got):\n%s", size, data, gotLine, wantLine, d)
			}
		}
	})
}

func TestScannerReadsWhatComesInDrops(t *testing.T) {
	t.Parallel()
	const content = "\ufeffa,\"b\nc\"\r\nd,e\n"
	got, line := scanAll(iotest.OneByteReader(strings.NewReader(content)), 7)
	if want := [][]string{{"a", "b\nc"}, {"d", "e"}}; !reflect.DeepEqual(got, want) || line != 0 {
		t.Errorf("got %q, error on line %d, want %q", got, line, want)
	}
	trouble := errors.New("disk")
	s := newScanner(io.MultiReader(strings.NewReader("a,b\nc"), iotest.ErrReader(trouble)), 2)
	for {
		if _, _, _, err := s.next(); err != nil {
			if !errors.Is(err, trouble) {
				t.Errorf("got %v, want the trouble of the disk", err)
			}
			return
		}
	}
}

// A record much longer than a block is found in time that grows with its length, not with its square.
func TestScannerLongRecord(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("x\n", 1<<19)
	got, line := scanAll(strings.NewReader("a,\""+long+"\"\nb,c\n"), 1)
	if len(got) != 2 || got[0][1] != long || line != 0 {
		t.Errorf("%d records, error on line %d, want 2 and the long text whole", len(got), line)
	}
	if _, line := scanAll(strings.NewReader("a\nb,\""+long), 1); line != 2 {
		t.Errorf("a quote never closed is told on line %d, want 2", line)
	}
}
