package recording_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"tarebook/inventory/booktest"
	"tarebook/inventory/recording"
	"tarebook/inventory/sheet"
	"tarebook/ledger"
)

// any name is known, but for x.
func anyName(name string) (string, error) {
	if name == "x" {
		return "", errors.New("no x")
	}
	return name, nil
}

func sheetOf(t *testing.T, kind string, named map[string]string) *recording.Import {
	t.Helper()
	in, err := recording.NewImport(kind, named, nil)
	if err != nil {
		t.Fatal(err)
	}
	in.File, in.Now, in.At = "sheet", booktest.Start.AddDate(1, 0, 0), ledger.NewTime(booktest.Start)
	in.FindBy(anyName)
	return in
}

// Which rows the book has is told by what the sheet says: each row of the book stands for one of the sheet, and one that says less
// does not take what fits another alone.
func TestPassOver(t *testing.T) {
	t.Parallel()
	const book = `
		purchases at=1 spool=A net_g=1000 core=card
		purchases at=1 spool=B net_g=1000 core=card
		weighins at=2 spool=A gross_g=900
		weighins at=3 spool=A gross_g=900 note=noon
		weighins at=30 spool=A gross_g=890.5 scale=fine
		weighins at=40 spool=B state=discarded`
	for _, c := range []struct {
		name, rows    string
		fresh, passed int
	}{
		{"by time", "at,spool,gross_g\n2026-01-01T02:00:00Z,a,900\n2026-01-01T03:00:00+01:00,A,900\n2026-01-01T02:00:01Z,A,900\n", 2, 1},
		{"by day", "at,spool,gross_g\n2026-01-01,A,900\n2026-01-01,A,900\n2026-01-01,A,900\n2026-01-02,A,900\n", 2, 2},
		{"without a time", "spool,gross_g\nA,900\nA,900\nA,900\nA,890.50\n", 1, 3},
		{"what says more chooses first", "spool,gross_g,note\nA,900,\nA,900,NOON\n", 0, 2},
		{"a blank note says nothing", "at,spool,gross_g,note\n2026-01-01T03:00:00Z,A,900,\n", 0, 1},
		{"another note", "at,spool,gross_g,note\n2026-01-01T03:00:00Z,A,900,dusk\n", 1, 0},
		{"another scale, and none", "spool,gross_g,scale\nA,890.5,exact\nA,890.5,\n", 1, 1},
		{"another spool", "spool,gross_g\nB,900\n", 1, 0},
		{"a gross or none", "spool,gross_g,state\nB,,discarded\nB,200,discarded\n", 1, 1},
		{"a state or another", "spool,gross_g,state\nA,900,dried\nA,900,loaded\n", 1, 1},
	} {
		in := sheetOf(t, recording.OfWeighins, nil)
		if err := in.Read([]byte(c.rows), sheet.Options{}); err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		got, err := in.Weighins(booktest.View(t, book))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if len(got.Rows) != c.fresh || got.Already != c.passed || got.All != c.fresh+c.passed {
			t.Errorf("%s: got %s, want %d and %d", c.name, got, c.fresh, c.passed)
		}
	}
}

// A unit stands in the cell, or in the header.
func TestUnits(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ header, cell, want string }{
		{"net", "750", "750"}, {"net", "750 g", "750"}, {"net", "750 GR.", "750"}, {"net", "0.75kg", "750"}, {"net", "750.1000", "750.1"}, {"net", "750.0", "750"},
		{"net (kg)", "0.75", "750"}, {"net [ KG ]", "0.75", "750"}, {"net (kg)", "750 g", "750"}, {"net (g)", "0.75 kg", "750"}, {"net (of all)", "750", "750"}, {"net (label)", "750", "750"},
		// 330 m x 2.405282 mm2 x 1.24 g/cm3
		{"length (m)", "330", "984.241"}, {"net", "330m", "984.241"}, {"net", "330000 mm", "984.241"},
		{"net", "750.1234", "!"}, {"net", "26 oz", "!"}, {"net", "750g net", "!"}, {"net", "0", "!"}, {"net", "9999999999999", "!"},
	} {
		in := sheetOf(t, recording.OfSpools, map[string]string{"net_g": c.header})
		err := in.Read([]byte("spool;material;"+c.header+"\nNEW;PLA;"+c.cell+"\n"), sheet.Options{Decimal: '.'})
		if err != nil {
			t.Errorf("%s %s: %v", c.header, c.cell, err)
			continue
		}
		got, err := in.Purchases(booktest.View(t, ""))
		switch {
		case err != nil && c.want != "!":
			t.Errorf("%s %s: %v", c.header, c.cell, err)
		case err == nil && (c.want == "!" || got.Rows[0].NetG != booktest.Grams(c.want)):
			t.Errorf("%s %s: got %s g, want %s", c.header, c.cell, got.Rows[0].NetG, c.want)
		}
	}
}

