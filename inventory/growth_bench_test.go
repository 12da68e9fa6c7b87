package inventory_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tarebook/inventory"
	"tarebook/ledger"
)

// n needs by n spools: each need looks for a spool, and one that is not enough for others instead. Time grows at most as n log n.
func BenchmarkGrowthNeedsBySpools(b *testing.B) {
	for _, c := range []struct {
		name string
		need func(i int) string // job, client, printer, slot, spool, material, colour, part_g
	}{
		{"a job each", func(i int) string { return fmt.Sprintf("job%d,,P1,%d,,PLA,white,40", i, i) }},
		{"of one job", func(i int) string { return fmt.Sprintf("job,,P1,%d,,PLA,white,40", i) }},
		{"nearly enough", func(i int) string { return fmt.Sprintf("job%d,,P1,%d,,PLA,white,%d", i, i, 900+i%90) }},
		{"far too much", func(i int) string { return fmt.Sprintf("job%d,,P1,%d,,PLA,,5000", i, i) }},
		{"named and short", func(i int) string { return fmt.Sprintf("job%d,,P1,%d,PLA-%06d,,,5000", i, i, i) }},
	} {
		for _, n := range []int{1000, 2000, 4000} {
			b.Run(fmt.Sprintf("%s/%d", c.name, n), func(b *testing.B) {
				dir := b.TempDir()
				var bought, weighed, needs []string
				for i := range n {
					id := func(k int) string { return fmt.Sprintf("01ARZ3NDEKTSV4RRFFQ%07d", k*n+i) }
					const at = "2026-10-01T09:00:00+02:00"
					bought = append(bought, fmt.Sprintf("%s,%s,PLA-%06d,PLA,white,,,,1.75,1000,,148,20,,,P1/%d,,", id(0), at, i, n+i))
					if i%2 == 0 {
						weighed = append(weighed, fmt.Sprintf("%s,%s,PLA-%06d,%d.%03d,,,", id(1), at, i, 900+i*7%240, i*37%1000))
					}
					needs = append(needs, fmt.Sprintf("%s,%s,%s,,,,,,,,", id(2), at, c.need(i)))
				}
				for file, rows := range map[string][]string{ledger.SettingsFile: nil, ledger.Materials: {"PLA,1.24,,"}, ledger.Printers: {"P1,4,160,30,0,90,600,"},
					ledger.Purchases: bought, ledger.Weighins: weighed, ledger.Queue: needs} {
					if err := os.WriteFile(filepath.Join(dir, file), []byte(ledger.Header(file)+strings.Join(rows, "\n")+"\n"), 0o666); err != nil {
						b.Fatal(err)
					}
				}
				book := &ledger.Book{Dir: dir}
				for b.Loop() {
					v, err := book.View(ledger.Time{})
					if err != nil {
						b.Fatal(err)
					}
					if _, _, err := inventory.Check(v); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
