package oracle

import (
	"math"
	"math/big"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// microBook writes files of a hand-worked book: name first, then its lines.
func microBook(t *testing.T, files ...string) folder {
	t.Helper()
	dir := t.TempDir()
	for _, file := range append(files, "materials.csv\nmaterial,density_g_cm3,density_u_g_cm3\nPLA,1.24,\nPETG,1.27,\n") {
		name, text, _ := strings.Cut(file, "\n")
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := readFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// expect holds named fields of a record against hand-worked values.
func expect(t *testing.T, record object, want object) {
	t.Helper()
	for _, d := range compare("", decoded(record), want) {
		t.Error(d)
	}
}

func euros(text string) exact {
	r, _ := new(big.Rat).SetString(text)
	return exact{r}
}

const (
	purchasesHeader   = "purchases.csv\nentry,at,spool,material,colour,diameter_mm,net_g,core,tare_g,price,currency,place,from\n"
	weighinsHeader    = "weighins.csv\nentry,at,spool,gross_g,scale,state\n"
	consumptionHeader = "consumption.csv\nentry,at,job,client,printer,spool,part_g,support_g,prime_g,purge_g,outcome,basis\n"
	queueHeader       = "queue.csv\nentry,at,job,client,printer,slot,spool,material,colour,part_g,support_g,prime_g,purge_g,due\n"
)

func TestLabelTare(t *testing.T) {
	f := microBook(t,
		purchasesHeader+",2026-07-01T00:00:00Z,a1,pla,red,1.75,1000,,,24.90,,shelf,\n",
		weighinsHeader+",2026-07-02T00:00:00Z,A1,1200,,\n",
		consumptionHeader+",2026-07-03T00:00:00Z,j,c,p,A1,90,,,10,,\n",
	)
	answer, status := calculate(f, question{command: "stock"})
	if status != 0 {
		t.Error("status", status)
	}
	// u_net^2 = 5/12 + 5/12 + 10^2, E u_k = 100 * 0.03; length by 335.284 m/kg.
	expect(t, answer.(records)[0], object{
		"spool": "A1", "material": "PLA", "tare_from": "label", "tare_g": counted(200000), "net_g": counted(900000), "likely_g": guessed(900),
		"drawn_since_g": counted(100000), "u_g": measure(math.Sqrt(5.0/6 + 100 + 9)), "length_m": measure(301.7552770751238),
		"price_per_g": euros("0.0249"), "value": euros("22.41"), "currency": "EUR", "flags": flags{}, "ended": false,
		"last_weighed": instant(time.Date(2026, 7, 2, 0, 0, 0, 0, time.UTC)),
	})
	answer, _ = calculate(f, question{command: "reconcile"})
	expect(t, answer.(records)[0], object{"measured_g": counted(1000000), "book_g": counted(1000000), "u_g": measure(math.Sqrt(5.0/6 + 100)), "variance_u_g": nil})
}

// The published chain-ladder example (Mack 1999, development year 4), read as grams.
func TestEstimatesOfTheShop(t *testing.T) {
	recorded := []string{"1027.692", "2142.656", "3203.427", "4999.019", "4989.572"}
	drop := []float64{1360.489, 2961.978, 4445.927, 6460.112, 5648.563}
	purchases, weighins, consumption := purchasesHeader, weighinsHeader, consumptionHeader
	for i, c := range recorded {
		id := string(rune('A' + i))
		purchases += ",2026-07-01T00:00:00Z," + id + ",PLA,red,1.75,9000,,0,,,,\n"
		weighins += ",2026-07-02T00:00:00Z," + id + ",9000,,\n,2026-07-04T00:00:00Z," + id + "," + big.NewRat(9000000-int64(math.Round(drop[i]*1000)), 1000).FloatString(3) + ",,\n"
		consumption += ",2026-07-03T00:00:00Z,j,c,p," + id + "," + c + ",,,,,\n"
	}
	f := microBook(t, purchases, weighins, consumption)
	e := buildSpools(f, liveLedgers(f, nil))["A"].estimate
	for _, x := range []struct{ got, want float64 }{{e.k, 1.275919937251}, {math.Sqrt(e.s2), 6.545443909677}, {e.u, 0.051170075072}} {
		if math.Abs(x.got-x.want) > 1e-11 {
			t.Errorf("got %.12f, want %.12f", x.got, x.want)
		}
	}
}

// Normal loss stays with the job, a failed print does not change the price of a
// good gram: the text-book case of 1000 for 20 700.
func TestNormalWasteAndScrap(t *testing.T) {
	f := microBook(t,
		purchasesHeader+",2026-07-01T00:00:00Z,A,PLA,red,1.75,1000,,,20700,,,\n",
		consumptionHeader+",2026-07-03T00:00:00Z,one,c,p,A,900,,,100,finished,\n,2026-07-04T00:00:00Z,two,c,p,A,60,30,,10,failed,\n",
	)
	answer, _ := calculate(f, question{command: "waste", by: "job"})
	rows := answer.(object)["rows"].(records)
	expect(t, rows[0], object{"key": "one", "part_cost": euros("18630"), "purge_cost": euros("2070"), "waste_cost": euros("2070"), "waste_share": measure(0.1)})
	expect(t, rows[1], object{"key": "two", "part_g": counted(0), "scrap_g": counted(100000), "scrap_cost": euros("2070"), "waste_share": measure(1)})
}

func TestRoundingAddsUp(t *testing.T) {
	f := microBook(t,
		purchasesHeader+",2026-07-01T00:00:00Z,A,PLA,red,1.75,3,,,1.00,,,\n",
		consumptionHeader+",2026-07-03T00:00:00Z,j,x,p,A,1,,,,,\n,2026-07-03T00:00:00Z,j,y,p,A,1,,,,,\n,2026-07-03T00:00:00Z,j,z,p,A,,1,,,,\n",
	)
	answer, _ := calculate(f, question{command: "waste"})
	rows := answer.(object)["rows"].(records)
	expect(t, rows[0], object{"key": "x", "part_cost": euros("0.34")})
	expect(t, rows[1], object{"key": "y", "part_cost": euros("0.33")})
	expect(t, rows[2], object{"key": "z", "support_cost": euros("0.33"), "waste_cost": euros("0.33")})
	expect(t, answer.(object)["totals"].(records)[0], object{"part_cost": euros("0.67"), "support_cost": euros("0.33")})
}

func TestVoids(t *testing.T) {
	use := func(entry, grams string) string {
		return entry + ",2026-07-03T00:00:00Z,j,c,p,A," + grams + ",,,,,\n"
	}
	f := microBook(t,
		purchasesHeader+",2026-07-01T00:00:00Z,A,PLA,red,1.75,1000,,,,,,\n",
		consumptionHeader+use("01KA0000000000000000000001", "1")+use("01KA0000000000000000000002", "10")+use("01KA0000000000000000000003", "100")+
			use("01KA0000000000000000000004", "7")+use("01KA0000000000000000000004", "8")+use("01KA0000000000000000000005", "3")+use("01KA0000000000000000000005", "3"),
		"voids.csv\nentry,at,target,why\n"+
			"01KB0000000000000000000001,2026-06-01T00:00:00Z,01KA0000000000000000000001,hides\n"+
			"01KB0000000000000000000002,2026-07-09T00:00:00Z,01KA0000000000000000000002,is itself voided later\n"+
			"01KB0000000000000000000003,2026-07-10T00:00:00Z,01KB0000000000000000000002,\n"+
			"01KB0000000000000000000004,2026-07-08T00:00:00Z,01KB0000000000000000000005,comes too early to reach\n"+
			"01KB0000000000000000000005,2026-07-11T00:00:00Z,01KA0000000000000000000003,\n",
	)
	answer, status := calculate(f, question{command: "stock"})
	if status != 1 {
		t.Error("a conflict, but status", status)
	}
	expect(t, answer.(records)[0], object{"net_g": counted(1000000 - 13000)})
	early := time.Date(2026, 7, 9, 0, 0, 0, 0, time.UTC)
	answer, _ = calculate(f, question{command: "stock", asOf: &early})
	expect(t, answer.(records)[0], object{"net_g": counted(1000000 - 103000)})
}

func TestWoundOff(t *testing.T) {
	f := microBook(t,
		purchasesHeader+",2026-07-01T00:00:00Z,A,PLA,red,1.75,1000,,,20,USD,,\n,2026-07-05T00:00:00Z,B,PLA,red,1.75,250,,,,,,a\n,2026-07-06T00:00:00Z,C,PLA,red,1.75,50,,,,,,B\n",
		weighinsHeader+",2026-07-05T00:00:00Z,A,900,,discarded\n",
	)
	answer, _ := calculate(f, question{command: "stock"})
	list := answer.(records)
	expect(t, list[0], object{"net_g": counted(0), "value": euros("0"), "ended": true, "tare_from": "none"})
	expect(t, list[1], object{"net_g": counted(200000), "price_per_g": euros("0.02"), "value": euros("4"), "currency": "USD", "drawn_since_g": counted(50000)})
	expect(t, list[2], object{"net_g": counted(50000), "value": euros("1"), "currency": "USD", "u_g": measure(0.5)})
}

func TestQueue(t *testing.T) {
	f := microBook(t,
		purchasesHeader+
			",2026-07-01T00:00:00Z,A,PLA,red,1.75,1000,,,,,,\n"+
			",2026-07-02T00:00:00Z,B,PLA,red,1.75,500,,,,,,\n"+
			",2026-07-03T00:00:00Z,C,PLA,blue,1.75,100,,,,,M/2,\n",
		queueHeader+
			",2026-08-01T00:00:00Z,later,c,m,1,,PLA,red,480,,,,\n"+
			",2026-08-02T00:00:00Z,first,c,m,1,,pla,RED,90,,,10,2026-09-01T00:00:00Z\n"+
			",2026-08-02T00:00:00Z,first,c,m,2,,PLA,,102,,,,\n",
		"printers.csv\nprinter,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm\nM,4,,,,,1000\n",
	)
	answer, enough := calculate(f, question{command: "check"})
	if enough != 1 {
		t.Error("status", enough)
	}
	jobs := answer.(object)["jobs"].(records)
	tail := 1.24 * math.Pi * 1.75 * 1.75 / 4
	expect(t, jobs[0], object{"job": "first", "printer": "M", "verdict": "short"})
	needs := jobs[0]["needs"].(records)
	expect(t, needs[0], object{"spool": "B", "spool_from": "chosen", "likely_g": guessed(500), "after_g": guessed(400 - tail), "verdict": "enough", "runs_out_at": nil, "instead": textList{}})
	// C is loaded, and short: of any colour, A would do; B serves the job.
	expect(t, needs[1], object{"spool": "C", "spool_from": "loaded", "u_g": measure(math.Hypot(1, 102*0.03)), "verdict": "short", "runs_out_at": measure((100 - tail) / 102), "instead": textList{"A"}})
	// B has 100 g queued ahead, so A is the least that is enough.
	needs = jobs[1]["needs"].(records)
	expect(t, needs[0], object{"spool": "A", "spool_from": "chosen", "likely_g": guessed(1000), "verdict": "enough"})
}

// An exercise on reorder points, as a book: daily use of mean 5 and sd 2, 3 days
// of lead time, 95 %: 20.697940106 with the exact z.
func TestReorderPoint(t *testing.T) {
	consumption := consumptionHeader
	for i, g := range strings.Fields("3 7 3 7 3 7 3 7 5 7 3 7 3 7 3 7 3") {
		consumption += ",2026-07-" + strconv.Itoa(10+i) + "T12:00:00Z,j,c,p,A," + g + ",,,,,\n"
	}
	f := microBook(t,
		purchasesHeader+",2026-07-10T00:00:00Z,A,PLA,red,1.75,1000,,,,,,\n", consumption,
		queueHeader+",2026-07-11T00:00:00Z,k,c,m,1,,PLA,red,890,,,4,\n",
		"settings.csv\nsetting,value\nlead_days,3\n")
	at := time.Date(2026, 7, 26, 18, 0, 0, 0, time.UTC)
	answer, _ := calculate(f, question{command: "reorder", window: 90, asOf: &at})
	// 915 on hand, 894 queued: 21 free, 0.302 above the point.
	expect(t, answer.(object)["rows"].(records)[0], object{"on_hand_g": guessed(915), "queued_g": counted(894000), "days": 17, "use_days": 17,
		"daily_g": measure(5), "daily_sd_g": measure(2), "reorder_point_g": guessed(20.697940106), "buy_g": guessed(0), "buy_by": "2026-07-26", "cover_days": measure(4.2)})
}

// By hand: 2.006, 0.2, 0.066 and 0.154 are 2.426, rounded to 2.43 by 2.01, 0.20,
// 0.07 and 0.15; the client pays 2.006 and half of 0.42, a quarter of 2.426 if it fails.
func TestQuote(t *testing.T) {
	f := microBook(t,
		purchasesHeader+",2026-07-10T00:00:00Z,A,PLA,red,1.75,1000,,,20,,,\n",
		queueHeader+",2026-07-11T00:00:00Z,k,Mole,m,1,A,,,100.3,10,3.3,7.7,\n",
		"clients.csv\nclient,name,waste_billed,scrap_billed,from\nmole,,0.5,0.25,2026-07-01\nmole,,0,0,2026-08-01\n")
	at := time.Date(2026, 7, 26, 9, 0, 0, 0, time.UTC)
	answer, _ := calculate(f, question{command: "quote", job: "K", asOf: &at})
	expect(t, answer.(object)["needs"].(records)[0], object{"part_cost": euros("2.01"), "support_cost": euros("0.2"), "prime_cost": euros("0.07"), "purge_cost": euros("0.15"), "u_g": measure(3.639)})
	expect(t, answer.(object)["totals"].(records)[0], object{"cost": euros("2.43"), "client_cost": euros("2.22"), "house_cost": euros("0.21"),
		"scrap_cost": euros("2.43"), "scrap_client_cost": euros("0.61"), "scrap_house_cost": euros("1.82"), "low_cost": euros("2.28"), "high_cost": euros("2.57")})
}
