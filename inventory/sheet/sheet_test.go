package sheet

import (
	"encoding/binary"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
)

func wide(order binary.AppendByteOrder, text string) string {
	var b []byte
	for _, u := range utf16.Encode([]rune("\ufeff" + text)) {
		b = order.AppendUint16(b, u)
	}
	return string(b)
}

func TestRead(t *testing.T) {
	t.Parallel()
	plain := [][]string{{"Nr", "Farbe"}, {"A-1", "weiß"}, {"A-2", "grün"}}
	for _, c := range []struct {
		name, text string
		options    Options
		delimiter  rune
		lines      []int // of header and rows
		want       [][]string
	}{
		{"semicolons", "Nr;Farbe\nA-1;weiß\nA-2;grün\n", Options{}, ';', []int{1, 2, 3}, plain},
		{"commas", "Nr,Farbe\nA-1,weiß\nA-2,grün\n", Options{}, ',', []int{1, 2, 3}, plain},
		{"tabs", "Nr\tFarbe\nA-1\tweiß\nA-2\tgrün\n", Options{}, '\t', []int{1, 2, 3}, plain},
		{"bars", "Nr|Farbe\nA-1|weiß\nA-2|grün\n", Options{}, '|', []int{1, 2, 3}, plain},
		{"CRLF, no line end at the end", "Nr;Farbe\r\nA-1;weiß\r\nA-2;grün", Options{}, ';', []int{1, 2, 3}, plain},
		{"CR alone", "Nr;Farbe\rA-1;weiß\rA-2;grün\r", Options{}, ';', []int{1, 2, 3}, plain},
		{"a BOM", "\ufeffNr;Farbe\nA-1;weiß\nA-2;grün\n", Options{}, ';', []int{1, 2, 3}, plain},
		{"a BOM before a quote", "\ufeff\"Nr\";Farbe\nA-1;weiß\nA-2;grün\n", Options{}, ';', []int{1, 2, 3}, plain},
		{"UTF-16, little end first", wide(binary.LittleEndian, "Nr\tFarbe\r\nA-1\tweiß\r\nA-2\tgrün\r\n"), Options{}, '\t', []int{1, 2, 3}, plain},
		{"UTF-16, big end first", wide(binary.BigEndian, "Nr;Farbe\nA-1;weiß\nA-2;grün\n"), Options{}, ';', []int{1, 2, 3}, plain},
		{"blank lines, blank rows and blanks round cells", "\n ;\n Nr ;Farbe\n;\nA-1; weiß\u00a0\n\n\"\";\nA-2;grün\n", Options{}, ';', []int{3, 5, 8}, plain},
		{"blank cells beyond the header", "Nr;Farbe\nA-1;weiß;;\nA-2;grün;\n", Options{}, ';', []int{1, 2, 3}, plain},
		{"a blank column in the header", "Nr;Farbe;\nA-1;weiß;\nA-2;grün;\n", Options{}, ';', []int{1, 2, 3}, [][]string{{"Nr", "Farbe", ""}, {"A-1", "weiß", ""}, {"A-2", "grün", ""}}},
		{"a preamble", "Shelf of the workshop\n\nNr;Farbe\nA-1;weiß\nA-2;grün\n", Options{Header: 3}, ';', []int{3, 4, 5}, plain},
		{"a preamble with a quote", "5\" shelf, of; the | workshop\nNr;Farbe\nA-1;weiß\nA-2;grün\n", Options{Header: 2}, ';', []int{2, 3, 4}, plain},
		{"a line that names the delimiter", "sep=;\r\nNr;Farbe\r\nA-1;weiß\r\nA-2;grün\r\n", Options{}, ';', []int{2, 3, 4}, plain},
		{"line ends in quotes", "Nr;Farbe\nA-1;\"weiß\r\nmatt\"\nA-2;\"gr;\"\"ün\"\n", Options{}, ';', []int{1, 2, 4}, [][]string{{"Nr", "Farbe"}, {"A-1", "weiß\nmatt"}, {"A-2", "gr;\"ün"}}},
		{"decimal commas among semicolons", "Nr;Netto\nA;1,5\nB;2,5\n", Options{}, ';', []int{1, 2, 3}, [][]string{{"Nr", "Netto"}, {"A", "1,5"}, {"B", "2,5"}}},
		{"a comma in a header among semicolons", "Nr;Netto, g;Preis\nA;1,5;2\nB;2;3\n", Options{}, ';', []int{1, 2, 3}, [][]string{{"Nr", "Netto, g", "Preis"}, {"A", "1,5", "2"}, {"B", "2", "3"}}},
		{"one column", "Nr\nA-1\nA-2\n", Options{}, 0, []int{1, 2, 3}, [][]string{{"Nr"}, {"A-1"}, {"A-2"}}},
		{"a delimiter that was asked for", "a,b;c,d\n1,2;3,4\n", Options{Delimiter: ';'}, ';', []int{1, 2}, [][]string{{"a,b", "c,d"}, {"1,2", "3,4"}}},
		{"a header alone", "Nr;Farbe\n", Options{}, ';', []int{1}, plain[:1]},
		{"a huge cell", "Nr;Farbe\nA-1;" + strings.Repeat("x", 1<<20) + "\n", Options{}, ';', []int{1, 2}, [][]string{{"Nr", "Farbe"}, {"A-1", strings.Repeat("x", 1<<20)}}},
	} {
		got, err := Read([]byte(c.text), c.options)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		rows, lines := [][]string{got.Header.Cells}, []int{got.Header.Line}
		for _, r := range got.Rows {
			if r.Fault != nil {
				t.Errorf("%s: %v", c.name, r.Fault)
			}
			rows, lines = append(rows, r.Cells), append(lines, r.Line)
		}
		if got.Delimiter != c.delimiter || !slices.Equal(lines, c.lines) || !cmp.Equal(rows, c.want) {
			t.Errorf("%s: got %q, lines %v, %q, want %q, lines %v, %q", c.name, got.Delimiter, lines, rows, c.delimiter, c.lines, c.want)
		}
	}
}

