package main

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"tarebook/samples"
)

// What is gone from a spool and what is left on it add up to what was bought, to the thousandth.
func TestCardAddsUp(t *testing.T) {
	t.Parallel()
	dir := demo(t)
	_, stdout, _ := inside(t, dir, samples.DemoAsOf, "stock", "--format", "json")
	var spools []struct{ Spool string }
	if err := json.Unmarshal([]byte(stdout), &spools); err != nil || len(spools) == 0 {
		t.Fatal(stdout, err)
	}
	for _, s := range spools {
		_, stdout, stderr := inside(t, dir, samples.DemoAsOf, "card", s.Spool, "--format", "json")
		var card struct {
			Lines []struct {
				ChangeG decimal.Decimal `json:"change_g"`
				NetG    decimal.Decimal `json:"net_g"`
			}
			Gone map[string]decimal.Decimal
		}
		if err := json.Unmarshal([]byte(stdout), &card); err != nil || len(card.Lines) == 0 || len(card.Gone) != 5 {
			t.Fatalf("%s: %v %s%s", s.Spool, err, stdout, stderr)
		}
		sum := card.Lines[len(card.Lines)-1].NetG
		for _, g := range card.Gone {
			sum = sum.Add(g)
		}
		if bought := card.Lines[0].ChangeG; !sum.Equal(bought) {
			t.Errorf("%s: gone and left are %s g, bought %s g", s.Spool, sum, bought)
		}
	}
}

// A card names each entry by its handle, however narrow the terminal: void wants it.
func TestNarrowCard(t *testing.T) {
	t.Parallel()
	for _, width := range []int{132, 80, 40} {
		var out, errs bytes.Buffer
		env := environment{stdin: strings.NewReader(""), stdout: &out, stderr: &errs, dir: demo(t), entropy: counting(0), terminal: true, width: width,
			getenv: func(string) string { return "" }, now: func() time.Time { return at(samples.DemoAsOf) }}
		if status := run([]string{"card", "PETG-02"}, env); status != 0 {
			t.Fatal(errs.String())
		}
		for _, handle := range []string{"593P", "RG4Y", "1ZHJ", "FFCN"} {
			if !strings.Contains(out.String(), "\n"+handle+"  ") {
				t.Errorf("%d columns: no %s in\n%s", width, handle, out.String())
			}
		}
	}
}
