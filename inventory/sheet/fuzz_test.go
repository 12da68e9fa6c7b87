package sheet

import (
	"encoding/binary"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"
)

// told writes a date without more noughts than it has, so that a test shows what was read.
func told(d Date, err error) string {
	if err != nil {
		return "!"
	}
	text := fmt.Sprintf("%d-%d-%d", d.Year, d.Month, d.Day)
	if d.Timed {
		text += fmt.Sprintf("T%d:%d:%d", d.Hour, d.Minute, d.Second)
		if d.Nano > 0 {
			text += strings.TrimRight(fmt.Sprintf(".%09d", d.Nano), "0")
		}
	}
	if d.Zoned {
		text += fmt.Sprintf("%+d", d.Offset)
	}
	return text
}

// Whatever bytes a file holds, reading it ends; it has no more rows than lines and no more text than bytes (three for one, where
// UTF-16 becomes UTF-8); and what is read of a cell reads the same when it is written plainly.
func FuzzSheet(f *testing.F) {
	for _, text := range []string{
		"Nr;Netto (g);Tag\nA-1;1.234,5;3.4.2026\nA-2;812,5 g;25.12.2026 18:30\n", "Nr,Net,Day\r\nA-1,\"1,234.5\",03/25/2026\r\n", "a\tb\tc\r1\t2\t2026-11-20T18:30:05.25+01:00\r",
		"sep=|\na|b|c\n\"x\n\"\"y\"|1'234|3/4/26 6:05 PM\n", "title\n\na;b;c\n;;\n1;2;3;;\n1;2\n", wide(binary.LittleEndian, "a;b;c\n1;2,5;3-4-26\n"), wide(binary.BigEndian, "a\n1\n"),
		"\ufeff\"a\";b;c\n1;1 234,567;\n", "a;\"b\n", "a;b\xe9\n", "\x00", "PK\x03\x04", ",;\t|\n,;\t|\n", "a,b;c|d\n1,2;3|4\n",
	} {
		f.Add([]byte(text), uint8(0), uint8(0), "")
		f.Add([]byte(text), uint8(3), uint8(59), "dmy")
	}
	f.Fuzz(func(t *testing.T, data []byte, header, delimiter uint8, dates string) {
		o := Options{Header: int(header % 8)}
		if d := rune(delimiter); strings.ContainsRune(Delimiters, d) {
			o.Delimiter = d
		}
		for _, order := range Orders {
			if dates == string(order) {
				o.Dates = order
			}
		}
		table, err := Read(data, o)
		if err != nil {
			if table != nil {
				t.Fatal("a table beside an error")
			}
			_ = err.(*Error).Error()
			return
		}
		if most := strings.Count(string(data), "\n") + strings.Count(string(data), "\r") + 1; len(table.Rows) > most {
			t.Fatalf("%d rows of %d lines", len(table.Rows), most)
		}
		size, line := 0, table.Header.Line
		for _, row := range table.Rows {
			if row.Line <= line {
				t.Fatalf("line %d after line %d", row.Line, line)
			}
			line = row.Line
			if (row.Fault == nil) != (len(row.Cells) == len(table.Header.Cells)) {
				t.Fatalf("line %d has %d cells of %d and the fault %v", line, len(row.Cells), len(table.Header.Cells), row.Fault)
			}
			for _, cell := range row.Cells {
				if size += len(cell); !utf8.ValidString(cell) {
					t.Fatalf("line %d: %q is not UTF-8", line, cell)
				}
			}
		}
		if size > 3*len(data) {
			t.Fatalf("%d bytes of text from %d", size, len(data))
		}
		var columns []int
		for i := range table.Header.Cells {
			columns = append(columns, i)
		}
		forms, err := table.Forms(columns, columns, o)
		if err != nil {
			if settle := err.(*Error).Settle; settle != "Decimal" && settle != "Dates" {
				t.Fatal(err)
			}
			return
		}
		_ = forms.String()
		for _, row := range table.Rows {
			for _, cell := range row.Cells {
				if n, err := forms.Number(cell); err == nil {
					if again, err := (&Forms{Decimal: '.'}).Number(n.Text); err != nil || again.Text != n.Text {
						t.Fatalf("%q is %q, which reads as %q, %v", cell, n.Text, again.Text, err)
					}
				}
				if d, err := forms.Date(cell); err == nil {
					plainly := fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
					if d.Timed {
						plainly += fmt.Sprintf("T%02d:%02d:%02d.%09d", d.Hour, d.Minute, d.Second, d.Nano)
					}
					again, err := (&Forms{}).Date(plainly)
					if again.Zoned, again.Offset = d.Zoned, d.Offset; err != nil || again != d {
						t.Fatalf("%q is %s, which reads as %s, %v", cell, plainly, told(again, err), err)
					}
				}
			}
		}
	})
}
