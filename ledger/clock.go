package ledger

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// What the clock of a shop cannot have shown. A time far ahead or in the wrong century is a slip of the pen or of a clock that has
// lost its battery, and it would stand first or last in every report.

const (
	firstYear = 1980             // before any filament was printed with
	mostAhead = 24 * time.Hour   // a day in another time zone
	clockSlip = 10 * time.Minute // by which the clocks of two benches may differ; common practice, no source
	timeAhead = "lies more than a day in the future"
)

// CheckTime returns what is wrong with the time of a row: it is before 1980, or more than a day after now. Nil when nothing is.
func CheckTime(at Time, now time.Time) error {
	switch {
	case at.utc().After(now.Add(mostAhead)):
		return errors.New(timeAhead)
	case at.utc().Year() < firstYear:
		return fmt.Errorf("is before %d", firstYear)
	}
	return nil
}

// implausible says what is wrong with the time of a row of the book, and how to mend it; blank when nothing is.
func implausible(h *Head, now time.Time) string {
	err := CheckTime(h.At, now)
	if err == nil {
		return ""
	}
	return fmt.Sprintf("at %s %s; cancel it with: tarebook void --only %s, and record it again", h.At, err, h.Name())
}

// madeAhead says that the entry of a row was made by a clock that is ahead of this one: it passes for the last command, and
// what is recorded after it seems to come before.
func madeAhead(entry string, now time.Time) string {
	when, ok := Made(entry)
	if !ok || !when.After(now.Add(clockSlip)) {
		return ""
	}
	return fmt.Sprintf("entry %s was made at %s, ahead of the clock here, which says %s; set the clock that is wrong",
		strings.ToUpper(entry), when.UTC().Format(time.RFC3339), now.UTC().Format(time.RFC3339))
}
