package main

import (
	"encoding/json"
	"testing"

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
