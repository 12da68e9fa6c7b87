package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"tarebook/samples"
)

// The shelf list of an invented workshop: 300 spools with semicolons and decimal commas, a third of them opened.
func shelfList() []string {
	materials := []string{"PLA", "PETG", "ASA"}
	cores := []string{"card-1kg", "grey-1kg", "clear-750"}
	colours := []string{"white", "black", "brick", "moss", "slate", "straw", "plum"}
	rows := []string{"Nr;Gekauft am;Sorte;Farbe;Spule;Brutto (g);Netto (g);Preis;Bemerkung"}
	for i := range 300 {
		gross, label := "", "1.000"
		if i%3 == 1 {
			gross = fmt.Sprintf("%d,%d", 260+i, i%10)
		}
		if i%3 == 2 {
			label = "750"
		}
		rows = append(rows, fmt.Sprintf("LAGER-%03d;%02d.%02d.2026;%s;%s;%s;%s;%s;%d,%02d €;\"Fach %d; hinten\"", i+1, i%28+1, i%9+1,
			materials[i%3], colours[i%7], cores[i%3], gross, label, 18+i%9, i%100, i%12))
	}
	return rows
}

const shelfMap = "spool=Nr,at=Gekauft am,material=Sorte,colour=Farbe,core=Spule,gross_g=Brutto (g),label_g=Netto (g),price=Preis,note=Bemerkung"

