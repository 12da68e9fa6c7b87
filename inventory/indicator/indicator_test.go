package indicator

import (
	"fmt"
	"io"
	"strings"
	"testing"
	"time"
)

// The forms of lines are common practice, no source.
func TestParse(t *testing.T) {
	t.Parallel()
	for line, want := range map[string]string{
		"  812.5 g":         "812.5 g",
		"812.5g":            "812.5 g",
		"+  0812.50 g":      "812.50 g",
		"ST,GS,+00812.5g":   "812.5 g stable",
		"ST,NT,  812.5 g  ": "812.5 g stable",
		"US,GS,+00812.5g":   "812.5 g moving",
		"S S     812.5 g":   "812.5 g stable",
		"S D     812.5 g":   "812.5 g moving",
		"   812.5 g ?":      "812.5 g moving",
		"Net 0.8125 kg":     "0.8125 kg",
		"G  812,5 g":        "812,5 g",
		"No. 17  812 g":     "812 g",
		"12:30 812 g":       "812 g",
		"0.0 g":             "0.0 g",
		"-0.0 g":            "0.0 g",
		"1.79 lb":           "error the scale shows lb",
		"-12.5 g":           "error the scale shows -12.5 g",
		"":                  "none",
		"812.5":             "none",
		"ERR":               "none",
		"\x02812.5 g\x03":   "812.5 g",
	} {
		r, ok, err := Parse(line)
		got := "none"
		switch {
		case err != nil:
			got = "error " + err.Error()
		case ok:
			got = r.Number + " " + r.Unit
			if r.Stable {
				got += " stable"
			}
			if r.Moving {
				got += " moving"
			}
		}
		if !strings.HasPrefix(got, strings.ReplaceAll(want, ",", ".")) && got != want {
			t.Errorf("%q: %s, want %s", line, got, want)
		}
	}
}

func TestNext(t *testing.T) {
	t.Parallel()
	const wait = 2 * time.Second
	for _, c := range []struct{ name, lines, want string }{
		{"a stable line", "US,GS,+00300.0g\r\nST,GS,+00812.5g\r\n", "812.5"},
		{"an empty pan first", "ST,GS,+00000.2g\nST,GS,+00812.5g\n", "812.5"},
		{"the same twice", "300 g\n812.5 g\n812.5 g\n900 g\n900 g\n", "812.5"},
		{"one line and then silence", "812.5 g\r", "812.5"},
		{"an unstable one between", "812.5 g\n812.7 g ?\n812.5 g\nST 813 g\n", "813"},
		{"the wrong unit", "ST,GS,+1.79lb\n", "error the scale shows lb"},
		{"nothing but movement", "US,GS,+00300.0g\n", `error nothing stable came from the scale within 2s; its last line was "US,GS,+00300.0g"`},
		{"nothing", "", "error nothing came from the scale within 2s"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r, w := io.Pipe()
			l := Open(r)
			go func() {
				time.Sleep(100 * time.Millisecond) // after it was asked for
				for line := range strings.SplitAfterSeq(c.lines, "\n") {
					fmt.Fprint(w, line)
					time.Sleep(20 * time.Millisecond)
				}
			}()
			got, err := l.Next(wait)
			text := got.Number
			if err != nil {
				text = "error " + err.Error()
			}
			if !strings.HasPrefix(text, c.want) {
				t.Errorf("%s, want %s", text, c.want)
			}
			w.Close()
		})
	}
}

// What was sent before a reading is asked for tells of what lay there before.
func TestNextDropsWhatIsOld(t *testing.T) {
	t.Parallel()
	r, w := io.Pipe()
	l := Open(r)
	fmt.Fprint(w, "ST,GS,+00300.0g\nST,GS,+00301.0g\n")
	time.Sleep(50 * time.Millisecond)
	go func() {
		time.Sleep(50 * time.Millisecond)
		fmt.Fprint(w, "ST,GS,+00812.5g\n")
		w.Close()
	}()
	if got, err := l.Next(2 * time.Second); err != nil || got.Number != "812.5" {
		t.Errorf("got %+v, %v", got, err)
	}
	for range 2 {
		if _, err := l.Next(time.Second); err == nil || !strings.Contains(err.Error(), "line has ended") {
			t.Errorf("after the end: %v", err)
		}
	}
}
