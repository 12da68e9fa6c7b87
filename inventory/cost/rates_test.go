package cost_test

import (
	"testing"

	"tarebook/inventory/booktest"
	"tarebook/inventory/cost"
)

// The latest row on or before the day counts; what a row does not say is all waste and no scrap.
func TestRates(t *testing.T) {
	t.Parallel()
	rates, err := cost.LoadRates(booktest.View(t, `
clients client=Mole waste_billed=0.75 scrap_billed=0.2 from=2026-10-01
clients client=mole waste_billed=0.5 from=2026-01-01
clients client=Quay
clients client=Pier waste_billed=0 scrap_billed=0.125
clients client=Pier waste_billed=0.1 from=2026-03-01
`))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ client, date, waste, scrap string }{
		{"mole", "2025-12-31", "1", "0"},
		{"mole", "2026-01-01", "1/2", "0"},
		{"MOLE", "2026-09-30", "1/2", "0"},
		{"Mole", "2026-10-01", "3/4", "1/5"},
		{"Mole", "2031-01-01", "3/4", "1/5"},
		{"quay", "1999-01-01", "1", "0"},
		{"pier", "2026-02-28", "0", "1/8"},
		{"pier", "2026-03-01", "1/10", "0"},
		{"nobody", "2026-03-01", "1", "0"},
		{"", "2026-03-01", "1", "0"},
	} {
		waste, scrap := rates.On(c.client, c.date)
		if waste.RatString() != c.waste || scrap.RatString() != c.scrap {
			t.Errorf("%s on %s: %s of waste, %s of scrap; want %s and %s", c.client, c.date, waste.RatString(), scrap.RatString(), c.waste, c.scrap)
		}
		waste.SetInt64(9) // what is returned is the caller's own
		scrap.SetInt64(9)
	}
	if waste, scrap := rates.On("quay", "2026-01-01"); waste.RatString() != "1" || scrap.RatString() != "0" {
		t.Errorf("a caller changed the rates to %s and %s", waste, scrap)
	}
}