// What stands beside a price is its currency; a row that says another is refused.
func TestPriceCurrency(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ header, cell, currency, want string }{
		{"price", "24.90", "", ""}, {"price", "24.90 €", "", "EUR"}, {"price", "£24.90", "", "GBP"}, {"price", "usd 24.90", "", "USD"}, {"price", "24.90 €", "eur", "EUR"},
		{"price (EUR)", "24.90", "", "EUR"}, {"price (EUR)", "24.90 CHF", "", "CHF"}, {"price (€)", "24.90", "", "EUR"}, {"price (net)", "24.90", "", ""}, {"price (all)", "24.90", "", ""},
		{"price", "24.90 $", "USD", "USD"}, {"price", "24.90 $", "", "!"}, {"price", "24.90 €", "USD", "!"}, {"price (EUR)", "24.90", "USD", "!"}, {"price", "24.90", "XXX", "!"},
	} {
		in := sheetOf(t, recording.OfSpools, map[string]string{"price": c.header})
		if err := in.Read([]byte("spool;material;net_g;"+c.header+";currency\nNEW;PLA;750;"+c.cell+";"+c.currency+"\n"), sheet.Options{Decimal: '.'}); err != nil {
			t.Errorf("%s %s: %v", c.header, c.cell, err)
			continue
		}
		got, err := in.Purchases(booktest.View(t, ""))
		switch {
		case err != nil && c.want != "!":
			t.Errorf("%s %s: %v", c.header, c.cell, err)
		case err == nil && (c.want == "!" || got.Rows[0].Currency != c.want):
			t.Errorf("%s %s: got %s, want %s", c.header, c.cell, got.Rows[0].Currency, c.want)
		}
	}
}

// Whatever a sheet holds, each of its rows is booked, passed over or refused; what is booked is a row that may be recorded.
func FuzzImport(f *testing.F) {
	for _, text := range []string{
		"spool;at;material;net_g;price\nN-1;2.1.2026;PLA;1.000,5;24,90 €\nN-1;31.2.2026;x;,5 kg;\nA;;;1000;\n",
		"spool,material,gross_g,label_g,core,tare_g,price,currency,from,note\nN-1,PLA,612,1000,card,,21.9,EUR,N-2,=x\nN-2,PETG,612,1000,,245,,,A,ok\n",
		"spool\tat\tgross_g\tstate\tscale\nA\t2026-01-01\t900\t\t\na\t1/2/26\t120\tempty\tfine\nC\t\t\tdiscarded\tx\n",
		"job|spool|part_g|support_g|prime_g|purge_g|changes|outcome|basis|client|printer\nj|A|1|2|3|4|5|failed|path||Bench\nk|B|12m|0|.5 kg|||done|||\n|A|||||||||\n",
		"spool,material,net_g,from,at\nN-1,PLA,400,A,2026-02-01\nN-2,PLA,700,N-1,2026-02-01\nN-3,PLA,900,a,2026-02-01\nN-4,PLA,1,B,2026-02-01\n",
		"spool,material\nN-1\n\"N\n-2\",PLA\n", "at,spool,gross_g\n2026-01-01T02:00:00Z,A,900\n", "spool (kg),net_g\n,\n",
	} {
		f.Add([]byte(text), uint8(0))
		f.Add([]byte(text), uint8(7))
	}
	dir := f.TempDir()
	book := booktest.Write(f, dir, booktest.Lines(`
		purchases at=1 spool=A net_g=1000 core=card
		purchases at=1 spool=B net_g=1000
		weighins at=2 spool=A gross_g=900
		weighins at=4 spool=B state=discarded
		consumption at=3 job=j spool=A part_g=1`))
	f.Fuzz(func(t *testing.T, data []byte, how uint8) {
		kind := recording.ImportKinds[int(how)%len(recording.ImportKinds)]
		in, err := recording.NewImport(kind, nil, nil) // names are looked up in the book: what is wound off is reckoned by its tables
		if err != nil {
			t.Fatal(err)
		}
		in.File, in.Now, in.At = "sheet", booktest.Start.AddDate(1, 0, 0), ledger.NewTime(booktest.Start)
		in.Timed, in.Sure = how&4 > 0, how&8 > 0
		if err := in.Read(data, sheet.Options{Dates: sheet.Orders[int(how>>4)%3], Decimal: []rune{0, ',', '.'}[int(how>>6)%3]}); err != nil {
			return
		}
		_ = in.Told()
		v, err := book.View(ledger.Time{})
		if err != nil {
			t.Fatal(err)
		}
		switch kind {
		case recording.OfSpools:
			taken, err := in.Purchases(v)
			counts(t, taken, err)
		case recording.OfWeighins:
			taken, err := in.Weighins(v)
			counts(t, taken, err)
		default:
			taken, err := in.Jobs(v)
			counts(t, taken, err)
		}
	})
}

func counts[T any, R ledger.RowOf[T]](t *testing.T, taken *recording.Imported[T], err error) {
	t.Helper()
	if err != nil {
		if taken != nil || !strings.HasSuffix(err.Error(), " rows refused, nothing was written") || !strings.HasPrefix(err.Error(), "sheet:") {
			t.Fatalf("%v beside %v", err, taken)
		}
		return
	}
	if len(taken.Rows)+taken.Already != taken.All {
		t.Fatal(taken)
	}
	for _, row := range taken.Rows {
		h := ledger.HeadOf(R(&row))
		h.Entry = ""
		if h.At.Std().After(booktest.Start.AddDate(1, 0, 0).Add(24 * time.Hour)) {
			t.Fatalf("%s is in the future", h.At)
		}
		if err := ledger.CheckRow[T, R](row); err != nil {
			t.Fatal(err)
		}
	}
}
