package reports

import (
	"math"
	"strconv"
	"time"
)

// scale maps values between lo and hi linearly to coordinates of a drawing.
type scale struct{ lo, hi, from, to float64 }

func (s scale) at(x float64) float64 { return s.from + (x-s.lo)/(s.hi-s.lo)*(s.to-s.from) }

// roundTicks returns multiples of 1, 2 or 5 times a power of ten: the finest ones that cover lo to hi with at most most ticks. most is
// at least 3. The first is at or below lo, the last at or above hi (the "loose" labels of P. Heckbert, "Nice numbers for graph
// labels", Graphics Gems, 1990).
func roundTicks(lo, hi float64, most int) (ticks []float64) {
	if !(hi > lo) {
		hi = lo + 1
	}
	most = max(most, 3) // fewer can't cover a range with 0 in it
	for power := math.Floor(math.Log10((hi - lo) / float64(most))); ; power++ {
		for _, m := range []float64{1, 2, 5} {
			multiple := func(i float64) float64 {
				if power < 0 { // dividing by a whole number gives the float that is nearest to the decimal
					return i * m / math.Pow(10, -power)
				}
				return i * m * math.Pow(10, power)
			}
			first, last := math.Floor(lo/multiple(1)), math.Ceil(hi/multiple(1))
			if last-first >= float64(most) {
				continue
			}
			for i := first; i <= last; i++ {
				ticks = append(ticks, multiple(i))
			}
			return ticks
		}
	}
}

// tick is a point of a time axis with its label.
type tick struct {
	at    time.Time
	label string
}

// pace is the step from one tick of a calendar to the next.
type pace struct {
	hours, days, months int
	layout              string
}

var paces = []pace{
	{hours: 1, layout: "15:04"}, {hours: 3, layout: "15:04"}, {hours: 6, layout: "15:04"},
	{days: 1, layout: time.DateOnly}, {days: 7, layout: time.DateOnly}, {days: 14, layout: time.DateOnly},
	{months: 1, layout: "2006-01"}, {months: 2, layout: "2006-01"}, {months: 3, layout: "2006-01"}, {months: 6, layout: "2006-01"},
}

// calendarTicks returns the beginnings of hours, days, weeks (Mondays), months or years between two instants, both included, in the time
// zone of from. It takes the finest of these that gives at most most ticks. Within less than an hour there may be none.
func calendarTicks(from, to time.Time, most int) []tick {
	for _, p := range paces {
		if ticks := p.ticks(from, to, most); len(ticks) <= most {
			return ticks
		}
	}
	for years := 1; ; years *= 10 {
		for _, m := range []int{1, 2, 5} {
			if ticks := (pace{months: 12 * m * years, layout: "2006"}).ticks(from, to, most); len(ticks) <= most {
				return ticks
			}
		}
	}
}

// ticks returns the ticks between two instants, but at most one more than most.
func (p pace) ticks(from, to time.Time, most int) (ticks []tick) {
	y, month, d := from.Date()
	at := time.Date(y, month, d, 0, 0, 0, 0, from.Location())
	switch {
	case p.days > 1: // back to a Monday; every other one is counted from a fixed one, so that it does not hang on from
		day := int(time.Date(y, month, d, 0, 0, 0, 0, time.UTC).Unix()/86400) - 4 // 1970-01-05 was a Monday
		at = at.AddDate(0, 0, -((day%p.days + p.days) % p.days))
	case p.months > 0:
		n := y*12 + int(month) - 1
		n -= (n%p.months + p.months) % p.months
		at = time.Date(0, time.Month(n+1), 1, 0, 0, 0, 0, from.Location())
	}
	for len(ticks) <= most && !at.After(to) {
		if !at.Before(from) {
			ticks = append(ticks, tick{at, at.Format(p.layout)})
		}
		at = at.AddDate(0, p.months, p.days).Add(time.Duration(p.hours) * time.Hour)
	}
	return ticks
}

// tickLabel formats the number of a tick with as few digits as possible.
func tickLabel(x float64) string { return noMinusZero(strconv.FormatFloat(x, 'f', -1, 64)) }
