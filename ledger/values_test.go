package ledger

import (
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

func TestParseGrams(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text string
		want Grams
		as   string // how it is written again
	}{
		{"", 0, "0"},
		{" \t", 0, "0"},
		{"0", 0, "0"},
		{"0.001", 1, "0.001"},
		{"180.2", 180_200, "180.2"},
		{" 180.20\t", 180_200, "180.2"},
		{"007.500", 7_500, "7.5"},
		{"1000", 1_000_000, "1000"},
		{"1000000000", MaxGrams, "1000000000"},
		{"0000000000000000000001", 1_000, "1"},
	} {
		got, err := ParseGrams(c.text)
		if err != nil || got != c.want {
			t.Errorf("ParseGrams(%q) = %d, %v, want %d", c.text, got, err, c.want)
		}
		if got.String() != c.as {
			t.Errorf("%q is written %q, want %q", c.text, got, c.as)
		}
	}
	for _, text := range []string{"-1", "+1", ".5", "5.", ".", "1e3", "1,5", "1'000", "1 000", "1.2.3", "1.0000", "18O.2", "12g", "0x1F",
		"Inf", "NaN", "\u0661", "\u22121", "\u00a01", "1000000000.001", "99999999999999999999999999"} {
		if got, err := ParseGrams(text); err == nil || got != 0 {
			t.Errorf("ParseGrams(%q) = %d, %v, want an error and nothing", text, got, err)
		}
	}
	if got := Grams(-1_500).String(); got != "-1.5" {
		t.Errorf("a negative book is written %q, want -1.5", got)
	}
	if d := Grams(182_400).Decimal(); !d.Equal(decimal.RequireFromString("182.4")) {
		t.Errorf("182.4 g as a decimal is %s", d)
	}
}

func TestMassTellsNoughtFromNotKnown(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text  string
		want  Mass
		field string
		json  string
	}{
		{"", Mass{}, "", "null"},
		{"  ", Mass{}, "", "null"},
		{"0", Known(0), "0", "0"},
		{"148.50", Known(148_500), "148.5", "148.5"},
	} {
		m := Known(7)
		if err := m.UnmarshalCSV(c.text); err != nil || m != c.want {
			t.Errorf("%q is read as %+v, %v, want %+v", c.text, m, err, c.want)
		}
		if field, err := m.MarshalCSV(); err != nil || field != c.field {
			t.Errorf("%q is written %q, %v, want %q", c.text, field, err, c.field)
		}
		if text, err := m.MarshalJSON(); err != nil || string(text) != c.json {
			t.Errorf("%q is JSON %s, %v, want %s", c.text, text, err, c.json)
		}
	}
	m := Known(7)
	if err := m.UnmarshalCSV("heavy"); err == nil || m != (Mass{}) {
		t.Errorf("a failed read leaves %+v, %v, want nothing and an error", m, err)
	}
}

func TestParseNumberKeepsItsText(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ text, field, json string }{
		{"", "", "null"},
		{"24.90", "24.90", "24.9"},
		{" 1.75 ", "1.75", "1.75"},
		{"000", "000", "0"},
		{"0.1234567890123456789", "0.1234567890123456789", "0.1234567890123456789"},
	} {
		n, err := ParseNumber(c.text)
		if err != nil || n.Given != (c.field != "") {
			t.Fatalf("ParseNumber(%q) = %+v, %v", c.text, n, err)
		}
		if field, _ := n.MarshalCSV(); field != c.field {
			t.Errorf("%q is written %q, want %q", c.text, field, c.field)
		}
		if text, _ := n.MarshalJSON(); string(text) != c.json {
			t.Errorf("%q is JSON %s, want %s", c.text, text, c.json)
		}
	}
	for _, text := range []string{"-1", "+1", ".5", "5.", "1e3", "1,5", "\u22121", "1_0", strings.Repeat("1", 41)} {
		if n, err := ParseNumber(text); err == nil || n.Given {
			t.Errorf("ParseNumber(%q) = %+v, %v, want an error and nothing", text, n, err)
		}
	}
	made := Number{Decimal: decimal.New(25, -1), Given: true}
	if field, _ := made.MarshalCSV(); field != "2.5" {
		t.Errorf("a number made without text is written %q, want 2.5", field)
	}
	if got := (Number{}).Float(0.02); got != 0.02 {
		t.Errorf("a blank number is %v, want what stands for it", got)
	}
}