// Seven of 300 rows are bad: all seven are named and nothing is written; mended, all are; again, none.
func TestImportAllOrNone(t *testing.T) {
	t.Parallel()
	dir := demo(t)
	sheet := filepath.Join(t.TempDir(), "lager.csv")
	purchases := func() string {
		text, err := os.ReadFile(filepath.Join(dir, "purchases.csv"))
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	before := purchases()
	write := func(rows []string) {
		t.Helper()
		if err := os.WriteFile(sheet, []byte("\ufeff"+strings.Join(rows, "\r\n")+"\r\n"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	importing := func() (int, string, string) {
		return inside(t, dir, samples.DemoAsOf, "import", sheet, "--as", "spools", "--map", shelfMap)
	}
	bad := shelfList()
	var want []string
	for _, c := range []struct {
		line                 int
		from, to, wrong, how string
	}{
		{12, ";PETG;", ";PETTG;", `Sorte: no material "PETTG"`, "did you mean PETG? else define it with: tarebook define material PETTG density=G_PER_CM3"},
		{45, ";grey-1kg;", ";grey-1kgg;", `Spule: no core "grey-1kgg"`, "did you mean grey-1kg?"},
		{46, "17.09.2026;", "31.09.2026;", `Gekauft am: "31.09.2026" is no date that exists`, "write it as 2026-11-20, or 2026-11-20 18:30"},
		{101, ";1.000;", ";1.00O;", `Netto (g): "1.00O" is not a number with a decimal comma`, "write it as 1234,5"},
		{150, "LAGER-149;", "PLA-01;", `spool PLA-01 is in the book with the net_g "1000", not "177.8"`, "ids are unique for ever; leave the row out, or give the spool another id"},
		{200, "LAGER-199;", "LAGER-198;", "spool LAGER-198 stands on line 199 too", "ids are unique for ever; leave one of them out"},
		{267, "\"Fach", "\"=Fach", "Bemerkung \"=Fach 1; hinten\" begins with =, which a spreadsheet would run", "begin with a letter"},
	} {
		row := &bad[c.line-1]
		if !strings.Contains(*row, c.from) {
			t.Fatalf("line %d is %s, without %s", c.line, *row, c.from)
		}
		*row = strings.Replace(*row, c.from, c.to, 1)
		want = append(want, fmt.Sprintf("tarebook: %s:%d: %s; %s", sheet, c.line, c.wrong, c.how))
	}
	write(bad)
	found := "tarebook: " + sheet + ": semicolons, decimal comma, dates day.month.year\n"
	status, stdout, stderr := importing()
	refusal := found + strings.Join(want, "\n") + "\ntarebook: 7 of 300 rows refused, nothing was written\n"
	if status != 2 || stdout != "" || stderr != refusal {
		t.Errorf("bad: status %d, stdout %s, stderr\n%swant\n%s", status, stdout, stderr, refusal)
	}
	if purchases() != before {
		t.Fatal("something was written")
	}

	write(shelfList())
	status, stdout, stderr = importing()
	booked := "300 rows: 300 to book, 0 in the book already\nopened before: 100, each with what is on it now and that share of its price\nbooked 300 rows; cancel with: tarebook void --last\n"
	if status != 0 || stdout != booked || stderr != found {
		t.Fatalf("mended: status %d, stdout %s, stderr %s", status, stdout, stderr)
	}
	after := purchases()
	if added, ok := strings.CutPrefix(after, before); !ok || strings.Count(added, "\n") != 300 {
		t.Fatalf("not 300 lines were added:\n%s", added)
	}
	// 555,5 g less 231 g of core is 324.5 g; 25.95 EUR x 324.5/1000 = 8.4208
	for _, row := range []string{
		",2026-06-14T12:00:00+01:00,LAGER-042,ASA,plum,,,,1.75,750,clear-750,,23.41,EUR,,,,Fach 5; hinten,,\n",
		",2026-08-16T12:00:00+01:00,LAGER-296,PETG,black,,,,1.75,324.5,grey-1kg,,8.42,EUR,,,,\"opened: gross 555.5 g, label 1000 g, price 25.95, tare 231 g; Fach 7; hinten\",555.5,\n",
	} {
		if !strings.Contains(after, row) {
			t.Errorf("no row ends in %s", row)
		}
	}

	status, stdout, _ = importing()
	if status != 0 || stdout != "300 rows: 0 to book, 300 in the book already\n" || purchases() != after {
		t.Errorf("again: status %d, stdout %s", status, stdout)
	}
	if status, stdout, _ = inside(t, dir, samples.DemoAsOf, "verify"); status != 0 {
		t.Errorf("verify: status %d, stdout %s", status, stdout)
	}
	if status, stdout, stderr = inside(t, dir, "2026-11-09T09:00:01+01:00", "void", "--last"); status != 0 || !strings.Contains(stdout, "booked 300 rows") {
		t.Fatalf("void: status %d, %s", status, stderr)
	}
	if status, stdout, stderr = importing(); status != 0 || !strings.HasPrefix(stdout, "300 rows: 300 to book, 0 in the book already\n") {
		t.Errorf("after void: status %d, stdout %s, stderr %s", status, stdout, stderr)
	}
}

// The same sheet in every form in which spreadsheets write it comes to the same rows.
func TestImportForms(t *testing.T) {
	t.Parallel()
	rows := [][]string{{"Spule", "Tag", "Waage", "Notiz"}, {"PLA-02", "7.11.2026", "1.234,5", "weiß, matt"}, {"PETG-01", "8.11.2026 18:30", "812", "zwei\nZeilen"}}
	us := [][]string{{"Spule", "Tag", "Waage", "Notiz"}, {"PLA-02", "11/07/26", "1,234.5", "weiß, matt"}, {"PETG-01", "11/08/26 6:30 PM", "812", "zwei\nZeilen"}, {"", "", "", ""}}
	join := func(rows [][]string, mark, end string) string {
		var b strings.Builder
		for _, row := range rows {
			for i, cell := range row {
				if i > 0 {
					b.WriteString(mark)
				}
				if strings.ContainsAny(cell, mark+"\n") {
					cell = `"` + cell + `"`
				}
				b.WriteString(cell)
			}
			b.WriteString(end)
		}
		return b.String()
	}
	wide := func(order binary.AppendByteOrder, text string) string {
		var b []byte
		for _, u := range utf16.Encode([]rune("\ufeff" + text)) {
			b = order.AppendUint16(b, u)
		}
		return string(b)
	}
	const want = ",2026-11-07T12:00:00+01:00,PLA-02,1234.5,,loaded,\"weiß, matt\"\n" + ",2026-11-08T18:30:00+01:00,PETG-01,812,,loaded,zwei Zeilen\n"
	for _, c := range []struct{ name, text, found string }{
		{"semicolons", join(rows, ";", "\n"), "semicolons, decimal comma, dates day.month.year"},
		{"CRLF and a BOM", "\ufeff" + join(rows, ";", "\r\n"), "semicolons, decimal comma, dates day.month.year"},
		{"CR", join(rows[:2], ";", "\r") + "PETG-01;8.11.2026 18:30;812;zwei Zeilen\r", "semicolons, decimal comma, dates day.month.year"},
		{"commas", join(rows, ",", "\r\n"), "commas, decimal comma, dates day.month.year"},
		{"bars", join(rows, "|", "\r\n"), "bars, decimal comma, dates day.month.year"},
		{"UTF-16 with tabs", wide(binary.LittleEndian, join(rows, "\t", "\r\n")), "UTF-16, tabs, decimal comma, dates day.month.year"},
		{"UTF-16, big end first", wide(binary.BigEndian, join(us, "\t", "\r\n")), "UTF-16, tabs, decimal point, dates month/day/year"},
		{"month first", join(us, ",", "\n"), "commas, decimal point, dates month/day/year"},
	} {
		dir := demo(t)
		if err := os.WriteFile(filepath.Join(dir, "sheet"), []byte(c.text), 0o666); err != nil {
			t.Fatal(err)
		}
		args := []string{"import", "sheet", "--as", "weighins", "--map", "spool=Spule,at=Tag,gross_g=Waage,note=Notiz"}
		if strings.Contains(c.found, "month/day") { // 11/07/26 and 11/08/26 may be other days
			if status, _, stderr := inside(t, dir, samples.DemoAsOf, args...); status != 2 || !strings.Contains(stderr, "--dates dmy, mdy or ymd") {
				t.Errorf("%s: status %d, stderr %s", c.name, status, stderr)
			}
			args = append(args, "--dates", "mdy")
		}
		status, _, stderr := inside(t, dir, samples.DemoAsOf, args...)
		text, err := os.ReadFile(filepath.Join(dir, "weighins.csv"))
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.SplitAfter(string(text), "\n")
		var got string
		for _, line := range lines[max(0, len(lines)-3):] {
			_, rest, _ := strings.Cut(line, ",")
			if got += "," + rest; line == "" {
				got = strings.TrimSuffix(got, ",")
			}
		}
		if status != 0 || stderr != "tarebook: sheet: "+c.found+"\n" || got != want {
			t.Errorf("%s: status %d, stderr %s, rows\n%swant\n%s", c.name, status, stderr, got, want)
		}
	}
}

// Bytes that stand for no text in UTF-8 are refused, with the line, and nothing is written.
func TestImportRefusesBytes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, want string }{
		{"another code page", "Spule;Waage;Notiz\nPLA-02;812;wei\xdf\n", `sheet:2: is not UTF-8: byte 0xdf after "PLA-02;812;wei"; say how its letters are written, as --encoding Windows-1252, or save it as CSV in UTF-8`},
		{"a workbook", "PK\x03\x04\x14\x00", "sheet: is a workbook, not CSV; save the sheet as CSV in UTF-8"},
		{"nothing", "", "sheet: is empty"},
		{"control characters", "Spule;Waage;Notiz\nPLA-02;812;ring\a\n", `sheet:2: Notiz "ring\a" holds the control character U+0007; leave it out`},
		{"marks that turn text", "Spule;Waage;Notiz\nPLA-02;812;\u202egnir\n", "sheet:2: Notiz \"\\u202egnir\" holds the control character U+202E; leave it out"},
		{"a huge cell", "Spule;Waage;Notiz\nPLA-02;812;" + strings.Repeat("ß", 1<<20) + "\n", "sheet:2: Notiz: is 1048576 characters long, more than 1000; shorten it"},
		{"a huge number", "Spule;Waage;Notiz\nPLA-02;" + strings.Repeat("9", 1<<20) + ";\n", "sheet:2: Waage: is 1048576 characters long, more than 60; write a number"},
		{"too much", strings.Repeat("Spule;Waage;Notiz\n", largestSheet/18+1), "sheet: is larger than 64 MB; import it in parts"},
	} {
		dir := demo(t)
		before, err := os.ReadFile(filepath.Join(dir, "weighins.csv"))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "sheet"), []byte(c.text), 0o666); err != nil {
			t.Fatal(err)
		}
		status, stdout, stderr := inside(t, dir, samples.DemoAsOf, "import", "sheet", "--as", "weighins", "--map", "spool=Spule,gross_g=Waage,note=Notiz")
		after, err := os.ReadFile(filepath.Join(dir, "weighins.csv"))
		if err != nil {
			t.Fatal(err)
		}
		if status != 2 || stdout != "" || !strings.Contains(stderr, c.want) || !bytes.Equal(before, after) {
			t.Errorf("%s: status %d, stdout %s, stderr %.300s, want %s", c.name, status, stdout, stderr, c.want)
		}
		if len(stderr) > 1000 {
			t.Errorf("%s: %d bytes on stderr", c.name, len(stderr))
		}
	}
}

