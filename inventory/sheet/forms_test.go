package sheet

import (
	"strings"
	"testing"
)

// column reads a sheet of one column of numbers and one of dates.
func column(t *testing.T, numbers, dates []string, o Options) (*Forms, error) {
	t.Helper()
	text := "Netto|Tag\n"
	for i := range max(len(numbers), len(dates)) {
		cell := func(cells []string) string {
			if i < len(cells) {
				return cells[i]
			}
			return ""
		}
		text += cell(numbers) + "|" + cell(dates) + "\n"
	}
	table, err := Read([]byte(text), o)
	if err != nil {
		t.Fatal(err)
	}
	return table.Forms([]int{0}, []int{1}, o)
}

func TestDecimal(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, cells string // cells are parted by bars of their own: _
		want        string // the numbers, then what was found; or what settles it
	}{
		{"a comma", "812,5_1000", "812.5 1000: decimal comma"},
		{"a point", "812.5_1000", "812.5 1000: decimal point"},
		{"neither", "812_1000", "812 1000: "},
		{"a comma and groups by points", "1.234,5_1.234_812", "1234.5 1234 812: decimal comma"},
		{"a point and groups by commas", "1,234.5_1,234_812", "1234.5 1234 812: decimal point"},
		{"groups by blanks", "1 234,5_1\u00a0234_1\u202f234,25", "1234.5 1234 1234.25: decimal comma"},
		{"groups by apostrophes", "1'234.50_1’234", "1234.50 1234: decimal point"},
		{"groups by blanks and a fraction of three digits", "1 234,567", "1234.567: decimal comma"},
		{"several groups are no decimals", "1.234.567_1,5", "1234567 1.5: decimal comma"},
		{"several groups alone", "1,234,567", "1234567: decimal point"},
		{"a fraction of three digits after nought", "0,234", "0.234: decimal comma"},
		{"four digits before the mark", "1234,567", "1234.567: decimal comma"},
		{"nothing before the mark", ",5", "0.5: decimal comma"},
		{"units", "812,5 g_0,75kg_24,90 €_EUR 24,90_5 gr.", "812.5g 0.75kg 24.90€ 24.90EUR 5gr: decimal comma"},
		{"three digits alone", "1,234_812", "Decimal"},
		{"three digits alone with a point", "182.400", "Decimal"},
		{"three digits and cells that are no numbers", "1,234_1,2,3.4_n/a", "Decimal"},
		{"both marks, one far more often", "1,5_2,5_3.5", "1.5 2.5 !: decimal comma"},
		{"both marks, one as often", "1,5_3.5", "Decimal"},
		{"a slip of the pen is no unit", "1,5_1.00O", "1.5 !: decimal comma"},
		{"both marks, one of them next to never, and one that may be either", strings.Repeat("1,5_", 20) + "3.5_1.234", strings.Repeat("1.5 ", 20) + "! 1234: decimal comma"},
		{"both marks, and one that may be either", "1,5_2,5_3.5_1.234", "Decimal"},
	} {
		cells := strings.Split(c.cells, "_")
		f, err := column(t, cells, nil, Options{})
		if err != nil {
			if got := err.(*Error).Settle; got != c.want {
				t.Errorf("%s: got %v, want %s", c.name, err, c.want)
			}
			continue
		}
		var got []string
		for _, cell := range cells {
			n, err := f.Number(cell)
			if err != nil {
				n.Text = "!"
			}
			got = append(got, n.Text+n.Unit)
		}
		found := strings.TrimPrefix(strings.TrimPrefix(f.String(), "bars"), ", ")
		if text := strings.Join(got, " ") + ": " + found; text != c.want {
			t.Errorf("%s: got %s, want %s", c.name, text, c.want)
		}
	}
}

func TestNumber(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		cell    string
		decimal rune
		want    string // or ! and what is wrong
	}{
		{"1.234", ',', "1234"}, {"1.234", '.', "1.234"}, {"1,234", ',', "1.234"}, {"1,234", '.', "1234"},
		{"007", '.', "007"}, {"0", ',', "0"}, {"12.345.678,9", ',', "12345678.9"}, {"€1,50", ',', "1.50"},
		{"12.34", ',', "!12.34"}, {"1.2345", ',', "!"}, {"1234.567", ',', "!"}, {"0.234", ',', "!"}, {"1.234.56", ',', "!"},
		{"1,2,3", ',', "!"}, {"1,234.5", ',', "!"}, {"1 234.567", ',', "!"}, {"1 23,5", ',', "!"}, {"1234 567", '.', "!"}, {"1,23,456", '.', "!"},
		{"5,", ',', "!"}, {"5.", '.', "!"}, {"1..2", '.', "!"}, {"", '.', "!"}, {"n/a", '.', "!"}, {"#REF!", '.', "!"}, {"12 x 3", '.', "!"}, {"18O.2", '.', "!"},
		{"-5", '.', "!is below 0"}, {"−5", '.', "!is below 0"}, {"(5)", '.', "!is below 0"}, {"+5", '.', "!"}, {"1.2E+03", '.', "!has an exponent"}, {"1e3", '.', "!has an exponent"},
		{"5 %", '.', "!"}, {"g 5 g", '.', "!"}, {"٣", '.', "!"}, {"=1+1", '.', "!"}, {"1\n2", '.', "!"},
	} {
		got, err := (&Forms{Decimal: c.decimal}).Number(c.cell)
		what, refused := strings.CutPrefix(c.want, "!")
		if refused != (err != nil) || !refused && got.Text != c.want || refused && !strings.Contains(err.Error(), what) {
			t.Errorf("%q with %q: got %v, %v, want %s", c.cell, c.decimal, got, err, c.want)
		}
	}
}

