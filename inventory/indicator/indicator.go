// Package indicator reads a weighing indicator: the lines of text that a scale sends over a serial or USB line.
//
// There is no standard for such lines. What is taken from them is common practice, no source: a number with its unit; the
// letters ST or S S of a reading that is stable, and US, S D or a question mark of one that is not. A scale that marks neither
// is taken to be stable when it says the same twice, or says something and then nothing for half a second (a scale that
// sends on its print key).
//
// How fast the line runs is set outside, by the system's own means for terminals.
package indicator

import (
	"bufio"
	"fmt"
	"io"
	"regexp"
	"strings"
	"sync"
	"time"
)

// A Reading is what one line says.
type Reading struct {
	Number string // digits, with or without a dot
	Unit   string // g or kg
	Stable bool   // the line says that it is
	Moving bool   // the line says that it is not
}

// Compiled when a scale is first read: most commands read none.
var (
	number = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`([+-]?)\s*([0-9]+(?:[.,][0-9]+)?)\s*([A-Za-z]+)`) })
	moving = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^\s*(?i:US|SD|S D|UNSTABLE)\b|\?`) })
	stable = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^\s*(?i:ST|SS|S S|S|STABLE)\b`) })
)

// Parse reads the first number with a unit in a line; ok is false when there is none. It is an error when it is below 0 or
// its unit is no gram.
func Parse(line string) (r Reading, ok bool, err error) {
	m := number().FindStringSubmatch(line)
	if m == nil {
		return r, false, nil
	}
	r = Reading{Number: strings.ReplaceAll(m[2], ",", "."), Unit: strings.ToLower(m[3]), Moving: moving().MatchString(line)}
	if r.Number = strings.TrimLeft(r.Number, "0"); r.Number == "" || r.Number[0] == '.' {
		r.Number = "0" + r.Number
	}
	r.Stable = !r.Moving && stable().MatchString(line)
	if r.Unit != "g" && r.Unit != "kg" {
		return r, true, fmt.Errorf("the scale shows %s; switch it to grams", m[3])
	}
	if m[1] == "-" && strings.Trim(r.Number, "0.") != "" {
		return r, true, fmt.Errorf("the scale shows -%s %s; set it to zero with nothing on it", r.Number, r.Unit)
	}
	return r, true, nil
}

// empty tells whether the reading is of a pan with nothing on it: a few grams at most.
func (r Reading) empty() bool {
	whole, _, _ := strings.Cut(r.Number, ".")
	return r.Unit == "g" && len(whole) == 1 && whole < "5" || r.Unit == "kg" && strings.Trim(whole, "0") == "" && strings.HasPrefix(r.Number+"000", "0.00")
}

const quiet = 500 * time.Millisecond

// A Line reads an indicator line by line.
type Line struct {
	lines chan string
	errs  chan error
}

// Open begins to read; what comes before a reading is asked for is dropped, as it tells of what lay on the scale before.
func Open(r io.Reader) *Line {
	l := &Line{make(chan string, 1), make(chan error, 1)}
	go func() {
		s := bufio.NewScanner(r)
		s.Split(splitLines)
		for s.Scan() {
			if _, ok, _ := Parse(s.Text()); !ok {
				continue
			}
			select { // the newest reading counts
			case <-l.lines:
			default:
			}
			l.lines <- s.Text()
		}
		err := s.Err()
		if err == nil {
			err = io.EOF
		}
		l.errs <- err
	}()
	return l
}

// splitLines ends a line at CR, LF or both, as scales do.
func splitLines(data []byte, atEOF bool) (advance int, token []byte, err error) {
	for i, c := range data {
		if c == '\n' || c == '\r' {
			return i + 1, data[:i], nil
		}
	}
	if atEOF && len(data) > 0 {
		return len(data), data, nil
	}
	return 0, nil, nil
}

// Next waits for a stable reading of something that lies on the scale, which comes after it was called.
func (l *Line) Next(wait time.Duration) (Reading, error) {
	select {
	case <-l.lines:
	default:
	}
	end := time.NewTimer(wait)
	defer end.Stop()
	var candidate *Reading
	var settled <-chan time.Time
	var seen string
	var wrong error
	for {
		select {
		case line := <-l.lines:
			r, _, err := Parse(line)
			seen, wrong = strings.TrimSpace(line), err
			switch {
			case err != nil, r.Moving, r.empty():
				candidate, settled = nil, nil
			case r.Stable, candidate != nil && r == *candidate:
				return r, nil
			default:
				candidate, settled = &r, time.After(quiet)
			}
		case <-settled:
			return *candidate, nil
		case err := <-l.errs:
			l.errs <- err // for the next call too
			return Reading{}, fmt.Errorf("the scale's line has ended: %w", err)
		case <-end.C:
			switch {
			case wrong != nil:
				return Reading{}, wrong
			case seen != "":
				return Reading{}, fmt.Errorf("nothing stable came from the scale within %s; its last line was %q", wait, seen)
			}
			return Reading{}, fmt.Errorf("nothing came from the scale within %s", wait)
		}
	}
}
