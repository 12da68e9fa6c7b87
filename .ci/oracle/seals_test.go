package oracle

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The SHA-256 of hand-written canonical forms.
func TestSealedForms(t *testing.T) {
	f := microBook(t,
		"purchases.csv\nentry,at,spool,material,colour,swatch,maker,lot,diameter_mm,net_g,core,tare_g,price,currency,supplier,place,from,gross_g,scale,note\n"+
			",2026-07-01T00:30:00+01:00,june,PLA,red,,,,1.75,0750.0,,,,,,,,,,\n"+
			",2026-07-02T00:00:00Z,B,PLA,red,,,,1.750,0750.0,,,10.50,,,,,0812.50,kitchen,new\n"+
			",2026-07-02T00:00:00Z,A,PLA,red,,,,1.750,750.100,,0.0,,,,,,,,\n"+
			",2026-07-02T00:00:00Z,A,PLA,red,,,,1.750,750.100,,0.0,,,,,,,,\n"+
			",2026-07-20T00:00:00Z,later,PLA,red,,,,1.750,750,,,,,,,,,,\n",
		"clients.csv\nclient,name,waste_billed,scrap_billed,from,note\nb,,0.50,,2026-08-01,\nb,,1.0,0,,x\n")
	through := time.Date(2026, 7, 19, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		ledger, month string
		spell         func(string, string) string
		want          []string
	}{
		// Equal instants without an entry stand by content: A before B.
		{"purchases.csv", "2026-07", asTyped, []string{
			"purchases.csv||2026-07-02T00:00:00Z|A|PLA|red||||1.750|750.100||0.0||||||", "purchases.csv||2026-07-02T00:00:00Z|B|PLA|red||||1.750|0750.0|||10.50|||||new|gross_g=0812.50|scale=kitchen"}},
		{"purchases.csv", "2026-07", shortest, []string{
			"purchases.csv||2026-07-02T00:00:00Z|A|PLA|red||||1.75|750.1||0||||||", "purchases.csv||2026-07-02T00:00:00Z|B|PLA|red||||1.75|750|||10.5|||||new|gross_g=812.5|scale=kitchen"}},
		{"purchases.csv", "2026-06", shortest, []string{"purchases.csv||2026-07-01T00:30:00+01:00|june|PLA|red||||1.75|750||||||||"}},
		{"clients.csv", "", shortest, []string{"clients.csv|b||1|0||x"}},
	} {
		text := strings.ReplaceAll(strings.Join(c.want, "\n")+"\n", "|", "\x1f")
		_, wantSum := sealed(folder{}, "", "", through, asTyped) // of nothing
		if wantSum != "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855" {
			t.Fatal("the sum of nothing is", wantSum) // FIPS 180-4
		}
		rows, sum := sealed(f, c.ledger, c.month, through, c.spell)
		if rows != len(c.want) || sum != sumOf(text) {
			t.Errorf("%s %s: got %d rows, %s; want %d rows, %s", c.ledger, c.month, rows, sum, len(c.want), sumOf(text))
		}
	}
	for _, c := range [][2]string{{"0750.0", "750"}, {"0.500", "0.5"}, {"000", "0"}, {"100", "100"}, {"10.50", "10.5"}, {"", ""}} {
		if got := shortest("net_g", c[0]); got != c[1] {
			t.Errorf("%q: got %q, want %q", c[0], got, c[1])
		}
	}
	if got := shortest("spool", "007.0"); got != "007.0" {
		t.Errorf("a name was spelt anew: %q", got)
	}
}