func TestCount(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text string
		want Count
	}{
		{"", Count{}}, {"0", Count{0, true}}, {" 12 ", Count{12, true}}, {"010", Count{10, true}}, {"12.00", Count{12, true}},
	} {
		got := Count{5, true}
		if err := got.UnmarshalCSV(c.text); err != nil || got != c.want {
			t.Errorf("%q is read as %+v, %v, want %+v", c.text, got, err, c.want)
		}
	}
	for _, text := range []string{"-1", "3.9", "1e2", "3.", ".0", "1234567890", "x", "0x1"} {
		got := Count{5, true}
		if err := got.UnmarshalCSV(text); err == nil || got != (Count{}) {
			t.Errorf("%q is read as %+v, %v, want an error and nothing", text, got, err)
		}
	}
}

func TestParseTime(t *testing.T) {
	t.Parallel()
	// RFC 3339, 5.8: the examples; seconds since 1970 by arithmetic.
	for _, c := range []struct {
		text    string
		seconds int64
		nanos   int
		month   string
		as      string
	}{
		{"1985-04-12T23:20:50.52Z", 482196050, 520_000_000, "1985-04", "1985-04-12T23:20:50.52Z"},
		{"1996-12-19T16:39:57-08:00", 851042397, 0, "1996-12", "1996-12-19T16:39:57-08:00"},
		{"1996-12-20T00:39:57Z", 851042397, 0, "1996-12", "1996-12-20T00:39:57Z"},
		{"1937-01-01T12:00:27.87+00:20", -1041337173, 870_000_000, "1937-01", "1937-01-01T12:00:27.87+00:20"}, // -1041337172.13
		// The month is that of the row's own offset: in UTC this is still October.
		{" 2026-11-01T00:30:00+01:00\t", 1793489400, 0, "2026-11", "2026-11-01T00:30:00+01:00"},
		{"2026-11-01T00:30:00.123456789-00:00", 1793493000, 123_456_789, "2026-11", "2026-11-01T00:30:00.123456789Z"},
		{"2024-02-29T23:59:59+23:59", 1709164859, 0, "2024-02", "2024-02-29T23:59:59+23:59"},
	} {
		got, err := ParseTime(c.text)
		if err != nil {
			t.Errorf("ParseTime(%q): %v", c.text, err)
			continue
		}
		if s, n := got.Std().Unix(), got.Std().Nanosecond(); s != c.seconds || n != c.nanos {
			t.Errorf("ParseTime(%q) is %d s and %d ns, want %d and %d", c.text, s, n, c.seconds, c.nanos)
		}
		if got.Month() != c.month || got.Date()[:7] != c.month {
			t.Errorf("%q falls in %s and %s, want %s", c.text, got.Month(), got.Date(), c.month)
		}
		if got.String() != c.as {
			t.Errorf("%q is written %q, want %q", c.text, got, c.as)
		}
	}
	if got, err := ParseTime(" "); err != nil || !got.IsZero() || got.String() != "" {
		t.Errorf("a blank is %v, %v, want the zero Time", got, err)
	}
	for name, text := range map[string]string{
		"leap second (RFC 3339, 5.8)":      "1990-12-31T23:59:60Z",
		"leap second, local":               "1990-12-31T15:59:60-08:00",
		"lower-case t":                     "2026-11-20t18:30:00Z",
		"lower-case z":                     "2026-11-20T18:30:00z",
		"space":                            "2026-11-20 18:30:00Z",
		"comma fraction":                   "2026-11-20T18:30:00,5Z",
		"one-digit hour":                   "2026-11-20T8:30:00Z",
		"offset of a day":                  "2026-11-20T18:30:00+24:00",
		"offset of 60 minutes":             "2026-11-20T18:30:00+01:60",
		"offset without colon":             "2026-11-20T18:30:00+0100",
		"offset of hours":                  "2026-11-20T18:30:00+01",
		"no offset":                        "2026-11-20T18:30:00",
		"no seconds":                       "2026-11-20T18:30Z",
		"ten decimals":                     "2026-11-20T18:30:00.1234567890Z",
		"no decimals after the dot":        "2026-11-20T18:30:00.Z",
		"a day that is not":                "2026-02-30T00:00:00Z",
		"no leap year":                     "2026-02-29T00:00:00Z",
		"month 0":                          "2026-00-10T00:00:00Z",
		"month 13":                         "2026-13-10T00:00:00Z",
		"day 0":                            "2026-01-00T00:00:00Z",
		"hour 24":                          "2026-11-20T24:00:00Z",
		"minute 60":                        "2026-11-20T18:60:00Z",
		"a date":                           "2026-11-20",
		"something behind":                 "2026-11-20T18:30:00Z!",
		"minus sign of mathematics":        "2026-11-20T18:30:00\u221201:00",
		"the instant that stands for none": "0001-01-01T01:00:00+01:00",
	} {
		if got, err := ParseTime(text); err == nil || got != (Time{}) {
			t.Errorf("%s: ParseTime(%q) = %v, %v, want an error and nothing", name, text, got, err)
		}
	}
}

