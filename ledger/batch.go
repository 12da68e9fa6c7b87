package ledger

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/gocarina/gocsv"
)

// A Batch is the rows of one command: all of one file, appended whole or not at all.
type Batch interface {
	Len() int
	Cancels() bool // reports whether a void can cancel its rows
	file() string
	eachRow(func(row))
	reopen(v *View, reason string) error
	encode(v *View, newEntry func() string) ([]byte, error)
}

// Rows is a Batch of rows of one type.
type Rows[T any, R RowOf[T]] []T

// NewBatch returns the rows as a Batch.
func NewBatch[T any, R RowOf[T]](rows []T) Batch {
	return Rows[T, R](rows)
}

// Len returns the number of rows.
func (b Rows[T, R]) Len() int { return len(b) }

// Cancels reports whether a void can cancel the rows: all but seals.
func (b Rows[T, R]) Cancels() bool { return b.file() != Seals }

func (b Rows[T, R]) file() string { return R(new(T)).file() }

func (b Rows[T, R]) eachRow(each func(row)) {
	for i := range b {
		each(R(&b[i]))
	}
}

// encode gives each row its entry, checks the rules of its file, and returns the text to append. A row that breaks a rule is a fault of
// the command, so the message names no line.
func (b Rows[T, R]) encode(v *View, newEntry func() string) ([]byte, error) {
	var faults []error
	for i := range b {
		r := R(&b[i])
		h := r.head()
		h.Entry = newEntry()
		h.ID = h.Entry
		c := &checker{bad: func(column, what, mend string) { faults = append(faults, wrong(mend, "%s %s", column, what)) }}
		r.check(c)
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	header, err := v.header(b.file())
	if err != nil {
		return nil, err
	}
	if err := v.ended(b.file()); err != nil {
		return nil, err
	}
	text, err := encodeRows(b.file(), header, []T(b))
	if broken := b.readBack(header, text); broken != nil {
		return nil, broken // of a bad number it says more than err, which may say that a spreadsheet would run it
	}
	return text, err
}

// CheckRow returns an error if a row can't be recorded in any book, because it breaks a rule of its file or holds forbidden text. Its
// entry may be blank.
func CheckRow[T any, R RowOf[T]](row T) error {
	one := Rows[T, R]{row}
	var faults []error
	R(&one[0]).check(&checker{bad: func(column, what, mend string) { faults = append(faults, wrong(mend, "%s %s", column, what)) }})
	if len(faults) > 0 {
		return errors.Join(faults...)
	}
	text, err := encodeRows(one.file(), nil, []T(one))
	if broken := one.readBack(nil, text); broken != nil {
		return broken
	}
	return err
}

// readBack decodes the text of rows, so that nothing is recorded that could not be read: grams below 0, or text that is not UTF-8.
func (b Rows[T, R]) readBack(header []string, text []byte) error {
	content := string(text)
	if header != nil {
		var head strings.Builder
		w := csv.NewWriter(&head)
		if err := w.Write(header); err != nil {
			return err
		}
		w.Flush()
		content = head.String() + content
	}
	d, err := decode[T, R](scanText(content))
	if err != nil {
		return err
	}
	var faults []error
	for _, f := range d.faults {
		faults = append(faults, &RowError{What: f.What, Mend: f.Mend})
	}
	return errors.Join(faults...)
}

// ended returns an error if a file ends within quotes, because an appended row would become part of that text.
func (v *View) ended(file string) error {
	f, err := v.open(file)
	if err != nil || f == nil {
		return err
	}
	defer f.Close()
	quotes := 0
	block := make([]byte, min(blockSize, v.size[file]+1))
	for {
		n, err := f.Read(block)
		quotes += bytes.Count(block[:n], []byte{'"'})
		switch {
		case err == io.EOF && quotes%2 == 0:
			return nil
		case err == io.EOF:
			return &RowError{file, 0, "a quote in it is never closed", "find it with tarebook verify and close it; until then nothing can be added"}
		case err != nil:
			return err
		}
	}
}

// encodeRows returns the text of rows in the order of the file's header. Without a header (nil) the text begins with one.
func encodeRows(file string, header []string, rows any) ([]byte, error) {
	var r records
	if err := gocsv.MarshalCSV(rows, &r); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	columns, r := r[0], r[1:]
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if header == nil {
		header = columns
		if err := w.Write(columns); err != nil {
			return nil, err
		}
	}
	var missing []string
	for i, name := range columns {
		if slices.Contains(header, name) || filledAlone(file, name) {
			continue
		}
		if slices.ContainsFunc(r, func(record []string) bool { return record[i] != "" }) {
			missing = append(missing, name)
		}
	}
	if missing != nil {
		return nil, Faults{{file, 1, "the header has no column for " + strings.Join(missing, " and "), "add ," + strings.Join(missing, ",") + " to its end"}}
	}
	var unfit []error
	for _, record := range r {
		fields := make([]string, len(header))
		for j, name := range header {
			i := slices.Index(columns, name)
			if i < 0 {
				continue
			}
			fields[j] = oneLine(record[i])
			if err := CheckText(name, fields[j]); err != nil {
				unfit = append(unfit, err)
			}
		}
		if err := w.Write(fields); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), errors.Join(append(unfit, w.Error())...)
}

// firstLine returns the first line of a file, unchanged, with its line end.
func (v *View) firstLine(file string) (string, error) {
	f, err := v.open(file)
	if err != nil || f == nil {
		return "", err
	}
	defer f.Close()
	line, err := bufio.NewReader(f).ReadString('\n')
	if err == io.EOF {
		err = nil
	}
	return line, err
}

// header returns the header of a file, nil if the file does not exist.
func (v *View) header(file string) ([]string, error) {
	f, err := v.open(file)
	if err != nil || f == nil {
		return nil, err
	}
	defer f.Close()
	s := newScanner(f, 4096)
	record, raw, _, err := s.next()
	if errors.Is(err, io.EOF) {
		return nil, noHeader(file)
	}
	var syntax *csv.ParseError
	if errors.As(err, &syntax) {
		return nil, Faults{syntaxError(file, 0, raw, err)}
	}
	if err != nil {
		return nil, err
	}
	header := make([]string, len(record))
	for i, name := range record {
		header[i] = strings.Clone(name)
	}
	l, err := newLayout(file, columnsByFile()[file], header)
	if err != nil {
		return nil, err
	}
	return l.header, nil
}

// Lacking returns those of some columns that the header of a file lacks; none where there is no file.
func (v *View) Lacking(file string, columns ...string) (lacking []string, err error) {
	header, err := v.header(file)
	if header == nil {
		return nil, err
	}
	for _, column := range columns {
		if !slices.Contains(header, column) {
			lacking = append(lacking, column)
		}
	}
	return lacking, nil
}

// records collects the records that gocsv writes, so that their fields can be put in the order of the file's own header.
type records [][]string

func (r *records) Write(record []string) error {
	*r = append(*r, slices.Clone(record))
	return nil
}
func (*records) Flush()       {}
func (*records) Error() error { return nil }

// following is a batch that is recorded behind another one of another file.
type following struct {
	Batch
	first Batch
}

// Following returns a batch that Update records once first is recorded. Each is whole or not there; if only first is there, it does no harm.
func Following(first, batch Batch) Batch {
	if first == nil || first.Len() == 0 {
		return batch
	}
	return &following{batch, first}
}
