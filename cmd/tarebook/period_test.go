package main

import (
	"strings"
	"testing"
)

func TestPeriod(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ month, from, to, first, last, fault string }{
		{"", "", "", "", "", ""},
		{"2026-10", "", "", "2026-10-01", "2026-10-31", ""},
		{"2026-02", "", "", "2026-02-01", "2026-02-28", ""},
		{"2028-02", "", "", "2028-02-01", "2028-02-29", ""},
		{"2026-12", "", "", "2026-12-01", "2026-12-31", ""},
		{"", "2026-10-05", "", "2026-10-05", "", ""},
		{"", "", "2026-10-05", "", "2026-10-05", ""},
		{"", "2026-10-05", "2026-10-05", "2026-10-05", "2026-10-05", ""},
		{"", "2026-10-06", "2026-10-05", "", "", "--from 2026-10-06 lies after --to 2026-10-05"},
		{"2026-10", "2026-10-05", "", "", "", "--month goes without --from and --to"},
		{"2026-13", "", "", "", "", `--month "2026-13" is not a month`},
		{"2026-1", "", "", "", "", `--month "2026-1" is not a month`},
		{"october", "", "", "", "", `--month "october" is not a month`},
		{"", "2026-02-29", "", "", "", `--from "2026-02-29" is not a date that exists`},
		{"", "", "31.10.2026", "", "", `--to "31.10.2026" is not a date that exists`},
	} {
		p := period{c.month, c.from, c.to}
		first, last, err := p.days()
		if first != c.first || last != c.last || !strings.HasPrefix(text(err), c.fault) || (err != nil) != (c.fault != "") {
			t.Errorf("%q, %q, %q: got %q, %q, %v; want %q, %q, %s", c.month, c.from, c.to, first, last, err, c.first, c.last, c.fault)
		}
	}
}

func text(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}