func TestNewTimeWritesTheInstant(t *testing.T) {
	t.Parallel()
	// Local mean time of Amsterdam until 1937: an offset with seconds in it, which RFC 3339 can't tell.
	was := time.Date(1936, 1, 2, 3, 4, 5, 0, time.FixedZone("", 19*60+32))
	got, err := ParseTime(NewTime(was).String())
	if err != nil || !got.Std().Equal(was) {
		t.Errorf("%v is written and read as %v, %v", was, got, err)
	}
}

func FuzzParseGrams(f *testing.F) {
	for _, s := range []string{"", "0", "0.001", "180.2", "007.500", "1e3", "5.", ".5", "1000000000", "1000000000.001", " 1 ", "18O.2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		g, err := ParseGrams(s)
		if err != nil {
			if g != 0 {
				t.Fatalf("a failed parse of %q returns %d", s, g)
			}
			return
		}
		if again, err := ParseGrams(g.String()); err != nil || again != g {
			t.Fatalf("%q prints %q, which parses to %d, %v", s, g, again, err)
		}
		if s = Trim(s); s == "" {
			return
		}
		if d, err := decimal.NewFromString(s); err != nil || !d.Equal(g.Decimal()) {
			t.Fatalf("%q is %d thousandths, by decimal %s, %v", s, g, d, err)
		}
	})
}

func FuzzParseTime(f *testing.F) {
	for _, s := range []string{"", "1985-04-12T23:20:50.52Z", "1996-12-19T16:39:57-08:00", "1990-12-31T23:59:60Z", "1937-01-01T12:00:27.87+00:20",
		"2026-02-30T00:00:00Z", "2026-11-20T18:30:00,5Z", "0000-01-01T00:00:00+23:59", "9999-12-31T23:59:59.999999999-23:59", "0001-01-01T00:00:00Z"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		at, err := ParseTime(s)
		if err != nil {
			if at != (Time{}) {
				t.Fatalf("a failed parse of %q returns %v", s, at)
			}
			return
		}
		if again, err := ParseTime(at.String()); err != nil || again != at {
			t.Fatalf("%q prints %q, which parses to %v, %v", s, at, again, err)
		}
		if s = Trim(s); s == "" {
			return
		}
		if std, err := time.Parse(time.RFC3339, s); err != nil || !std.Equal(at.Std()) {
			t.Fatalf("%q is %v, by package time %v, %v", s, at, std, err)
		}
		if std, _ := time.Parse(time.RFC3339, s); at.Month() != std.Format("2006-01") || at.Date() != std.Format(time.DateOnly) {
			t.Fatalf("%q falls on %s in %s", s, at.Date(), at.Month())
		}
	})
}

// A day is the same by its count and by its date, on this side of 1970 and on the other.
func TestDays(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		seconds := rapid.Int64Range(-60_000_000_000, 200_000_000_000).Draw(r, "seconds")
		at := NewTime(time.Unix(seconds, 0).In(time.FixedZone("", 60*rapid.IntRange(-1439, 1439).Draw(r, "minutes"))))
		if got := DateOf(at.Day()); got != at.Date() {
			r.Fatalf("%s is on %s by its count, on %s by its date", at, got, at.Date())
		}
	})
}
