package main

import (
	"fmt"
	"strings"
	"time"

	"tarebook/ledger"
)

// dayMeans is what a typed date without a time stands for, and with it whether what is typed lies in the past.
type dayMeans int

const (
	noon     dayMeans = iota // of something that happened: nothing of that day is then wrong by more than half of it
	endOfDay                 // up to which the book is looked at or closed
	dueDay                   // the end of that day; a time of day or yesterday says nothing of what is still to come
)

// local are the ways in which a time may be typed without its offset.
var local = []string{"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04"}

// time reads a typed time: RFC 3339, or local, stored with the offset of this place; 03:20, the last time it was so; yesterday
// 18:30; or a date.
func (a *app) time(what, text string, day dayMeans) (ledger.Time, error) {
	if t, err := ledger.ParseTime(text); err == nil && !t.IsZero() {
		return t, nil
	}
	text = ledger.Trim(text)
	now := a.now()
	if t, ok := wholeTime(text, now.Location()); ok {
		return ledger.NewTime(t), nil
	}
	if t, err := time.ParseInLocation(time.DateOnly, text, now.Location()); err == nil {
		return dayTime(t, now, day), nil
	}
	if day != dueDay {
		if t, ok := pastTime(text, now, day); ok {
			return t, nil
		}
	}
	return ledger.Time{}, fmt.Errorf("%s %q is not a time that exists; write 2026-11-20 18:30, or with its offset 2026-11-20T18:30:00+01:00", what, text)
}

func wholeTime(text string, here *time.Location) (time.Time, bool) {
	for _, layout := range local {
		if len(text) != len(layout) {
			continue
		}
		if t, err := time.ParseInLocation(layout, text, here); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}

// dayTime returns what a date stands for. Noon of today is now where that is not over yet.
func dayTime(date, now time.Time, day dayMeans) ledger.Time {
	if day != noon {
		return ledger.NewTime(date.AddDate(0, 0, 1).Add(-time.Second))
	}
	t := time.Date(date.Year(), date.Month(), date.Day(), 12, 0, 0, 0, date.Location())
	if y, m, d := now.Date(); t.After(now) && date.Equal(time.Date(y, m, d, 0, 0, 0, 0, now.Location())) {
		t = now.Truncate(time.Millisecond)
	}
	return ledger.NewTime(t)
}

// pastTime reads 03:20, yesterday or yesterday 18:30.
func pastTime(text string, now time.Time, day dayMeans) (ledger.Time, bool) {
	y, m, d := now.Date()
	clock, yesterday := text, false
	if first, rest, _ := strings.Cut(strings.ToLower(text), " "); first == "yesterday" {
		clock, yesterday = ledger.Trim(rest), true
		if clock == "" {
			return dayTime(time.Date(y, m, d-1, 0, 0, 0, 0, now.Location()), now, day), true
		}
	}
	c, err := time.Parse("15:04", clock)
	if err != nil {
		return ledger.Time{}, false
	}
	t := time.Date(y, m, d, c.Hour(), c.Minute(), 0, 0, now.Location())
	if yesterday || t.After(now) {
		t = time.Date(y, m, d-1, c.Hour(), c.Minute(), 0, 0, now.Location())
	}
	return ledger.NewTime(t), true
}
