package ledger

import (
	"fmt"
	"regexp"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A clock that is decoded eight bytes at a time is what parseClock makes of it.
func TestSecondsOfDay(t *testing.T) {
	t.Parallel()
	alike := func(s string) {
		t.Helper()
		seconds, ok := secondsOfDay(s)
		want, _, _, err := parseClock("T" + s + "Z")
		if ok != (err == nil) || ok && seconds != int64(want) {
			t.Errorf("%q: %d, %t; want %d, %v", s, seconds, ok, want, err)
		}
	}
	for second := range 24 * 3600 {
		alike(fmt.Sprintf("%02d:%02d:%02d", second/3600, second/60%60, second%60))
	}
	for at := range len("00:00:00") {
		for b := range 256 {
			s := []byte("23:59:59")
			s[at] = byte(b)
			alike(string(s))
		}
	}
}

// A date that is decoded eight bytes at a time is what parseAnyTime makes of it, each day from the year 1 to 9999 and what is no day.
func TestSecondsOfDate(t *testing.T) {
	t.Parallel()
	alike := func(s string) {
		seconds, ok := secondsOfDate(s)
		want, err := parseAnyTime(s + "T00:00:01Z")
		if ok != (err == nil && s[:4] != "0000") || ok && seconds+1 != want.seconds {
			t.Errorf("%q: %d, %t; want %d, %v", s, seconds, ok, want.seconds-1, err)
		}
	}
	for year := range 10000 {
		for month := range 14 {
			for day := range 33 {
				if year%97 == 0 || day == 0 || day >= 28 {
					alike(fmt.Sprintf("%04d-%02d-%02d", year, month, day))
				}
			}
		}
	}
	for at := range len("0000-00-00") {
		for b := range 256 {
			s := []byte("2024-02-19")
			s[at] = byte(b)
			alike(string(s))
		}
	}
}

// A time that is decoded eight bytes at a time is what parseAnyTime makes of it, and what the time package makes of it.
func TestUsualTime(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		two := func(most int) string { return fmt.Sprintf("%02d", rapid.IntRange(0, most).Draw(t, "number")) }
		s := rapid.SampledFrom([]string{"0000", "0001", "1900", "2024", "2026", "9999"}).Draw(t, "year") + "-" + two(13) + "-" + two(32) + "T" + two(24) + ":" + two(60) + ":" + two(60) +
			rapid.OneOf(rapid.Just("Z"), rapid.StringMatching(`[+-][012][0-9]:[0-6][0-9]`), rapid.StringMatching(`[Z+0-9:.]{0,6}`)).Draw(t, "zone")
		if rapid.Bool().Draw(t, "damaged") {
			at := rapid.IntRange(0, len(s)-1).Draw(t, "at")
			s = s[:at] + string(rapid.Byte().Draw(t, "byte")) + s[at+1:]
		}
		got, ok := usualTime(s)
		want, err := parseAnyTime(s)
		if ok && (err != nil || got != want) {
			t.Fatalf("%q: %+v; parseAnyTime: %+v, %v", s, got, want, err)
		}
		std, failed := time.Parse(time.RFC3339, s)
		_, offset := std.Zone()
		if ok && (failed != nil || std.Unix()-unixYear1 != got.seconds || offset != int(got.offset)) {
			t.Fatalf("%q: %+v; time.Parse: %v, %v", s, got, std, failed)
		}
		if !ok && err == nil && len(s) != len("0000-00-00T00:00:00.0Z") && s[:4] != "0000" && want.nanos == 0 {
			t.Fatalf("%q is not taken for usual", s)
		}
	})
}

// Masses are decoded as ParseGrams decodes them, whatever stands behind them, and plain ones eight bytes at a time.
func TestGramsOfARow(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.StringMatching(`[0-9]{0,12}(\.[0-9]{0,4})?`), rapid.StringMatching(`[0-9. /:a-]{0,6}`)).Draw(t, "text")
		behind := rapid.StringMatching(`(,[0-9.,]{0,9}|\n|\r\n)?`).Draw(t, "behind")
		want, err := ParseGrams(s)
		got, end := gramsOf("1,"+s+behind, 2)
		if (end >= 0) != (err == nil) || err == nil && (got != want || end != 2+len(s)) {
			t.Fatalf("%q before %q: %d, %d; ParseGrams: %d, %v", s, behind, got, end, want, err)
		}
		if plain, _ := regexp.MatchString(`^([0-9]{1,5}(\.[0-9]{1,3})?)?$`, s); plain && len(s) < 8 {
			got, length, ok := shortGrams(eightBytes(s+",.5,9,1.2", 0))
			if !ok || got != want || length != len(s) {
				t.Fatalf("%q: %d, %d, %t, want %d", s, got, length, ok, want)
			}
		}
	})
}