func TestReadRefuses(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, text string
		options    Options
		want       string
		settle     string
	}{
		{"nothing", "", Options{}, "is empty", ""},
		{"a BOM alone", "\ufeff", Options{}, "is empty", ""},
		{"blanks", " \r\n;;;\n\n", Options{}, "is empty", ""},
		{"not UTF-8", "Nr;Farbe\nA-1;rot\nA-2;caf\xe9\n", Options{}, `line 3: is not UTF-8: byte 0xe9 after "A-2;caf"`, "Encoding"},
		{"half of UTF-16", wide(binary.LittleEndian, "Nr") + "x", Options{}, "is UTF-16 that ends in the middle of a character", ""},
		{"half a pair of UTF-16", wide(binary.LittleEndian, "Nr;F\n") + "\x00\xd8", Options{}, "line 2: holds half a character", ""},
		{"UTF-16 that does not say so", wide(binary.LittleEndian, "Nr;Farbe\nA;B\n")[2:], Options{}, "holds NUL characters, as UTF-16 without a mark at its beginning does", "Encoding"},
		{"a workbook", "PK\x03\x04\xff\xfe", Options{}, "is a workbook, not CSV; save the sheet as CSV in UTF-8", ""},
		{"a quote in a cell", "Nr;Farbe\nA-1;5\" wide\n", Options{}, "line 2: a quote stands in the middle of a cell, or is never closed; put such a cell in quotes", ""},
		{"a quote that is not closed", "Nr;Farbe\nA-1;rot\nA-2;\"grün\nA-3;rot\n", Options{}, "line 3: a quote", ""},
		{"a title above quoted cells", "Shelf\n\n\"Nr\";\"Farbe\"\n", Options{}, "line 3: a quote stands in the middle of a cell, or line 1 is not the header", "Header"},
		{"more delimiters than one", "a,b;c,d\n1,2;3,4\n", Options{}, "line 1: cells may be parted in more than one way", "Delimiter"},
		{"a header beyond the end", "Nr;Farbe\n", Options{Header: 4}, "ends before line 4, with line 1", "Header"},
		{"a header among blanks", "Nr;Farbe\n\n;\n", Options{Header: 2}, "is blank from line 2 on", "Header"},
	} {
		got, err := Read([]byte(c.text), c.options)
		if err == nil || !strings.HasPrefix(err.Error(), c.want) || got != nil || err.(*Error).Settle != c.settle {
			t.Errorf("%s: got %v (%v), want %s (%s)", c.name, err, got, c.want, c.settle)
		}
	}
}

// A row of another width is a fault of that row, and does not change what parts the cells.
func TestWidth(t *testing.T) {
	t.Parallel()
	got, err := Read([]byte("Nr;Farbe;Netto\nA;rot, matt;1\nB;rot\nC;rot;1;x\nD;rot;2\n"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	var faults []string
	for _, r := range got.Rows {
		if r.Fault != nil {
			faults = append(faults, r.Fault.What)
		}
	}
	if d := cmp.Diff([]string{"has 2 cells where the header has 3", "has 4 cells where the header has 3"}, faults); d != "" {
		t.Error(d)
	}
}