// A time without an offset has that of this place on that day; one that clocks skip is refused.
func TestImportZone(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip("no time zones here: ", err)
	}
	dir := demo(t)
	importing := func(sheet string) (status int, stdout, stderr string) {
		var out, errs bytes.Buffer
		status = run([]string{"import", "-", "--as", "weighins", "--dry-run", "--format", "csv"}, environment{stdin: strings.NewReader(sheet), stdout: &out, stderr: &errs,
			getenv: func(string) string { return "" }, now: func() time.Time { return at(samples.DemoAsOf).In(zone) }, entropy: counting(0), dir: dir})
		return status, out.String(), errs.String()
	}
	status, stdout, stderr := importing("spool;at;gross_g\nPLA-02;2026-07-10;900\nPLA-02;2026-11-01 18:30;430\nPLA-02;2026-11-01T18:31:00-05:00;430\n")
	for _, want := range []string{",2026-07-10T12:00:00+02:00,PLA-02,900,", ",2026-11-01T18:30:00+01:00,PLA-02,430,", ",2026-11-01T18:31:00-05:00,PLA-02,430,"} {
		if status != 0 || !strings.Contains(stdout, want) {
			t.Errorf("status %d, stdout %s, stderr %s, want %s", status, stdout, stderr, want)
		}
	}
	if status, _, stderr := importing("spool;at;gross_g\nPLA-02;2026-03-29 02:30;900\n"); status != 2 || !strings.Contains(stderr, `stdin:2: at: "2026-03-29 02:30" does not exist here, where clocks were put forward`) {
		t.Errorf("status %d, stderr %s", status, stderr)
	}
}

func TestPairs(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ text, want string }{
		{"spool=Nr", "map[spool:Nr]"}, {" Spool = Nr , net_g=Weight (g)", "map[net_g:Weight (g) spool:Nr]"}, {`net_g="Weight, net",spool=Nr`, "map[net_g:Weight, net spool:Nr]"},
		{`"net_g=Weight, net",spool=Nr`, "map[net_g:Weight, net spool:Nr]"}, {`net_g="5" wide`, "map[net_g:5 wide]"}, {`net_g="5"" wide"`, `map[net_g:5" wide]`}, {"net_g=a=b", "map[net_g:a=b]"},
		{"net_g", "!"}, {"net_g=", "!"}, {"=Nr", "!"}, {"", "!"}, {"spool=Nr,", "!"}, {"spool=Nr,spool=Id", "!"}, {`spool="Nr`, "!"}, {"net_g=Weight, net", "!"},
	} {
		got, err := pairs("--map", []string{c.text})
		if text := fmt.Sprint(got); err == nil && text != c.want || (err != nil) != (c.want == "!") {
			t.Errorf("%s: got %s, %v, want %s", c.text, text, err, c.want)
		}
	}
}
