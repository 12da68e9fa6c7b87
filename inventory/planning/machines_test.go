package planning_test

import (
	"fmt"
	"math/big"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// writeMachineBook writes a book of prints of files with 8 tools and so many changes each, on machines of up to 4 nozzles.
func writeMachineBook(tb testing.TB, prints, files, changes int, kinds int) *ledger.View {
	tb.Helper()
	r := rand.New(rand.NewPCG(22, 1))
	dir := tb.TempDir()
	write := func(file, rows string) {
		if err := os.WriteFile(filepath.Join(dir, file), []byte(ledger.Header(file)+rows), 0o666); err != nil {
			tb.Fatal(err)
		}
	}
	write(ledger.SettingsFile, "")
	write(ledger.Materials, "PLA,1.24,0.02,\n")
	printers := ""
	for i, feeds := range []string{"8", "4+4", "1+7", "2+2+4", "2+2+2+2", "1+1+1+5"} {
		printers += fmt.Sprintf("M%d,%s,%d,%d,%d,%d,0,,%d,900,%d\n", i, feeds, 100+30*i, 10+i, 8, 50+i, 1+i, i%2)
	}
	write(ledger.Printers, printers)
	var b strings.Builder
	for i := range kinds {
		fmt.Fprintf(&b, ",2026-01-01T00:00:00Z,S%d,PLA,c%d,,,,1.75,1000,,,%d.5,,,,,,,\n", i, i, 15+i%9)
	}
	write(ledger.Purchases, b.String())
	b.Reset()
	for f := range files {
		tools := []uint8{0, 1, 2, 3, 4, 5, 6, 7}
		for len(tools) <= changes {
			if next := uint8(r.IntN(8)); next != tools[len(tools)-1] {
				tools = append(tools, next)
			}
		}
		fmt.Fprintf(&b, ",2026-01-01T00:00:00Z,f 1 %064x,9,%s,,\n", f, ledger.FoldSequence(tools))
	}
	write(ledger.SlicedFiles, b.String())
	b.Reset()
	for p := range prints {
		at := time.Date(2026, 1, 2, 0, 0, 0, 0, time.UTC).Add(time.Duration(p) * time.Hour).Format(time.RFC3339)
		first := r.IntN(kinds - 8)
		for slot := range 8 {
			fmt.Fprintf(&b, ",%s,job %d,,M1,S%d,5,,,1,,,,%d,f 1 %064x,\n", at, p, first+slot, slot, p%files)
		}
	}
	write(ledger.ConsumptionFile, b.String())
	v, err := (&ledger.Book{Dir: dir}).View(ledger.Time{})
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

// 2,000 prints of 500 changes, each of its own file, on six machines of up to four nozzles.
func BenchmarkMachines(b *testing.B) {
	v := writeMachineBook(b, 2000, 2000, 500, 200)
	var before, after runtime.MemStats
	for b.Loop() {
		runtime.ReadMemStats(&before)
		m, err := planning.ReckonMachines(v, planning.Period{}, ledger.NewTime(time.Date(2026, 11, 28, 0, 0, 0, 0, time.UTC)))
		if err != nil || len(m.Counted) != 2000 {
			b.Fatal(len(m.Counted), err)
		}
		runtime.ReadMemStats(&after)
		b.ReportMetric(float64(after.Sys)/(1<<20), "MB")
	}
}

// Figures of the trade, common practice, no source: 174 changes at 10 to 12 s each take about 33 minutes on a machine that only swaps its
// nozzles, and 1 h 40 min where 54 of them bring other filament to a nozzle in 90 s and the rest are swaps of a few seconds.
func TestMachinesByFiguresOfTheTrade(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	// 136 layers: in each of the 54 with three tools two changes, and what is left of 174 in layers of two.
	tools := []uint8{0}
	for range 58 {
		tools = append(tools, 1, 2, 0)
	}
	sum := strings.Repeat("ab", 32)
	files := map[string]string{
		ledger.SettingsFile: "", ledger.Materials: "PLA,1.24,0.02,\n",
		ledger.Printers:    "SWAPS,1+1+1,0,10,11.4,0,0,,,,\nTWO,1+2,170,10,8,90,0,,,,\n",
		ledger.Purchases:   ",2026-01-01T00:00:00Z,A,PLA,a,,,,1.75,1000,,,20,,,,,,,\n,2026-01-01T00:00:00Z,B,PLA,b,,,,1.75,1000,,,20,,,,,,,\n,2026-01-01T00:00:00Z,C,PLA,c,,,,1.75,1000,,,20,,,,,,,\n",
		ledger.SlicedFiles: ",2026-01-01T00:00:00Z,f 1 " + sum + ",136," + string(ledger.FoldSequence(tools)) + ",,\n",
	}
	for i, spool := range []string{"A", "B", "C"} {
		files[ledger.ConsumptionFile] += fmt.Sprintf(",2026-02-01T00:00:00Z,j,,SWAPS,%s,5,,,,,,,%d,f 1 %s,\n", spool, i, sum)
	}
	for file, rows := range files {
		if err := os.WriteFile(filepath.Join(dir, file), []byte(ledger.Header(file)+rows), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	v, err := (&ledger.Book{Dir: dir}).View(ledger.Time{})
	if err != nil {
		t.Fatal(err)
	}
	m, err := planning.ReckonMachines(v, planning.Period{}, ledger.NewTime(time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)))
	if err != nil || len(m.Counted) != 1 {
		t.Fatal(len(m.Counted), err)
	}
	minutes := func(seconds *big.Rat) float64 {
		s, _ := seconds.Float64()
		return s / 60
	}
	if got := minutes(m.Machines[0].Seconds); got < 31 || got > 35 {
		t.Errorf("174 swaps take %.0f minutes, about 33 by the trade", got)
	}
	// On two nozzles one tool stands alone: 174 changes are 116 swaps, of which the 58 between the two that share load as well.
	if got := minutes(m.Machines[1].Seconds); got < 95 || got > 190 {
		t.Errorf("two nozzles take %.0f minutes, about 100 by the trade", got)
	}
}