// The name of a row that has no entry: its canonical form ends with those of the
// four late columns that are not blank.
func TestNamesOfRowsWithoutEntry(t *testing.T) {
	f := microBook(t,
		"purchases.csv\nat,spool,material,diameter_mm,net_g,gross_g\n2026-07-02T00:00:00Z,a,PLA,1.75,400,612\n2026-07-02T00:00:00Z,b,PLA,1.75,400,\n",
		"consumption.csv\nat,job,spool,part_g,file,slot,note\n2026-07-02T00:00:00Z,j,a,4,x.gcode 9 ab,0,hm\n")
	for _, c := range []struct {
		r    *row
		want string
	}{
		{f["purchases.csv"][0], "purchases.csv||2026-07-02T00:00:00Z|a|PLA|||||1.75|400|||||||||gross_g=612"},
		{f["purchases.csv"][1], "purchases.csv||2026-07-02T00:00:00Z|b|PLA|||||1.75|400||||||||"},
		{f["consumption.csv"][0], "consumption.csv||2026-07-02T00:00:00Z|j|||a|4|||||||hm|slot=0|file=x.gcode 9 ab"},
	} {
		if want := sumOf(strings.ReplaceAll(c.want, "|", "\x1f") + "\n")[:26]; c.r.name() != want {
			t.Errorf("%q: got %s, want %s", c.r.content(), c.r.name(), want)
		}
	}
}

// TestSeals writes seals into random books, true and false ones, and asks verify
// which hold.
func TestSeals(t *testing.T) {
	t.Parallel()
	binary := program(t)
	asked, met := 0, map[bool]int{}
	books := eachBook(t, func(dir string, s uint64) {
		randomBook(t, dir, s)
		f := readBook(t, dir)
		want := writeSeals(t, dir, f, rand.New(rand.NewPCG(s, 11)), met)
		got, status, stderr, err := ask(binary, dir, []string{"verify"})
		if err != nil || status > 1 {
			t.Fatalf("seed %d: %v, status %d, stderr %q", s, err, status, stderr)
		}
		told := map[string]bool{}
		seals, _ := got.(map[string]any)["seals"].([]any)
		for _, item := range seals {
			r, _ := item.(map[string]any)
			told[fmt.Sprint(r["through"], " ", r["ledger"], " ", r["month"])], _ = r["holds"].(bool)
		}
		if !maps.Equal(told, want) {
			t.Errorf("seed %d: tarebook --book %s verify: got seals %v, want %v", s, dir, told, want)
		}
		asked += len(want)
	})
	t.Logf("%d books, %d comparisons of seals; %d hold, %d don't", books, asked, met[true], met[false])
}

// writeSeals seals months of ledgers, one in four of them wrongly, and gives by
// through, ledger and month whether the seal holds. No month is sealed twice: which
// seal counts then is not said.
func writeSeals(t *testing.T, dir string, f folder, r *rand.Rand, met map[bool]int) map[string]bool {
	t.Helper()
	want, sealedBefore := map[string]bool{}, map[string]bool{}
	text := strings.Join(columns["seals.csv"], ",") + "\n"
	ledgers := slices.Clone(ledgerFiles)
	if bills.on() {
		ledgers = append(ledgers, "clients.csv")
	}
	for n := range 1 + r.IntN(8) {
		ledger := ledgers[r.IntN(len(ledgers))]
		month := fmt.Sprintf("2026-%02d", 5+r.IntN(7))
		through := time.Date(2026, time.Month(6+r.IntN(6)), 1+r.IntN(28), 23, 59, 59, 999999999, time.UTC)
		if ledger == "clients.csv" {
			month = ""
		}
		typed := through.Format(time.RFC3339Nano)
		spell := asTyped
		if bench.on() && r.IntN(3) > 0 {
			spell = shortest
		}
		rows, sum := sealed(f, ledger, month, through, spell)
		switch r.IntN(12) {
		case 0:
			rows++
		case 1:
			sum = sumOf("wrong")
		case 2: // of another moment
			_, sum = sealed(f, ledger, month, through.Add(-500*time.Hour), spell)
		}
		seal := &row{file: "seals.csv", cell: map[string]string{"through": typed, "ledger": ledger, "month": month, "rows": strconv.Itoa(rows), "sha256": sum}}
		key := fmt.Sprint(typed, " ", ledger, " ", month)
		if twice := ledger + " " + month; sealedBefore[twice] {
			continue
		} else {
			sealedBefore[twice] = true
		}
		want[key] = holds(f, seal)
		met[want[key]]++
		entry := fmt.Sprintf("01KA%022d", n)
		text += strings.Join([]string{entry, "2026-12-01T00:00:00Z", typed, ledger, month, strconv.Itoa(rows), sum}, ",") + "\n"
	}
	if err := os.WriteFile(filepath.Join(dir, "seals.csv"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return want
}
