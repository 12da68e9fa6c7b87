package ledger

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
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

// FuzzScanner holds the block reader against encoding/csv: the same records, and the same line of the first error; and blocks of
// one size against another: the same records and errors to the end.
func FuzzScanner(f *testing.F) {
	for _, s := range []string{
		"", "\n", "\ufeffa,b\n", "a,b\r\nc,d", "a\r", "\r\r\n", "a,\"b\nc\",d\ne,f\n", "a,\"b\"\"\r\n\"\"c\"\n", "a,b\"b,c\nd\n", "\"a\"b\n",
		"a\n\"b\nc\nd", "\"a\nb\"c\nd\n", "a \"b\nc\" d\n", "  \n\t\n,\n", "\"\"\n\"\"", "a\x00b,\xff\n", "\"", "\"\n", "\ufeff\"a\"\n", "\ufeff\ufeffa\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		want, wantLine := reference4180(string(data))
		whole := scanOn(t, string(data), len(data)+1)
		for _, size := range []int{1, 7, 64} {
			got, gotLine := scanAll(bytes.NewReader(data), size)
			if d := cmp.Diff(want, got); d != "" || gotLine != wantLine {
				t.Fatalf("blocks of %d: %q: first error on line %d, want %d; records (-want +got):\n%s", size, data, gotLine, wantLine, d)
			}
			if d := cmp.Diff(whole, scanOn(t, string(data), size)); d != "" {
				t.Fatalf("blocks of %d: %q (-one block +blocks):\n%s", size, data, d)
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

// scanOn returns all records that the scanner finds, past errors too, each with its line.
func scanOn(t *testing.T, content string, size int) (all []string) {
	for s := newScanner(strings.NewReader(content), size); ; {
		record, _, line, err := s.next()
		var e *csv.ParseError
		switch {
		case err == io.EOF:
			return all
		case errors.As(err, &e):
			record = []string{e.Err.Error()}
		case err != nil:
			t.Fatal(err)
		}
		all = append(all, fmt.Sprintf("%d %q", line, record))
	}
}

// A stray quote spoils its own record alone, wherever the blocks are cut.
func TestScannerStrayQuote(t *testing.T) {
	t.Parallel()
	const content = "a,3\" pipe\nb,c\nd,\"x\ny\"\ne,f\ng,4\"\nh,\"\"\"i\"\n"
	stray := fmt.Sprintf("%q", []string{csv.ErrBareQuote.Error()})
	want := []string{"1 " + stray, `2 ["b" "c"]`, `3 ["d" "x\ny"]`, `5 ["e" "f"]`, "6 " + stray, `7 ["h" "\"i"]`}
	for size := 1; size < len(content)+2; size++ {
		if d := cmp.Diff(want, scanOn(t, content, size)); d != "" {
			t.Errorf("blocks of %d (-want +got):\n%s", size, d)
		}
	}
}
