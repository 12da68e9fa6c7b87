package ledger

import (
	"fmt"
	"regexp"
	"testing"

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

// A date that is decoded eight bytes at a time is what ParseTime makes of it, each day from the year 1 to 9999 and what is no day.
func TestSecondsOfDate(t *testing.T) {
	t.Parallel()
	alike := func(s string) {
		seconds, ok := secondsOfDate(s)
		want, err := ParseTime(s + "T00:00:01Z")
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
			got, length, ok := plainGrams(eightBytes(s+",.5,9,1.2", 0))
			if !ok || got != want || length != len(s) {
				t.Fatalf("%q: %d, %d, %t, want %d", s, got, length, ok, want)
			}
		}
	})
}
