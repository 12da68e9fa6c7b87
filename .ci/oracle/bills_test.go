package oracle

import (
	"cmp"
	"fmt"
	"math/big"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// A spool of 750 g for 24.90 is 0.0332 a gram: 30.5 g cost 1.0126, the client pays
// half of 12.3 g, 0.40836, and a quarter of the scrap; the rate changes in August.
func TestStatementLines(t *testing.T) {
	t.Setenv("ORACLE_STEPS", "all")
	f := microBook(t,
		purchasesHeader+",2026-07-01T00:00:00Z,A,PLA,red,1.75,750,,,24.90,,,\n,2026-07-01T00:00:00Z,B,PLA,red,1.75,750,,,,,,\n,2026-07-01T00:00:00Z,Y,PLA,red,1.75,3,,,1,JPY,,\n",
		consumptionHeader+
			",2026-07-03T00:00:00Z,Kite,mole,p,A,30.5,,,12.3,,\n"+
			",2026-07-04T00:00:00Z,KITE,Mole,p,A,10,,,,failed,\n"+
			",2026-08-03T00:00:00Z,kite,mole,p,A,,,,12.3,,\n"+
			",2026-08-04T00:00:00Z,kite,mole,p,B,5,,,,,\n"+
			",2026-08-04T00:00:00Z,kite,mole,p,Y,1.5,,,,,\n"+
			",2026-08-05T00:00:00Z,own,,p,A,10,,,,,\n",
		"clients.csv\nclient,name,waste_billed,scrap_billed,from\nmole,,0.50,0.25,2026-07-01\nmole,,1,0,2026-08-01\n")
	l := liveLedgers(f, nil)
	spools := buildSpools(f, l)
	names := showNames(f, l, statementReads)
	got := statement(f, l, spools, names, "MOLE", question{}, func(*row) bool { return true })
	rows := got["rows"].(unordered)
	expect(t, rows[0], object{"job": "Kite", "currency": "EUR", "part_cost": euros("1.01"), "part_bill": euros("1.01"), "purge_cost": euros("0.82"), "purge_bill": euros("0.61"),
		"scrap_cost": euros("0.33"), "scrap_bill": euros("0.08"), "cost": euros("2.16"), "bill": euros("1.70"), "house": euros("0.46"), "unpriced_g": counted(5000)})
	line := func(spool, kind string, mg int64, share string, money ...any) object {
		return object{"spool": spool, "material": "PLA", "colour": "red", "kind": kind, "grams": counted(mg), "share": euros(share), "price_per_g": money[0], "cost": money[1], "billed": money[2]}
	}
	per := euros("0.0332")
	expect(t, rows[0], object{"lines": records{
		line("A", "part", 30500, "1", per, euros("1.01"), euros("1.01")),
		line("A", "purge", 12300, "0.5", per, euros("0.41"), euros("0.20")), // 0.20418
		line("A", "purge", 12300, "1", per, euros("0.41"), euros("0.41")),
		line("A", "scrap", 10000, "0.25", per, euros("0.33"), euros("0.08")), // 0.332, 0.083
		line("B", "part", 5000, "1", nil, nil, nil),
	}})
	// 1.5 g of 1 JPY for 3 g: half a yen, up.
	expect(t, rows[1], object{"currency": "JPY", "bill": euros("1"), "lines": records{line("Y", "part", 1500, "1", euros("0.333333333333"), euros("1"), euros("1"))}})

	// The sum of a bill is of this text.
	text := "kite|A|part|30.500|0.033200000000|1|1.01|1.01\nkite|A|purge|12.300|0.033200000000|0.5|0.41|0.20\nkite|A|purge|12.300|0.033200000000|1|0.41|0.41\n" +
		"kite|A|scrap|10.000|0.033200000000|0.25|0.33|0.08\nkite|B|part|5.000||1||\n"
	billed, lines, sum := billOf(f, l, spools, "mole", "2026-07-01", "2026-08-31", "EUR")
	if billed != "1.70" || lines != 5 || sum != sumOf(strings.ReplaceAll(text, "|", "\x1f")) {
		t.Errorf("got a bill of %s, %d lines, %s", billed, lines, sum)
	}
	if billed, _, _ := billOf(f, l, spools, "mole", "2026-08-01", "2026-08-31", "JPY"); billed != "1" {
		t.Errorf("got a bill of %s JPY", billed)
	}

	// The house: 0.21 of the first purge, 0.25 of the scrap, 0.33 of its own.
	h := house(f, l, spools, names, question{})
	expect(t, h["clients"].(records)[0], object{"client": "", "part_cost": euros("0.33"), "cost": euros("0.33")})
	expect(t, h["clients"].(records)[1], object{"client": "mole", "purge_cost": euros("0.21"), "scrap_cost": euros("0.25"), "cost": euros("0.46")})
}

// Of spools the house's losses are rounded each, away from 0: 1 g for 0.05 is lost
// or found, 0.5 g of it is 0.025.
func TestHouseRoundsAwayFrom0(t *testing.T) {
	t.Setenv("ORACLE_STEPS", "all")
	f := microBook(t,
		purchasesHeader+",2026-07-01T00:00:00Z,A,PLA,red,1.75,100,,0,5,,,\n,2026-07-01T00:00:00Z,B,PLA,red,1.75,100,,0,5,,,\n",
		weighinsHeader+",2026-07-02T00:00:00Z,A,99.5,,\n,2026-07-02T00:00:00Z,B,100.5,,\n,2026-07-03T00:00:00Z,B,,,discarded\n")
	l := liveLedgers(f, nil)
	h := house(f, l, buildSpools(f, l), showNames(f, l, houseReads), question{})
	spools := h["spools"].(records)
	expect(t, spools[0], object{"spool": "A", "lost_g": euros("0.5"), "lost_cost": euros("0.03"), "cost": euros("0.03")})
	expect(t, spools[1], object{"spool": "B", "found_cost": euros("-0.03"), "remainder_g": euros("100.5"), "remainder_cost": euros("5.03"), "cost": euros("5")})
	expect(t, h["totals"].(records)[0], object{"cost": euros("5.03")})
}

// The totals of kinds don't hang on the key. Thirds of 0.01 for three clients: 1 g
// of part each, 1 g of purge of one: 0.01333 in all is 0.01, of part alone 0.01 by
// the largest remainder; the first client by key has it.
func TestWasteByKinds(t *testing.T) {
	t.Setenv("ORACLE_STEPS", "all")
	f := microBook(t,
		"purchases.csv\nentry,at,spool,material,colour,diameter_mm,net_g,core,tare_g,price,currency,place,from,maker,lot\n"+
			",2026-07-01T00:00:00Z,A,PLA,red,1.75,300,,,1,,,,Weaver,L1\n,2026-07-02T00:00:00Z,B,PLA,Blue,1.75,30,,,,,,A,,\n",
		consumptionHeader+",2026-07-03T00:00:00Z,j,x,p,A,1,,,,,\n,2026-07-03T00:00:00Z,k,y,p,A,1,,,1,,\n,2026-07-03T00:00:00Z,l,z,p,B,1,,,,,\n")
	ask := func(q question) (records, records) {
		q.command = "waste"
		answer, _ := calculate(f, q)
		return answer.(object)["rows"].(records), answer.(object)["totals"].(records)
	}
	for _, by := range []string{"client", "spool", "job", "lot", "maker", "colour", "month"} {
		rows, totals := ask(question{by: by})
		expect(t, totals[0], object{"part_cost": euros("0.01"), "purge_cost": euros("0"), "waste_cost": euros("0"), "jobs": 3})
		if want := map[string]int{"client": 3, "spool": 2, "job": 3, "lot": 1, "maker": 1, "colour": 2, "month": 1}[by]; len(rows) != want {
			t.Errorf("%s: got %d rows, want %d", by, len(rows), want)
		}
	}
	rows, _ := ask(question{})
	expect(t, rows[0], object{"key": "x", "part_cost": euros("0.01")})
	expect(t, rows[1], object{"key": "y", "part_cost": euros("0"), "purge_cost": euros("0")})
	// Who had filament of lot L1, wound off or not: all; of spool A: two.
	rows, _ = ask(question{filter: filter{lot: "l1", maker: "WEAVER"}})
	if len(rows) != 3 {
		t.Errorf("lot: got %d rows", len(rows))
	}
	rows, _ = ask(question{by: "job", filter: filter{spool: "a", client: "Y", material: "pla"}})
	if len(rows) != 1 || rows[0]["key"] != "k" {
		t.Errorf("filters: got %v", rows)
	}
	rows, _ = ask(question{by: "colour"})
	expect(t, rows[0], object{"key": "Blue"})
}

// Over random books: a column of waste comes to the same by whatever key, and the
// rows of each table to its totals.
func TestWasteTotalsByAnyKey(t *testing.T) {
	t.Parallel()
	amount := func(x any) *big.Rat {
		if a, ok := x.(about); ok {
			return a.Rat
		}
		return x.(exact).Rat
	}
	for seed := range uint64(40) {
		dir := t.TempDir()
		randomBook(t, dir, seed)
		f := readBook(t, dir)
		first := map[string]*big.Rat{}
		for _, by := range []string{"client", "printer", "material", "colour", "spool", "lot", "maker", "job", "month"} {
			answer, _ := calculate(f, question{command: "waste", by: by})
			sums := map[string]*big.Rat{}
			for _, r := range answer.(object)["rows"].(records) {
				for _, kind := range kinds {
					key := r["currency"].(string) + kind
					sums[key] = ratSum(amount(r[kind+"_cost"]), cmp.Or(sums[key], new(big.Rat)))
				}
			}
			for _, total := range answer.(object)["totals"].(records) {
				for _, kind := range kinds {
					key, x := total["currency"].(string)+kind, amount(total[kind+"_cost"])
					if first[key] == nil {
						first[key] = x
					}
					if x.Cmp(first[key]) != 0 || sums[key].Cmp(x) != 0 {
						t.Errorf("seed %d by %s, %s: total %s, by client %s, rows %s", seed, by, key, x, first[key], sums[key])
					}
				}
			}
		}
	}
}

// TestBills issues bills of random books, some of them wrong. Read again, those
// alone no longer agree, and no bill has what is left; once the program has taken
// the step, verify and statement are asked as well.
func TestBills(t *testing.T) {
	t.Parallel()
	binary := ""
	if bills.on() {
		binary = program(t)
	}
	met := map[string]int{}
	books := eachBook(t, func(dir string, s uint64) {
		randomBook(t, dir, s)
		holdBills(t, dir, s, binary, met)
	})
	for _, c := range []string{"agrees: true", "agrees: false", "later rows", "clients billed in part or whole"} {
		if met[c] < 2 && books >= 100 {
			t.Errorf("%s: met %d times", c, met[c])
		}
	}
	t.Logf("%d books, %d comparisons of bills; %v", books, met["statement"]+met["verify"], met)
}

func holdBills(t *testing.T, dir string, seed uint64, binary string, met map[string]int) {
	t.Helper()
	f := readBook(t, dir)
	l := liveLedgers(f, nil)
	spools := buildSpools(f, l)
	wrong, listed := writeBills(t, dir, f, l, spools, rand.New(rand.NewPCG(seed, 12)), met)
	f = readBook(t, dir)
	l = liveLedgers(f, nil)
	for i, bill := range f["bills.csv"] {
		if is, ok := wrong[strconv.Itoa(i+2)]; ok && is == agrees(f, l, spools, bill) {
			t.Errorf("seed %d: bills.csv:%d as read again agrees: %v", seed, i+2, is)
		}
	}
	for _, client := range listed {
		left := unbilled(f, l, spools, showNames(f, l, statementReads), client)
		all := statement(f, l, spools, showNames(f, l, statementReads), client, question{}, func(*row) bool { return true })
		if len(left["rows"].(unordered)) < len(all["rows"].(unordered)) {
			met["clients billed in part or whole"]++
		}
	}
	if binary == "" {
		return
	}
	where := fmt.Sprintf("seed %d: tarebook --book %s --format json", seed, dir)
	got, status, stderr, err := ask(binary, dir, []string{"verify"})
	if err != nil || status > 1 {
		t.Fatalf("%s verify: %v, status %d, stderr %q", where, err, status, stderr)
	}
	told := map[string]bool{}
	problems, _ := got.(map[string]any)["problems"].([]any)
	for _, item := range problems {
		if r, _ := item.(map[string]any); r["file"] == "bills.csv" {
			told[fmt.Sprint(r["line"])] = true
		}
	}
	met["verify"]++
	for at, is := range wrong {
		if told[at] != is {
			t.Errorf("%s verify: bills.csv:%s is told of: %v, want %v", where, at, told[at], is)
		}
	}
	for _, client := range listed {
		want := unbilled(f, l, spools, showNames(f, l, statementReads), client)
		got, _, stderr, err := ask(binary, dir, []string{"statement", client, "--unbilled"})
		if err != nil {
			t.Fatalf("%s statement %q --unbilled: %v, stderr %q", where, client, err, stderr)
		}
		met["statement"]++
		for _, d := range compare("", got, want) {
			t.Errorf("%s statement %q --unbilled: %s", where, client, d)
		}
	}
}

// writeBills issues bills of listed clients' months, and gives by line whether
// one no longer agrees. Bills with rows that came later are told of, but on
// which line is not said: they are left out.
func writeBills(t *testing.T, dir string, f folder, l *ledgers, spools map[string]*spool, r *rand.Rand, met map[string]int) (wrong map[string]bool, listed []string) {
	t.Helper()
	wrong = map[string]bool{}
	var rows []*row
	for _, client := range f["clients.csv"] {
		if !slices.ContainsFunc(listed, func(name string) bool { return fold(name) == fold(client.get("client")) }) {
			listed = append(listed, client.get("client"))
		}
	}
	for n, client := range listed {
		month := fmt.Sprintf("2026-%02d", 6+r.IntN(6))
		from, to := month+"-01", month+"-30"
		prefix := "01KZ0"
		if r.IntN(3) == 0 { // some rows of the book came later
			prefix = "01KA" + string("0123456789ABCDEFGHJKMNPQRSTVWXYZ"[r.IntN(32)])
		}
		currencies, later := map[string]bool{}, false
		for _, use := range f["consumption.csv"] {
			if s := spools[fold(use.get("spool"))]; s != nil && fold(use.get("client")) == fold(client) && within(use, question{from: from, to: to}) {
				currencies[s.currency] = true
				// also rows that are void or in conflict
				later = later || use.get("entry") > prefix || !slices.Contains(l.live["consumption.csv"], use)
			}
		}
		for _, currency := range []string{"EUR", "JPY", "KWD", "USD", "GBP", "BHD"} {
			if !currencies[currency] {
				continue
			}
			billed, lines, sum := billOf(f, l, spools, client, from, to, currency)
			if lines == 0 {
				continue
			}
			cells := map[string]string{"entry": fmt.Sprintf("%s%021d", prefix, len(rows)), "at": "2026-08-01T00:00:00Z", "bill": "2026-" + strconv.Itoa(n+1), "client": client, "from": from, "to": to,
				"currency": currency, "billed": billed, "lines": strconv.Itoa(lines), "sha256": sum}
			switch r.IntN(9) {
			case 0:
				cells["sha256"] = sumOf("wrong")
			case 1:
				cells["lines"] = strconv.Itoa(lines + 1)
			case 2:
				cells["billed"] = ratSum(rational(billed), count(1)).FloatString(minorDigits(currency))
			}
			bill := &row{file: "bills.csv", cell: cells}
			rows = append(rows, bill)
			if !later {
				is := !agrees(f, l, spools, bill)
				wrong[strconv.Itoa(len(rows)+1)] = is
				met[fmt.Sprint("agrees: ", !is)]++
			} else {
				met["later rows"]++
			}
		}
	}
	text := strings.Join(columns["bills.csv"], ",") + "\n"
	for _, bill := range rows {
		var cells []string
		for _, c := range columns["bills.csv"] {
			cells = append(cells, `"`+strings.ReplaceAll(bill.get(c), `"`, `""`)+`"`)
		}
		text += strings.Join(cells, ",") + "\n"
	}
	if err := os.WriteFile(filepath.Join(dir, "bills.csv"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return wrong, listed
}
