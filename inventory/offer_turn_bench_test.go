package inventory_test

import (
	"fmt"
	"testing"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
	"tarebook/ledger"
)

// Many spools of one kind and jobs that want three of them.
func BenchmarkInTurn(b *testing.B) {
	var rows []string
	for i := range 3000 {
		rows = append(rows, fmt.Sprintf("purchases spool=S%d net_g=%d.%03d tare_g=200 at=1", i, 100+i*7919%900, i*31%1000))
	}
	for i := range 20 {
		rows = append(rows, fmt.Sprintf("queue job=j%d slot=0 material=PLA part_g=%d at=2", i, 2100+17*i))
	}
	book := booktest.Write(b, b.TempDir(), rows)
	for b.Loop() {
		v, err := book.View(ledger.Time{})
		if err != nil {
			b.Fatal(err)
		}
		if _, _, err := inventory.Check(v); err != nil {
			b.Fatal(err)
		}
	}
}
