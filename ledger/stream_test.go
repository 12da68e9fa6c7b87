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
	"pgregory.net/rapid"
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

// The setters of the stream are the columns that gocsv finds in the struct, each filling its own field.
func TestSettersAreTheColumns(t *testing.T) {
	t.Parallel()
	var got []string
	for _, s := range setters {
		got = append(got, s.column)
	}
	if d := cmp.Diff(columnsOf[Consumption](), got); d != "" {
		t.Fatalf("setters (-gocsv +setters):\n%s", d)
	}
	values := map[string]string{"at": "2026-11-20T18:30:00Z", "part_g": "1", "support_g": "2", "prime_g": "3", "purge_g": "4", "changes": "5"}
	for i, s := range setters {
		value, ok := values[s.column]
		if !ok {
			value = s.column
		}
		var row Consumption
		if err := s.set(&row, value); err != nil {
			t.Fatal(err)
		}
		text, err := encodeRows(ConsumptionFile, nil, []Consumption{row})
		if err != nil {
			t.Fatal(err)
		}
		fields := split(strings.SplitN(string(text), "\n", 2)[1])
		if fields[i] != value {
			t.Errorf("setter %s fills another column: %q", s.column, fields)
		}
	}
}

// csvText draws a consumption.csv that RFC 4180 allows, good and bad rows mixed.
func csvText(t *rapid.T) string {
	columns := rapid.Permutation(columnsOf[Consumption]()).Draw(t, "columns")
	if rapid.Bool().Draw(t, "without note") {
		columns = slices.DeleteFunc(columns, func(c string) bool { return c == "note" || c == "changes" })
	}
	if rapid.Bool().Draw(t, "mine") {
		columns = slices.Insert(columns, rapid.IntRange(0, len(columns)).Draw(t, "place"), "mine")
	}
	grams := []string{"", "0", "12.5", " 3 ", "1.0001", "1e3", "-1", "x"}
	pool := map[string][]string{
		"entry":   {"", id(1), id(2), strings.ToLower(id(3)), "nonsense"},
		"at":      {"2026-11-20T18:30:00Z", "2026-11-20T18:30:00.5+01:00", "", "yesterday"},
		"spool":   {"PLA-1", "pla-1", " PLA-1", "", "P 1"},
		"part_g":  grams,
		"prime_g": grams, "purge_g": grams, "support_g": grams,
		"changes": {"", "3", "3.0", "3.5"},
		"outcome": {"", "finished", "Failed", "half"},
		"basis":   {"", "path", "WEIGHED", "?"},
	}
	words := []string{"", "vase", "a:b", "left, right", "two\nlines", "two\r\nlines", `say "hi"`, "Ärmel", "a\x00b", "\xff", " "}
	eol := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "line end")
	var b strings.Builder
	b.WriteString(rapid.SampledFrom([]string{"", "\ufeff", "\n", " \t\n\n", "\ufeff\r\n"}).Draw(t, "first"))
	put := func(fields []string) {
		for i, f := range fields {
			if i > 0 {
				b.WriteByte(',')
			}
			if strings.ContainsAny(f, ",\"\r\n") || len(fields) == 1 || rapid.IntRange(0, 9).Draw(t, "quoted") == 0 {
				f = `"` + strings.ReplaceAll(f, `"`, `""`) + `"`
			}
			b.WriteString(f)
		}
		b.WriteString(eol)
	}
	put(columns)
	for range rapid.IntRange(0, 6).Draw(t, "rows") {
		if rapid.IntRange(0, 4).Draw(t, "blank line") == 0 {
			b.WriteString(rapid.SampledFrom([]string{"", " ", "\t "}).Draw(t, "blank") + eol)
		}
		sound := rapid.Bool().Draw(t, "sound")
		var fields []string
		for _, c := range columns {
			choices, ok := pool[c]
			if !ok {
				choices = words
			}
			if sound { // the first two of each pool keep the rules
				choices = choices[:2]
			}
			fields = append(fields, rapid.SampledFrom(choices).Draw(t, c))
		}
		switch rapid.IntRange(0, 9).Draw(t, "width") {
		case 0:
			fields = fields[:rapid.IntRange(1, len(fields)).Draw(t, "fields")]
		case 1:
			fields = append(fields, "more")
		}
		put(fields)
	}
	text := b.String()
	if rapid.Bool().Draw(t, "cut") {
		text = strings.TrimSuffix(text, eol)
	}
	return text
}

// The quick reader of consumption and gocsv read the same rows, and find the same faults on the same lines.
func TestBothReadersAgree(t *testing.T) {
	t.Parallel()
	shown := func(row Consumption) string {
		content := row.canonical()
		row.setID()
		row.raw, row.layout = "", nil
		return fmt.Sprintf("%+v %q", row, content)
	}
	rapid.Check(t, func(t *rapid.T) {
		content := csvText(t)
		size := rapid.SampledFrom([]int{1, 7, 64, blockSize}).Draw(t, "block")
		d, err := decode[Consumption](ConsumptionFile, content)
		if err != nil {
			t.Fatalf("%q: %v", content, err)
		}
		var want, got []string
		for _, row := range d.rows {
			want = append(want, shown(*row))
		}
		for _, f := range d.faults {
			want = append(want, f.Error())
		}
		var faults []string
		err = scanConsumption(newScanner(strings.NewReader(content), size), func(row *Consumption) {
			got = append(got, shown(*row))
		}, func(e *RowError) { faults = append(faults, e.Error()) })
		if err != nil {
			t.Fatalf("%q: %v", content, err)
		}
		if diff := cmp.Diff(want, append(got, faults...)); diff != "" {
			t.Fatalf("%q (-gocsv +stream):\n%s", content, diff)
		}
	})
}

func TestBothReadersRefuseTheSameHeaders(t *testing.T) {
	t.Parallel()
	for _, header := range []string{"", "\ufeff", "a", "entry", contract[ConsumptionFile] + ",at", strings.ReplaceAll(contract[ConsumptionFile], "spool,", ""), "\"entry,at\n", "en\"try,at"} {
		_, want := decode[Consumption](ConsumptionFile, header+"\n")
		got := scanConsumption(newScanner(strings.NewReader(header+"\n"), 7), func(*Consumption) {}, func(*RowError) {})
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("header %q: the stream says %v, gocsv %v", header, got, want)
		}
	}
}
