package main

import (
	"errors"
	"fmt"
	"time"
)

// period are the flags of a command that tells of a time: whole days, both included, by each row's own offset.
type period struct {
	Month string `group:"When (by each row's own offset)" about:"One calendar month, as 2026-10; else all time." value:"MONTH"`
	From  string `group:"When (by each row's own offset)" about:"First day, as 2026-10-01; else from the beginning." placeholder:"DATE"`
	To    string `group:"When (by each row's own offset)" about:"Last day; else up to the last row." placeholder:"DATE"`
}

// days returns the first and last day asked for; blank for none.
func (p *period) days() (first, last string, err error) {
	if p.Month != "" {
		if p.From != "" || p.To != "" {
			return "", "", errors.New("--month goes without --from and --to")
		}
		t, err := time.Parse("2006-01", p.Month)
		if err != nil {
			return "", "", fmt.Errorf("--month %q is not a month; write it as 2026-10", p.Month)
		}
		return t.Format(time.DateOnly), t.AddDate(0, 1, -1).Format(time.DateOnly), nil
	}
	for _, d := range []struct{ flag, text string }{{"--from", p.From}, {"--to", p.To}} {
		if _, err := time.Parse(time.DateOnly, d.text); d.text != "" && err != nil {
			return "", "", fmt.Errorf("%s %q is not a date that exists; write it as 2026-10-31", d.flag, d.text)
		}
	}
	if p.From != "" && p.To != "" && p.From > p.To {
		return "", "", fmt.Errorf("--from %s lies after --to %s", p.From, p.To)
	}
	return p.From, p.To, nil
}
