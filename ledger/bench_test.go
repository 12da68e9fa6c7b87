package ledger_test

import (
	"os"
	"path/filepath"
	"testing"

	"tarebook/ledger"
	"tarebook/samples"
)

// sum is the least that a report does with consumption: grams by spool.
type sum struct {
	rows  int
	grams map[string]ledger.Grams
}

func (s *sum) Reset() { s.rows, s.grams = 0, map[string]ledger.Grams{} }

func (s *sum) Add(row *ledger.Consumption) {
	s.rows++
	s.grams[row.Spool] += row.Total() // the key keeps its block alive: one for each spool
}

func benchmarkConsumption(b *testing.B, spools, rows int) {
	dir := filepath.Join(b.TempDir(), "book")
	if err := (samples.Big{Spools: spools, Rows: rows, Seed: 1}).WriteTo(dir); err != nil {
		b.Fatal(err)
	}
	info, err := os.Stat(filepath.Join(dir, ledger.ConsumptionFile))
	if err != nil {
		b.Fatal(err)
	}
	book := &ledger.Book{Dir: dir}
	b.SetBytes(info.Size())
	b.ReportAllocs()
	for b.Loop() {
		v, err := book.View(ledger.Time{})
		if err != nil {
			b.Fatal(err)
		}
		s := &sum{}
		s.Reset()
		if err := v.FoldConsumption(s); err != nil {
			b.Fatal(err)
		}
		if s.rows == 0 || s.rows > rows {
			b.Fatalf("%d rows of %d", s.rows, rows)
		}
	}
	b.ReportMetric(float64(rows)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

func BenchmarkConsumption1e5(b *testing.B) { benchmarkConsumption(b, 500, 100_000) }
func BenchmarkConsumption1e6(b *testing.B) { benchmarkConsumption(b, 5_000, 1_000_000) }
