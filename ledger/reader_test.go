package ledger

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

const weighHeader = "entry,at,spool,gross_g,scale,state,note\n"

// lineOf returns the line of row i.
func lineOf[T any](d decoded[T], i int) int {
	if r, ok := any(d.rows[i]).(Row); ok {
		return r.head().Line
	}
	return d.lines[i]
}

// told returns what was decoded as one text: rows, then faults or the error.
func told[T any](d decoded[T], err error, show func(*T) string) string {
	var b strings.Builder
	for i, row := range d.rows {
		fmt.Fprintf(&b, "%d %s\n", lineOf(d, i), show(row))
	}
	for _, f := range d.faults {
		fmt.Fprintln(&b, f)
	}
	if err != nil {
		fmt.Fprintln(&b, "error:", err)
	}
	return b.String()
}

func TestDecode(t *testing.T) {
	t.Parallel()
	const at = "2026-11-20T18:30:00Z"
	for _, c := range []struct{ name, content, want string }{
		{"header alone", weighHeader, ""},
		{"header without line end", strings.TrimSuffix(weighHeader, "\n"), ""},
		{"a row", weighHeader + "," + at + ",pla-1,812.5,Bench,dried,on the left\n", "2 PLA-1 812.5 Bench dried \"on the left\"\n"},
		{"no final line end", weighHeader + "," + at + ",PLA-1,812.5,,,", "2 PLA-1 812.5  loaded \"\"\n"},
		{"values are trimmed", weighHeader + " ,\t" + at + " , PLA-1 , 812.5\t,  ,  , a  b \n", "2 PLA-1 812.5  loaded \"a  b\"\n"},
		{"a quoted value is trimmed too", weighHeader + `,` + at + `,PLA-1,812.5,,," a "` + "\n", "2 PLA-1 812.5  loaded \"a\"\n"},
		{"header in another order", "note,gross_g,at,spool,state,scale,entry\nx,812.5," + at + ",PLA-1,,bench,\n", "2 PLA-1 812.5 bench loaded \"x\"\n"},
		{"an unknown column", "mine,entry,at,spool,gross_g,scale,state\nzzz,," + at + ",PLA-1,812.5,,\n", "2 PLA-1 812.5  loaded \"\"\n"},
		{"a name with a zero-width space is unknown", "entry,at,spool,gross_g,scale,state,note,no\u200bte\n," + at + ",PLA-1,812.5,,,x,y\n", "2 PLA-1 812.5  loaded \"x\"\n"},
		{"a name with a no-break space is unknown", "entry,at,spool,gross_g,scale,state,\u00a0note\n," + at + ",PLA-1,812.5,,,y\n", "2 PLA-1 812.5  loaded \"\"\n"},
		{"BOM", "\ufeff" + weighHeader + "," + at + ",PLA-1,812.5,,,\n", "2 PLA-1 812.5  loaded \"\"\n"},
		{"BOM before a quoted header", "\ufeff\"entry\",\"at\",\"spool\",gross_g,scale,state\n," + at + ",PLA-1,812.5,,\n", "2 PLA-1 812.5  loaded \"\"\n"},
		{"CRLF", strings.ReplaceAll(weighHeader+","+at+",PLA-1,812.5,,,x\n,"+at+",PLA-2,3,,,\n", "\n", "\r\n"), "2 PLA-1 812.5  loaded \"x\"\n3 PLA-2 3  loaded \"\"\n"},
		{"blank lines", weighHeader + "\n  \t\n\r\n," + at + ",PLA-1,812.5,,,\n\n", "5 PLA-1 812.5  loaded \"\"\n"},
		{"blank lines before the header", " \n\n" + weighHeader + "," + at + ",PLA-1,812.5,,,\n", "4 PLA-1 812.5  loaded \"\"\n"},
		{"a short row", weighHeader + "," + at + ",PLA-1,812.5,,\n", "2 PLA-1 812.5  loaded \"\"\n"},
		{"too short a row", weighHeader + "," + at + ",PLA-1,812.5\n", "weighins.csv:2: the row has 4 fields and lacks scale; a text with a comma wants quotes round it\n"},
		{"too long a row", weighHeader + "," + at + ",PLA-1,812.5,,,left, at the back\n", "weighins.csv:2: the row has 8 fields where the header has 7; a text with a comma wants quotes round it\n"},
		{"line ends in quotes", weighHeader + "," + at + ",PLA-1,812.5,,,\"a\nb\r\nc\"\n," + at + ",PLA-2,3,,,\n", "2 PLA-1 812.5  loaded \"a\\nb\\nc\"\n5 PLA-2 3  loaded \"\"\n"},
		{"faults after line ends in quotes", weighHeader + "," + at + ",PLA-1,1,,,\"a\n\n\nb\"\n," + at + ",PLA-2,18O.2,,,\n",
			"2 PLA-1 1  loaded \"a\\n\\n\\nb\"\nweighins.csv:6: gross_g \"18O.2\" is not a number; write grams with a dot, as 180.2\n"},
		{"NUL in text", weighHeader + "," + at + ",PLA-1,812.5,,,a\x00b\n", "2 PLA-1 812.5  loaded \"a\\x00b\"\n"},
		{"not UTF-8", weighHeader + "," + at + ",PLA-1,812.5,,,a\xffb\n," + at + ",PLA-2,3,,,\n",
			"3 PLA-2 3  loaded \"\"\nweighins.csv:2: the row is not UTF-8; save the file as UTF-8\n"},
		{"a quote within an unquoted field", weighHeader + "," + at + ",PLA-1,812.5,,,3\" pipe\n," + at + ",PLA-2,3,,,\n",
			"3 PLA-2 3  loaded \"\"\nweighins.csv:2: a quote stands where RFC 4180 allows none; put the whole field in quotes and write \"\" for a quote within\n"},
		{"rows after such a quote, and what is wrong with them", weighHeader + "," + at + ",PLA-1,812.5,,,3\" pipe\n," + at + ",PLA-2,3,,,\"two\nlines\"\n," + at + ",PLA-2,much,,,\n",
			"3 PLA-2 3  loaded \"two\\nlines\"\n" +
				"weighins.csv:2: a quote stands where RFC 4180 allows none; put the whole field in quotes and write \"\" for a quote within\n" +
				"weighins.csv:5: gross_g \"much\" is not a number; write grams with a dot, as 180.2\n"},
		{"a quote never closed", weighHeader + "," + at + ",PLA-1,1,,,\n," + at + ",PLA-1,812.5,,,\"left\n," + at + ",PLA-2,3,,,\n",
			"2 PLA-1 1  loaded \"\"\nweighins.csv:3: a quote that opens in this row is never closed; close it, or write \"\" for a quote within quotes\n"},
		{"a quote never closed in the header", "entry,\"at,spool\n", "error: weighins.csv:1: a quote that opens in this row is never closed; close it, or write \"\" for a quote within quotes\n"},
		{"all that is wrong with a row", weighHeader + "X,yesterday,PLA 1,-3,,,\n",
			"weighins.csv:2: at \"yesterday\" is not a time of RFC 3339; write a time with its offset, as 2026-11-20T18:30:00+01:00\n" +
				"weighins.csv:2: gross_g \"-3\" is not a number; write grams with a dot, as 180.2\n"},
		{"all the rules a row breaks", weighHeader + "X,,pla_1,,a:b,gone,\n",
			"weighins.csv:2: at is blank; fill it in\n" +
				"weighins.csv:2: entry \"X\" is not a ULID; leave it empty in a row typed by hand\n" +
				"weighins.csv:2: spool \"pla_1\" is no spool's id; write up to 32 of A-Z, 0-9 and -, as PLA-017\n" +
				"weighins.csv:2: state \"gone\" is none of loaded, dried, empty, discarded; write one of them\n" +
				"weighins.csv:2: gross_g is blank; write what the scale said, as 812.5\n" +
				"weighins.csv:2: scale \"a:b\" holds a colon; leave it out\n"},
		{"an end without a gross", weighHeader + "," + at + ",PLA-1,,,EMPTY,\n," + at + ",PLA-2,,,Discarded,\n", "2 PLA-1 - empty \"\"\n3 PLA-2 - discarded \"\"\n"},
	} {
		show := func(w *Weighin) string {
			if !w.GrossG.Given {
				return fmt.Sprintf("%s - %s %q", w.Spool, w.State, w.Note)
			}
			return fmt.Sprintf("%s %s %s %s %q", w.Spool, w.GrossG, w.Scale, w.State, w.Note)
		}
		got, err := decode[Weighin](scanText(c.content))
		if d := cmp.Diff(c.want, told(got, err, show)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
		by, err := gocsvDecode[Weighin](c.content)
		if d := cmp.Diff(c.want, told(by, err, show)); d != "" {
			t.Errorf("%s, by gocsv (-want +got):\n%s", c.name, d)
		}
	}
}

// Every file of a book is made with its header, so one without has lost it.
func TestDecodeRefusesAFileWithoutHeader(t *testing.T) {
	t.Parallel()
	for _, content := range []string{"", bom, "\n \r\n"} {
		d, err := decode[Weighin](scanText(content))
		if wantError(t, err, "weighins.csv: the file is empty"); d.rows != nil {
			t.Errorf("%q: got rows %v", content, d.rows)
		}
	}
}

// RFC 4180, section 2: the examples, each as the first columns of a small file.
func TestRFC4180(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		rule, content string
		want          [][]string // nil: refused
	}{
		{"1-3", "aaa,bbb,ccc\r\nzzz,yyy,xxx", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"1-3, last line end", "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"4", "a b , c", [][]string{{"a b ", " c"}}},
		{"5", "\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"5, refused", "aaa,b\"b,ccc", nil},
		// The line end is read as LF: what hashes rows hashes that form.
		{"6", "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", [][]string{{"aaa", "b\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"7", "\"aaa\",\"b\"\"bb\",\"ccc\"", [][]string{{"aaa", "b\"bb", "ccc"}}},
	} {
		got, line := scanAll(strings.NewReader(c.content), blockSize)
		if c.want == nil {
			if line != 1 {
				t.Errorf("rule %s: refused on line %d, want 1", c.rule, line)
			}
			continue
		}
		if d := cmp.Diff(c.want, got); d != "" || line != 0 {
			t.Errorf("rule %s, error on line %d (-want +got):\n%s", c.rule, line, d)
		}
	}
}

func TestRowRules(t *testing.T) {
	t.Parallel()
	const at = "2026-11-20T18:30:00Z"
	for _, c := range []struct {
		file, row string
		want      string // part of the message; "" where the row is sound
	}{
		{Purchases, "," + at + ",A,PLA,,,,,1.75,1000,,,,,,,,", ""},
		{Purchases, "," + at + ",A,PLA,white,#1A2b3C,,,1.75,1000,,0,0,eur,,,B,", ""},
		{Purchases, "," + at + ",,PLA,,,,,1.75,1000,,,,,,,,", `spool ""`},
		{Purchases, "," + at + ",A,PLA,,,,,,1000,,,,,,,,", "diameter_mm is blank"},
		{Purchases, "," + at + ",A,PLA,,,,,0.0,1000,,,,,,,,", "diameter_mm is not above 0"},
		{Purchases, "," + at + ",A,PLA,,,,,1.75,,,,,,,,,", "net_g is blank or 0"},
		{Purchases, "," + at + ",A,PLA,,,,,1.75,0,,,,,,,,", "net_g is blank or 0"},
		{Purchases, "," + at + ",A,PLA,a/b,,,,1.75,1000,,,,,,,,", "colour \"a/b\" holds a /"},
		{Purchases, "," + at + ",A,PLA,a:b,,,,1.75,1000,,,,,,,,", "colour \"a:b\" holds a colon"},
		{Purchases, "," + at + ",A,P:A,,,,,1.75,1000,,,,,,,,", "material \"P:A\" holds a colon"},
		{Purchases, "," + at + ",A,PLA,,#12345,,,1.75,1000,,,,,,,,", "swatch"},
		{Purchases, "," + at + ",A,PLA,,#12345G,,,1.75,1000,,,,,,,,", "swatch"},
		{Purchases, "," + at + ",A,PLA,,,,,1.75,1000,,,20,XAU,,,,", "currency \"XAU\""},
		{Purchases, "," + at + ",A,PLA,,,,,1.75,1000,,,-20,,,,,", "price \"-20\" is not a number"},
		{Purchases, "," + at + ",A,PLA,,,,,1.75,1000,,,,,,,a,", "from names the spool itself"},
		{ConsumptionFile, "," + at + ",job,,,A,,,,,,,,", ""},
		{ConsumptionFile, "," + at + ",job,,,A,1,2,3,4,5,FAILED,Path,", ""},
		{ConsumptionFile, "," + at + ",job,,,,1,,,,,,,", `spool ""`},
		{ConsumptionFile, "," + at + ",a:b,,,A,1,,,,,,,", "job \"a:b\" holds a colon"},
		{ConsumptionFile, "," + at + ",job,,,A,1,,,,1.5,,,", "changes \"1.5\" is not a whole number"},
		{ConsumptionFile, "," + at + ",job,,,A,1,,,,,half,,", "outcome \"half\" is none of finished, failed"},
		{ConsumptionFile, "," + at + ",job,,,A,1,,,,,,guessed,", "basis \"guessed\" is none of sliced, path, weighed"},
		{Queue, "," + at + ",job,,,0,,PLA,,1,,,,,,,,", ""},
		{Queue, "," + at + ",job,,,0,,,,1,,,,,,,,", ""}, // no rule of the contract: such a need finds no spool
		{Queue, "," + at + ",job,,,a/b,A,,,1,,,,,,,,", "slot \"a/b\" holds / : or ="},
		{Queue, "," + at + ",job,,,a=b,A,,,1,,,,,,,,", "slot \"a=b\" holds / : or ="},
		{Queue, "," + at + ",job,,,0,A,,,1,,,,,2026-11-21,,,", "due \"2026-11-21\" is not a time"},
		{Moves, "," + at + ",A,P1/2,", ""},
		{Moves, ",,A,P1/2,", "at is blank"},
		{Voids, "," + at + "," + id(1) + ",", ""},
		{Voids, "," + at + ",,", "target is blank"},
		{Bills, "," + at + ",2026-1,pellam,2026-10-01,2026-10-31,eur,12.30,4," + strings.Repeat("AB", 32) + ",", ""},
		{Bills, "," + at + ",2026-1,pellam,,2026-10-31,JPY,0,0," + strings.Repeat("ab", 32) + ",", ""},
		{Bills, "," + at + ",,pellam,,2026-10-31,JPY,0,0," + strings.Repeat("ab", 32) + ",", "bill is blank"},
		{Bills, "," + at + ",2026:1,,2026-10,2026-10-31,,,," + strings.Repeat("ab", 31) + ",", "bill \"2026:1\" holds a colon; leave it out\n" +
			"bills.csv:2: client is blank; fill it in\nbills.csv:2: from \"2026-10\" is not a date"},
		{Bills, "," + at + ",2026-1,pellam,2026-10-01,2026-09-30,EUR,1,1," + strings.Repeat("ab", 32) + ",", "to \"2026-09-30\" is before from"},
		{Bills, "," + at + ",2026-1,pellam,2026-10-01,,EUR,1,1," + strings.Repeat("ab", 32) + ",", "to is blank"},
		{Bills, "," + at + ",2026-1,pellam,2026-10-01,2026-10-31,EUR,1,1,ab,", "sha256 \"ab\" is no SHA-256"},
		{Seals, "," + at + "," + at + ",clients.csv,,5," + strings.Repeat("ab", 32), ""},
		{Seals, "," + at + "," + at + ",clients.csv,2026-10,5," + strings.Repeat("ab", 32), "month \"2026-10\" stands in a seal of clients.csv"},
		{SettingsFile, "currency,eur", ""},
		{SettingsFile, "a word of ours,1", ""},
		{SettingsFile, "currency,euro", "value \"euro\" is not a currency"},
		{SettingsFile, "enough_odds,1", ""},
		{SettingsFile, "enough_odds,95", `value "95" of enough_odds is not between 0 and 1`},
		{SettingsFile, "service_level,1", `value "1" of service_level is not between 0 and 1`},
		{SettingsFile, "service_level,0", `value "0" of service_level is not between 0 and 1`},
		{SettingsFile, "min_intervals,2.5", `value "2.5" of min_intervals is not a whole number`},
		{SettingsFile, "label_u,1 %", `value "1 %" of label_u is not a number`},
		{SettingsFile, ",1", "setting is blank"},
		{Materials, "PLA,1.24,,", ""},
		{Materials, "PLA,,,", "density_g_cm3 is blank or 0"},
		{Materials, "PLA,0,,", "density_g_cm3 is blank or 0"},
		{Cores, "card,,,", ""},
		{Cores, ",148,,", "core is blank"},
		{Scales, "bench,,,,", ""},
		{Printers, "P1,1+4,,,,,,", ""},
		{Printers, "P1,,,,,,,", "feeds \"\" is no layout"},
		{Printers, "P1,1+4,,,,,,,2.5", ""},
		{Printers, "P1,1+4,,,,,,,-1", "hour_cost \"-1\" is not a number"},
		{Purges, "P1,,*,,black,90", ""},
		{Purges, "*,,white,,*,", "purge_mm3 is blank"},
		{Purges, ",,white,,*,1", "printer is blank"},
		{Purges, "*,,,,white,1", "from_colour is blank"},
		{Purges, "a:b,,*,,white,1", "printer \"a:b\" holds a colon"},
		{Purges, "*,,*,,a/b,1", "to_colour \"a/b\" holds a /"},
		{Purges, "*,,white,,,1", "to_colour is blank"},
		{Nozzles, "P1,1,-12.5,300,,,250,", ""},
		{Nozzles, "P1,2,,,,,,", ""},
		{Nozzles, ",1,,,,,,", "printer is blank"},
		{Nozzles, "P1,0,,,,,,", "nozzle is blank or 0"},
		{Nozzles, "P1,one,,,,,,", "nozzle \"one\""},
		{Nozzles, "P1,1,+5,,,,,", "x_min_mm \"+5\""},
		{Nozzles, "P1,1,--5,,,,,", "x_min_mm \"--5\""},
		{Nozzles, "P1,1,,-,,,,", "x_max_mm \"-\""},
		{Nozzles, "P1,1,,,5,-5,,", "y_min_mm 5 is above y_max_mm -5"},
		{Nozzles, "P1,1,,,,,-1,", "z_max_mm \"-1\""},
		{Limits, "*,*,TPU,,too soft", ""},
		{Limits, "P1,2,PVA,ASA,it chars", ""},
		{Limits, "P1,,PVA,,x", "nozzle \"\" is no nozzle"},
		{Limits, "P1,0,PVA,,x", "nozzle \"0\" is no nozzle"},
		{Limits, "P1,+1,PVA,,x", "nozzle \"+1\" is no nozzle"},
		{Limits, "P1,1,,,x", "material is blank"},
		{Limits, "P1,1,PVA,,", "why is blank"},
		{SettingsFile, "purge_weight,PLA-01=10 pva=0.5", ""},
		{SettingsFile, "purge_weight,PLA-01=0", "value \"PLA-01=0\" is no SPOOL=WEIGHT"},
		{SettingsFile, "purge_weight,PLA-01", "value \"PLA-01\" is no SPOOL=WEIGHT"},
		{Clients, "c,,0.5,1,2026-10-01,", ""},
		{Clients, "c,,1.01,,,", "waste_billed \"1.01\" is no share"},
		{Clients, "c,,,,2026-02-30,", "from \"2026-02-30\" is not a date"},
	} {
		got := decodeAny(c.file, headerBefore(c.file)+c.row+"\n")
		switch {
		case c.want == "" && got != "":
			t.Errorf("%s, %s: got %q, want no fault", c.file, c.row, got)
		case c.want != "" && !strings.HasPrefix(got, c.file+":2: "+c.want):
			t.Errorf("%s, %s: got %q, want %q", c.file, c.row, got, c.want)
		}
	}
}

// decodeAny reads a file of any kind and returns its faults.
func decodeAny(file, content string) string {
	var faults Faults
	var err error
	switch file {
	case SettingsFile:
		faults, err = faultsIn[Setting](file, content)
	case Materials:
		faults, err = faultsIn[Material](file, content)
	case Cores:
		faults, err = faultsIn[Core](file, content)
	case Scales:
		faults, err = faultsIn[Scale](file, content)
	case Printers:
		faults, err = faultsIn[Printer](file, content)
	case Purges:
		faults, err = faultsIn[PairPurge](file, content)
	case Nozzles:
		faults, err = faultsIn[Nozzle](file, content)
	case Limits:
		faults, err = faultsIn[Limit](file, content)
	case Clients:
		faults, err = faultsIn[Client](file, content)
	case Purchases:
		faults, err = faultsIn[Purchase](file, content)
	case Weighins:
		faults, err = faultsIn[Weighin](file, content)
	case ConsumptionFile:
		faults, err = faultsIn[Consumption](file, content)
	case Queue:
		faults, err = faultsIn[Need](file, content)
	case Moves:
		faults, err = faultsIn[Move](file, content)
	case Voids:
		faults, err = faultsIn[Void](file, content)
	case Seals:
		faults, err = faultsIn[Seal](file, content)
	case SlicedFiles:
		faults, err = faultsIn[SlicedFile](file, content)
	case Bills:
		faults, err = faultsIn[Bill](file, content)
	}
	if err != nil {
		return err.Error()
	}
	return faults.Error()
}

func faultsIn[T any, R rowOf[T]](file, content string) (Faults, error) {
	d, err := decode[T, R](scanText(content))
	return d.faults, err
}

// The globals of gocsv are shared by all that runs in the process, and racy.
func TestNoGlobalOfGocsvIsTouched(t *testing.T) {
	t.Parallel()
	global := regexp.MustCompile(`gocsv\.(SetCSVReader|SetCSVWriter|SetHeaderNormalizer|TagName|TagSeparator|FailIf\w*|ShouldAlign\w*)`)
	files, err := filepath.Glob("../*/*.go")
	if err != nil {
		t.Fatal(err)
	}
	deeper, _ := filepath.Glob("../*/*/*.go")
	users := 0
	for _, name := range append(files, deeper...) {
		source, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(source), "gocarina/gocsv") {
			users++
		}
		if use := global.Find(source); use != nil {
			t.Errorf("%s uses %s", name, use)
		}
	}
	if users == 0 {
		t.Error("found no file that imports gocsv")
	}
}

// What is read is written and read the same; nothing typed into a file stops the reader.
func FuzzDecode(f *testing.F) {
	const at = "2026-11-20T18:30:00Z"
	for _, row := range []string{
		"," + at + ",PLA-1,PLA,,,,,1.75,1000,,,,,,,,", "," + at + ",PLA-1,812.5,bench,dried,\"a\nb\"",
		"," + at + ",job,,,PLA-1,1,2,3,4,5,failed,path,x", "," + at + "," + id(1) + ",why", "currency,EUR", "min_intervals,1e3",
		"min_intervals,99999999999999999999999", "enough_odds,0.95\n\"scale\",\"ben\"\"ch\"", "\ufeff,\"", "a\x00,b\xff\n\n,,,,,,,,,,,,,,,,,,,,,,,,\n\"",
	} {
		f.Add(row)
	}
	f.Fuzz(func(t *testing.T, rows string) {
		writtenAgain[Setting](t, SettingsFile, rows)
		writtenAgain[Purchase](t, Purchases, rows)
		writtenAgain[Weighin](t, Weighins, rows)
		writtenAgain[Consumption](t, ConsumptionFile, rows)
		writtenAgain[Need](t, Queue, rows)
		writtenAgain[Void](t, Voids, rows)
		if d, err := decode[Setting](scanText(rows)); err == nil { // with a header of its own
			_ = d
		}
	})
}

func writtenAgain[T any, R rowOf[T]](t *testing.T, file, rows string) {
	d, err := decode[T, R](scanText(headerBefore(file) + rows))
	if err != nil {
		t.Fatalf("%s: %v with the contract's header", file, err)
	}
	plain := make([]T, 0, len(d.rows))
	for i, row := range d.rows {
		if lineOf(d, i) < 2 {
			t.Fatalf("%s: a row on line %d", file, lineOf(d, i))
		}
		for _, text := range texts(R(row)) {
			if CheckText("", *text) != nil { // read, but never written so
				return
			}
		}
		plain = append(plain, *row)
	}
	text, err := encodeRows(file, nil, plain)
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	again, err := decode[T, R](scanText(string(text)))
	if err != nil || len(again.faults) > 0 || len(again.rows) != len(d.rows) {
		t.Fatalf("%s: %q is written %q, which reads as %d rows, %v, %v", file, rows, text, len(again.rows), again.faults, err)
	}
	twice := make([]T, 0, len(d.rows))
	for _, row := range again.rows {
		twice = append(twice, *row)
	}
	if second, err := encodeRows(file, nil, twice); err != nil || string(second) != string(text) {
		t.Fatalf("%s: %q is written %q and then %q, %v", file, rows, text, second, err)
	}
}

// The fields of every row are its columns, in their order.
func TestColumnsAreTheFields(t *testing.T) {
	t.Parallel()
	for file, row := range map[string]row{
		SettingsFile: &Setting{}, Materials: &Material{}, Cores: &Core{}, Scales: &Scale{}, Printers: &Printer{}, Purges: &PairPurge{}, Nozzles: &Nozzle{}, Limits: &Limit{}, Clients: &Client{},
		Purchases: &Purchase{}, Weighins: &Weighin{}, ConsumptionFile: &Consumption{}, Queue: &Need{}, Moves: &Move{}, Voids: &Void{}, Seals: &Seal{}, Bills: &Bill{}, SlicedFiles: &SlicedFile{},
	} {
		var want []any
		var walk func(v reflect.Value)
		walk = func(v reflect.Value) {
			for i := range v.NumField() {
				switch name, ok := v.Type().Field(i).Tag.Lookup("csv"); {
				case v.Type().Field(i).Anonymous && !ok:
					walk(v.Field(i))
				case ok && name != "-":
					want = append(want, v.Field(i).Addr().Interface())
				}
			}
		}
		walk(reflect.ValueOf(row).Elem())
		got := row.columns()
		if row.file() != file || len(want) != len(columnsByFile()[file]) || len(got) != len(want) {
			t.Errorf("%s: %d fields, %d tags, %d columns", file, len(got), len(want), len(columnsByFile()[file]))
			continue
		}
		for i, f := range got {
			if w, ok := f.(*textField); ok && any((*string)(w)) != want[i] || !ok && any(f) != want[i] {
				t.Errorf("%s: the field of %s is another", file, columnsByFile()[file][i])
			}
		}
	}
}

// csvText draws a file that RFC 4180 allows, good and bad rows mixed.
func csvText(t *rapid.T, file string) string {
	columns := rapid.Permutation(columnsByFile()[file]).Draw(t, "columns")
	if rapid.Bool().Draw(t, "without those it may lack") {
		columns = slices.DeleteFunc(columns, func(c string) bool { return mayBeAbsent(file, c) })
	}
	if rapid.Bool().Draw(t, "mine") {
		columns = slices.Insert(columns, rapid.IntRange(0, len(columns)).Draw(t, "place"), "mine")
	}
	grams := []string{"2", "12.5", "", "0", " 3 ", "1.0001", "1e3", "-1", "x"}
	pool := map[string][]string{
		"entry":   {"", id(1), id(2), strings.ToLower(id(3)), "nonsense"},
		"at":      {"2026-11-20T18:30:00Z", "2026-11-20T18:30:00.5+01:00", "", "yesterday"},
		"spool":   {"PLA-1", "pla-1", " PLA-1", "", "P 1"},
		"due":     {"", "2026-11-20T18:30:00Z", "soon"},
		"changes": {"", "3", "3.0", "3.5"},
		"outcome": {"", "finished", "Failed", "half"},
		"basis":   {"", "path", "WEIGHED", "?"},
		"state":   {"loaded", "Dried", "empty", "?"},
		"feeds":   {"1+4", "4", "", "1+", "0"},
		"setting": {"scale", "printer", "currency", "enough_odds", ""},
		"target":  {id(1), "x", ""},
		"from":    {"", "2026-10-01", "2026-02-30", "PLA-1"},
	}
	words := []string{"vase", "EUR", "", "a:b", "left, right", "two\nlines", "two\r\nlines", `say "hi"`, "Ärmel", "a\x00b", "\xff", " "}
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
			switch {
			case ok:
			case strings.Contains(c, "_") || c == "price":
				choices = grams
			default:
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

// Our reader, in blocks of any size, and gocsv read the same rows, and find the same faults on the same lines.
func TestReaderAgreesWithGocsv(t *testing.T) {
	t.Parallel()
	t.Run(ConsumptionFile, agrees[Consumption])
	t.Run(Purchases, agrees[Purchase])
	t.Run(Weighins, agrees[Weighin])
	t.Run(Queue, agrees[Need])
	t.Run(Voids, agrees[Void])
	t.Run(Printers, agrees[Printer])
	t.Run(Materials, agrees[Material])
	t.Run(Clients, agrees[Client])
	t.Run(SettingsFile, agrees[Setting])
}

func agrees[T any, R rowOf[T]](t *testing.T) {
	t.Parallel()
	shown := func(row T, line int, raw string, l *layout) string {
		if r, ok := any(&row).(Row); ok {
			h := r.head()
			h.setID()
			h.raw, h.layout = "", nil
		}
		if s, ok := any(&row).(*Setting); ok {
			s.Line = 0
		}
		return fmt.Sprintf("%d %+v %q", line, row, l.canonical(split(raw)))
	}
	rapid.Check(t, func(t *rapid.T) {
		content := csvText(t, R(new(T)).file())
		size := rapid.SampledFrom([]int{1, 7, 64, blockSize}).Draw(t, "block")
		d, err := gocsvDecode[T, R](content)
		if err != nil {
			t.Fatalf("%q: %v", content, err)
		}
		var want, got []string
		for i, row := range d.rows {
			want = append(want, shown(*row, d.lines[i], d.raws[i], d.layout))
		}
		for _, f := range d.faults {
			want = append(want, f.Error())
		}
		var faults []string
		row := R(new(T))
		_, err = scanRows(newScanner(strings.NewReader(content), size), row, func(line int, raw string) {
			got = append(got, shown(*row, line, raw, d.layout))
		}, func(e *RowError, _ []string) { faults = append(faults, e.Error()) })
		if err != nil {
			t.Fatalf("%q: %v", content, err)
		}
		if diff := cmp.Diff(want, append(got, faults...)); diff != "" {
			t.Fatalf("%q (-gocsv +reader):\n%s", content, diff)
		}
	})
}

func TestReaderRefusesTheHeadersThatGocsvDoes(t *testing.T) {
	t.Parallel()
	for _, header := range []string{"a", "entry", contract[ConsumptionFile] + ",at", strings.ReplaceAll(contract[ConsumptionFile], "spool,", ""), "\"entry,at\n", "en\"try,at"} {
		_, want := gocsvDecode[Consumption](header + "\n")
		_, got := scanRows(newScanner(strings.NewReader(header+"\n"), 7), &Consumption{}, func(int, string) {}, func(*RowError, []string) {})
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("header %q: the reader says %v, gocsv %v", header, got, want)
		}
	}
}