func TestDates(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, cells string
		dates       Order
		want        string // the days, then what was found; or what settles it
	}{
		{"dots", "3.4.2026_25.12.2026", "", "2026-4-3 2026-12-25: dates day.month.year"},
		{"dots, which day and month could share", "03.04.2026_5.6.26", "", "2026-4-3 2026-6-5: dates day.month.year"},
		{"dots, one wrong", "03.04.2026_12.25.2026_31.02.2026", "", "2026-4-3 ! !: dates day.month.year"},
		{"dots, all wrong", "12.25.2026", "", "!: dates day.month.year"},
		{"slashes, day first", "3/4/26_25/12/26", "", "2026-4-3 2026-12-25: dates day/month/year"},
		{"slashes, month first", "03/04/2026_12/25/2026", "", "2026-3-4 2026-12-25: dates month/day/year"},
		{"slashes, told", "03/04/2026", "mdy", "2026-3-4: dates month/day/year"},
		{"year first", "2026-04-03_2026-12-25", "", "2026-4-3 2026-12-25: dates year-month-day"},
		{"year first beside another order", "2026-04-03_25/12/2026_03/04/2026", "", "2026-4-3 2026-12-25 2026-4-3: dates day/month/year"},
		{"year first whatever is told", "2026/04/03", "dmy", "2026-4-3: dates year/month/day"},
		{"a year of two digits first", "26-04-03_26-12-25_31-01-01", "", "Dates"},
		{"a year of two digits first, told", "26-04-03_26-12-25", "ymd", "2026-4-3 2026-12-25: dates year-month-day"},
		{"a year of two digits that can be nothing else", "99-12-31", "", "2099-12-31: dates year-month-day"},
		{"with times", "25.12.2026 18:30_25.12.2026, 6:05_25.12.2026 6:05 PM_2026-12-25T18:30:05.25+01:00_2026-12-25 00:00Z", "",
			"2026-12-25T18:30:0 2026-12-25T6:5:0 2026-12-25T18:5:0 2026-12-25T18:30:5.25+3600 2026-12-25T0:0:0+0: dates day.month.year"},
		{"none", "", "", ": "},
		{"no days at all", "soon_46329_2026-13-01", "", "! ! !: dates year-month-day"},
		{"slashes that may be either", "03/04/2026_05/06/2026", "", "Dates"},
		{"hyphens that may be either", "03-04-2026", "", "Dates"},
		{"slashes that contradict", "25/12/2026_12/25/2026", "", "Dates"},
		{"slashes of which next to none contradict", strings.Repeat("25/12/2026_", 20) + "12/25/2026_03/04/2026", "", strings.Repeat("2026-12-25 ", 20) + "! 2026-4-3: dates day/month/year"},
		{"slashes of which more contradict", strings.Repeat("25/12/2026_", 19) + "12/25/2026_03/04/2026", "", "Dates"},
		{"slashes that contradict, told", "25/12/2026_12/25/2026_03/04/2026", "dmy", "2026-12-25 ! 2026-4-3: dates day/month/year"},
	} {
		cells := strings.Split(c.cells, "_")
		numbers := make([]string, len(cells))
		for i := range numbers {
			numbers[i] = "1"
		}
		f, err := column(t, numbers, cells, Options{Dates: c.dates})
		if err != nil {
			if got := err.(*Error).Settle; got != c.want {
				t.Errorf("%s: got %v, want %s", c.name, err, c.want)
			}
			continue
		}
		var got []string
		for _, cell := range cells {
			if cell != "" {
				got = append(got, told(f.Date(cell)))
			}
		}
		found := strings.TrimPrefix(strings.TrimPrefix(f.String(), "bars"), ", ")
		if text := strings.Join(got, " ") + ": " + found; text != c.want {
			t.Errorf("%s: got %s, want %s", c.name, text, c.want)
		}
	}
}

func TestDate(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ cell, want string }{
		{"25.12.2026", "2026-12-25"}, {"1.2.26", "2026-2-1"}, {"29.02.2028", "2028-2-29"},
		{"29.02.2026", `"29.02.2026" is no date that exists`}, {"12.25.2026", "is no date that exists, read as day.month.year; write it as 2026-11-20"},
		{"1.2", "a number where a date should be"}, {"46329", "a number where a date should be"}, {"46329,5", "a number where a date should be"},
		{"25.12-2026", "is not a date"}, {"25.12.202", "is not a date"}, {"25.12.20266", "is not a date"}, {"25.2026.12", "is not a date"}, {"2026.12.2026", "is not a date"},
		{"25.12.2026 25:00", "is not a date"}, {"25.12.2026 18", "is not a date"}, {"25.12.2026x", "is not a date"}, {"25.12.2026 18:30+24:00", "is not a date"},
		{"25.12.2026 18:30:05,5", "is not a date"}, {"3 Dec 2026", "is not a date"}, {"yesterday", "is not a date"}, {"1.2.6", "is no date that exists"}, {"0000-01-01", "is no date that exists"},
	} {
		got, err := (&Forms{Dates: DMY}).Date(c.cell)
		text := told(got, nil)
		if err != nil {
			text = err.Error()
		}
		if !strings.Contains(text, c.want) {
			t.Errorf("%q: got %s, want %s", c.cell, text, c.want)
		}
	}
}
