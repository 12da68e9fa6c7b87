package reports

import (
	"math"
	"strings"
	"testing"
	"time"
)

func TestScale(t *testing.T) {
	t.Parallel()
	// 250 lies a quarter of the way from 0 to 1000: 110 - 0.25 x 100 = 85, for an axis that grows upwards.
	if got := (scale{0, 1000, 110, 10}).at(250); got != 85 {
		t.Errorf("got %g, want 85", got)
	}
	if got := (scale{-5, 5, 0, 40}).at(0); got != 20 {
		t.Errorf("got %g, want 20", got)
	}
}

func TestRoundTicks(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		lo, hi float64
		most   int
		want   string
	}{
		// Heckbert's own example, loose: 105 to 543 is labelled from 100 to 600 by hundreds (from memory).
		{"Heckbert", 105, 543, 6, "100 200 300 400 500 600"},
		{"a kilogram", 0, 1000, 4, "0 500 1000"},          // by 200 there would be 6
		{"a full label", 0, 1000.5, 4, "0 500 1000 1500"}, // the top is never cut off
		{"cents", 0, 0.07, 5, "0 0.02 0.04 0.06 0.08"},    // by 0.01 there would be 8
		{"below 0", -55.7, 180.9, 6, "-100 0 100 200"},    // by 50 there would be 7
		{"one value", 3, 3, 4, "3 3.5 4"},
		{"tenths that are no binary fraction", 0, 0.3, 4, "0 0.1 0.2 0.3"},
		{"big", 0, 9.2e12, 3, "0 5000000000000 10000000000000"},
	} {
		var got []string
		for _, x := range roundTicks(c.lo, c.hi, c.most) {
			got = append(got, tickLabel(x))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
	if n := len(roundTicks(0, math.MaxFloat64/4, 3)); n < 2 {
		t.Errorf("got %d ticks for the largest numbers", n)
	}
}

func TestCalendarTicks(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, from, to string
		most           int
		want           string
	}{
		{"an evening", "2026-11-20T17:20:00+01:00", "2026-11-20T21:00:00+01:00", 5, "18:00 19:00 20:00 21:00"},
		{"two days", "2026-11-20T17:20:00+01:00", "2026-11-22T18:00:00+01:00", 4, "2026-11-21 2026-11-22"},
		{"four days", "2026-11-20T17:20:00+01:00", "2026-11-24T18:00:00+01:00", 5, "2026-11-21 2026-11-22 2026-11-23 2026-11-24"},
		// 2026-11-01 was a Sunday, so Mondays are 2, 9, 16, 23 and 30.
		{"a month of weeks", "2026-11-01T00:00:00Z", "2026-11-30T23:00:00Z", 5, "2026-11-02 2026-11-09 2026-11-16 2026-11-23 2026-11-30"},
		// 2026-11-02 is day 20759 of Unix time; 1970-01-05, a Monday, day 4: 20755 days or 2965 weeks later, an odd number.
		{"every other week", "2026-11-01T00:00:00Z", "2026-11-30T23:00:00Z", 4, "2026-11-09 2026-11-23"},
		{"a summer", "2026-07-05T10:12:00+02:00", "2026-11-09T09:00:00+01:00", 5, "2026-08 2026-09 2026-10 2026-11"},
		{"a year", "2025-11-09T00:00:00Z", "2026-11-09T00:00:00Z", 4, "2026-01 2026-04 2026-07 2026-10"},
		{"three years", "2023-11-08T06:00:00Z", "2026-11-07T06:00:00Z", 5, "2024 2025 2026"},
		{"a long life", "1991-03-01T00:00:00Z", "2026-11-07T06:00:00Z", 5, "2000 2010 2020"},
		{"half an hour", "2026-11-20T17:20:00Z", "2026-11-20T17:50:00Z", 5, ""},
		{"the year 1", "0001-01-01T00:00:00Z", "0001-03-01T00:00:00Z", 4, "0001-01 0001-02 0001-03"},
		{"all years there are", "0000-01-01T00:00:00Z", "9999-12-31T00:00:00Z", 3, "0000 5000"},
	} {
		from, err1 := time.Parse(time.RFC3339, c.from)
		to, err2 := time.Parse(time.RFC3339, c.to)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		var got []string
		for _, tick := range calendarTicks(from, to, c.most) {
			got = append(got, tick.label)
			if tick.at.Before(from) || tick.at.After(to) {
				t.Errorf("%s: %s lies outside", c.name, tick.at)
			}
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}
