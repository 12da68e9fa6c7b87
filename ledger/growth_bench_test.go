package ledger_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tarebook/ledger"
)

// How time grows with a book that somebody made to be slow: each of these is run over n, 2n and 4n, and takes at most n log n.

const grown = "2026-10-01T09:00:00+02:00"

func growthID(n int) string { return fmt.Sprintf("01ARZ3NDEKTSV4RRFFQ%07d", n) }

// growing runs over books of n, 2n and 4n of something; rows returns the rows of the files.
func growing(b *testing.B, rows func(n int) map[string][]string, look func(*ledger.View)) {
	for _, n := range []int{2000, 4000, 8000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			dir := b.TempDir()
			files := map[string][]string{ledger.SettingsFile: {"currency,EUR"}, ledger.Materials: {"PLA,1.24,,"}, ledger.Purchases: nil}
			for file, rows := range rows(n) {
				files[file] = rows
			}
			for file, rows := range files {
				header := ledger.Header(file)
				if len(rows) > 0 && strings.HasPrefix(rows[0], "entry,") {
					header = ""
				}
				if err := os.WriteFile(filepath.Join(dir, file), []byte(header+strings.Join(rows, "\n")+"\n"), 0o666); err != nil {
					b.Fatal(err)
				}
			}
			book := &ledger.Book{Dir: dir}
			b.ReportAllocs()
			for b.Loop() {
				v, err := book.View(ledger.Time{})
				if err != nil {
					b.Fatal(err)
				}
				look(v)
			}
		})
	}
}

// purchasesOf returns purchases of so many spools, each called as name says.
func purchasesOf(n int, material string, name func(i int) string) (rows []string) {
	for i := range n {
		rows = append(rows, fmt.Sprintf("%s,%s,%s,%s,white,,,,1.75,1000,,,20,,,,,", growthID(i), grown, name(i), material))
	}
	return rows
}

func spoolName(i int) string { return fmt.Sprintf("PLA-%06d", i) }

func verifying(v *ledger.View) {
	if _, err := v.Verify(time.Date(2026, 11, 20, 0, 0, 0, 0, time.UTC), nil); err != nil {
		panic(err)
	}
}

func BenchmarkGrowthBoughtAgain(b *testing.B) {
	growing(b, func(n int) map[string][]string {
		return map[string][]string{ledger.Purchases: purchasesOf(n, "PLA", func(int) string { return "PLA-1" })}
	}, func(v *ledger.View) { v.Purchases() })
}

func BenchmarkGrowthUnknownSpools(b *testing.B) {
	growing(b, func(n int) map[string][]string {
		var rows []string
		for i := range n {
			rows = append(rows, fmt.Sprintf("%s,%s,PLB-%06d,900,,,", growthID(n+i), grown, i))
		}
		return map[string][]string{ledger.Purchases: purchasesOf(n, "PLA", spoolName), ledger.Weighins: rows}
	}, verifying)
}

func BenchmarkGrowthUnknownInConsumption(b *testing.B) {
	growing(b, func(n int) map[string][]string {
		var rows []string
		for i := range n {
			rows = append(rows, fmt.Sprintf("%s,%s,job,,,PLB-%06d,9,,,,,,,", growthID(n+i), grown, i))
		}
		return map[string][]string{ledger.Purchases: purchasesOf(n, "PLA", spoolName), ledger.ConsumptionFile: rows}
	}, verifying)
}

func BenchmarkGrowthUnknownMaterials(b *testing.B) {
	growing(b, func(n int) map[string][]string {
		var materials, rows []string
		for i := range n {
			materials = append(materials, fmt.Sprintf("PLA%06d,1.24,,", i))
			rows = append(rows, fmt.Sprintf("%s,%s,%s,PLB%06d,white,,,,1.75,1000,,,20,,,,,", growthID(i), grown, spoolName(i), i))
		}
		return map[string][]string{ledger.Materials: materials, ledger.Purchases: rows}
	}, func(v *ledger.View) { v.Purchases() })
}

func BenchmarkGrowthWideHeader(b *testing.B) {
	growing(b, func(n int) map[string][]string {
		header := "entry,at,spool,place,note"
		for i := range n {
			header += fmt.Sprintf(",mine-%d", i)
		}
		return map[string][]string{ledger.Moves: {header, fmt.Sprintf("%s,%s,PLA-1,shelf", growthID(1), grown)}, ledger.Purchases: purchasesOf(1, "PLA", func(int) string { return "PLA-1" })}
	}, func(v *ledger.View) {
		if _, err := v.Moves(); err != nil {
			panic(err)
		}
	})
}

func BenchmarkGrowthConflicts(b *testing.B) {
	growing(b, func(n int) map[string][]string {
		var rows []string
		for range 2 {
			for i := range n {
				rows = append(rows, fmt.Sprintf("%s,%s,job,,,PLA-1,%d,,,,,,,", growthID(10+i), grown, len(rows)+1))
			}
		}
		return map[string][]string{ledger.Purchases: purchasesOf(1, "PLA", func(int) string { return "PLA-1" }), ledger.ConsumptionFile: rows}
	}, verifying)
}
