package oracle

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

func TestUnfold(t *testing.T) {
	for _, c := range [][2]string{
		{"0", "0"}, {"", ""}, {"0 1 0", "0 1 0"}, {"(1 2 0)x3", "1 2 0 1 2 0 1 2 0"}, {"0 (0 1)x2 1", "0 1 0 1"}, // seams are joined
		{"(0 (1 2)x2 3)x2 4", "0 1 2 1 2 3 0 1 2 1 2 3 4"}, {"(0 1 0)x2", "0 1 0 1 0"}, {"((0)x9 1)x1", "0 1"}, {"10 (2)x2", "10 2"},
	} {
		if got := strings.Join(unfold(c[0]), " "); got != c[1] {
			t.Errorf("%q: got %q, want %q", c[0], got, c[1])
		}
	}
}

// Two tools in turn, 0 1 0 1 0, on one nozzle (ONE) and on two (TWO, a
// candidate, which ends at 100 mm). 100 mm3 of PLA is 0.124 g, at 0.02 a gram
// 0.00248; a prime of 10 mm3 a tenth of that. On ONE 4 loads (4 x 0.00248) and 4
// primes: 0.010912; 4 x 50 s. On TWO no load: 0.000992; 4 x 8 s.
func TestMachinesByHand(t *testing.T) {
	sum := strings.Repeat("ab", 32)
	book := func(printers, sliced, consumption string, more ...string) folder {
		return microBook(t, append(more,
			purchasesHeader+",2026-06-01T00:00:00Z,A,PLA,white,1.75,1000,,,20,,,\n,2026-06-01T00:00:00Z,B,PLA,red,1.75,1000,,,20,,,\n,2026-06-01T00:00:00Z,N,PLA,red,1.75,1000,,,,,,\n",
			"printers.csv\nprinter,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm,hour_cost,price,owned\n"+printers,
			"nozzles.csv\nprinter,nozzle,x_min_mm,x_max_mm,y_min_mm,y_max_mm,z_max_mm,note\nTWO,1,0,100,,,,\n",
			"sliced.csv\nentry,at,file,layers,sequence,boxes,note\n"+sliced,
			"consumption.csv\nentry,at,job,client,printer,spool,part_g,support_g,prime_g,purge_g,outcome,basis,slot,file\n"+consumption)...)
	}
	use := func(at, job, printer, spool, slot string) string {
		return "," + at + "," + job + ",c," + printer + "," + spool + ",5,,,,,," + slot + ",p.gcode 9 " + sum + "\n"
	}
	one := "ONE,4,100,10,8,50,,%s,,\n"
	two := "TWO,1+1,100,10,8,50,,%s,3,0\n"
	sliced := ",2026-06-02T00:00:00Z,x 9 " + sum + ",3,(0 1)x2 0,0 10 60 0 9 1; 1 10 60 0 9 1,\n"
	twice := use("2026-07-01T12:00:00Z", "j", "one", "A", "0") + use("2026-07-01T12:00:00Z", "J", "ONE", "B", "1") +
		use("2026-07-10T14:00:00+02:00", "j", "ONE", "B", "0") + use("2026-07-10T12:00:00Z", "j", "ONE", "A", "1")
	at := time.Date(2026, 7, 20, 12, 0, 0, 0, time.UTC)
	ask := func(f folder, q question) (object, object, object) {
		q.command, q.asOf = "machines", &at
		answer, _ := calculate(f, q)
		o := answer.(object)
		machines := o["machines"].(unordered)
		return o, machines[0], machines[1]
	}

	// Without an hour's cost anywhere.
	o, m1, m2 := ask(book(fmt.Sprintf(one, "")+fmt.Sprintf(two, ""), sliced, twice), question{})
	expect(t, o, object{"from": "2026-07-01", "to": "2026-07-10", "prints": 2, "counted": 2, "priced": 2})
	expect(t, m1, object{"machine": "ONE", "owned": true, "takes": 2, "purge_g": euros("0.992"), "prime_g": euros("0.099"), "waste_cost": euros("0.02"), "cost": euros("0.02"),
		"change_s": euros("400"), "today_cost": euros("0.02"), "today_change_s": euros("400"), "saves_cost": euros("0"), "saves_a_month": euros("0"), "pays_back_months": nil, "price": nil, "currency": "EUR"})
	// 2 x 0.00992 are 0.01984, 0.02; in ten days; 0.0603876 a month; 3 / 0.0603876.
	expect(t, m2, object{"machine": "TWO", "owned": false, "takes": 2, "purge_g": euros("0"), "prime_g": euros("0.099"), "waste_cost": euros("0"), "change_s": euros("64"), "today_cost": euros("0.02"), "today_change_s": euros("400"),
		"saves_cost": euros("0.02"), "saves_change_s": euros("336"), "saves_a_month": euros("0.06"), "price": euros("3"), "pays_back_months": roundly(3 / 0.0603876)})

	// An hour costs 36, so a second 0.01: 2.00 and 0.32 a print.
	f := book(fmt.Sprintf(one, "36")+fmt.Sprintf(two, "36"), sliced, twice)
	o, m1, m2 = ask(f, question{month: "2026-07"})
	expect(t, m1, object{"cost": euros("4.02"), "waste_cost": euros("0.02"), "today_cost": euros("4.02")})
	// 2 x (2.010912 - 0.320992) = 3.37984, of 20 days until today: 5.1436940 a month.
	expect(t, o, object{"from": "2026-07-01", "to": "2026-07-20"})
	expect(t, m2, object{"cost": euros("0.64"), "saves_cost": euros("3.38"), "saves_a_month": euros("5.14"), "pays_back_months": roundly(3 / 5.143694)})
	// From the second print's day to the 14th: 5 days, one print.
	o, _, m2 = ask(f, question{from: "2026-07-10", to: "2026-07-14"})
	expect(t, o, object{"prints": 1, "from": "2026-07-10", "to": "2026-07-14"})
	expect(t, m2, object{"saves_cost": euros("1.69"), "saves_a_month": euros("10.29")}) // 1.68992 x 6.0875

	// The candidate's hour is not known: hours count for neither in its row.
	_, m1, m2 = ask(book(fmt.Sprintf(one, "36")+fmt.Sprintf(two, ""), sliced, twice), question{})
	expect(t, m1, object{"cost": euros("4.02")})
	expect(t, m2, object{"cost": euros("0"), "today_cost": euros("0.02"), "saves_cost": euros("0.02")})

	// It does not reach: 110 mm wide. It takes nothing, and nothing is saved.
	_, m1, m2 = ask(book(fmt.Sprintf(one, "")+fmt.Sprintf(two, ""), strings.ReplaceAll(sliced, "10 60", "10 120"), twice), question{})
	expect(t, m1, object{"takes": 2})
	expect(t, m2, object{"takes": 0, "saves_cost": euros("0"), "saves_a_month": euros("0"), "pays_back_months": nil, "waste_cost": euros("0"), "change_s": euros("0")})

	// Another owned machine is cheaper than the print's own: the candidate, equal to it, saves nothing.
	f = book(fmt.Sprintf(one, "")+"ALSO,1+1,100,10,8,50,,,,1\n"+fmt.Sprintf(two, ""), sliced, twice)
	answer, _ := calculate(f, question{command: "machines", asOf: &at})
	machines := answer.(object)["machines"].(unordered)
	expect(t, machines[1], object{"machine": "ALSO", "saves_cost": euros("0.02"), "saves_change_s": euros("336"), "pays_back_months": nil})
	expect(t, machines[2], object{"machine": "TWO", "saves_cost": euros("0"), "saves_change_s": euros("0")})

	// A spool without a price: counted, not priced.
	o, m1, m2 = ask(book(fmt.Sprintf(one, "36")+fmt.Sprintf(two, "36"), sliced, strings.ReplaceAll(twice, ",B,", ",N,")), question{})
	expect(t, o, object{"counted": 2, "priced": 0})
	expect(t, m1, object{"takes": 2, "purge_g": euros("0.992"), "cost": euros("0"), "change_s": euros("400")})
	expect(t, m2, object{"takes": 2, "cost": euros("0"), "today_change_s": euros("400"), "saves_cost": euros("0"), "saves_change_s": euros("0")})

	// The queue: job, printer and file alone.
	queue := "queue.csv\nentry,at,job,client,printer,slot,spool,material,colour,part_g,support_g,prime_g,purge_g,due,file\n" +
		",2026-07-01T00:00:00Z,k,c,ONE,0,A,,,5,,,,,q 9 " + sum + "\n,2026-07-02T00:00:00Z,k,c,ONE,1,,PLA,red,5,,,,,q 9 " + sum + "\n"
	f = book(fmt.Sprintf(one, "")+fmt.Sprintf(two, ""), sliced, "", queue)
	o, _, m2 = ask(f, question{queued: true})
	expect(t, o, object{"from": nil, "to": nil, "prints": 1, "counted": 1, "priced": 1})
	expect(t, m2, object{"saves_cost": euros("0.01"), "saves_a_month": nil, "pays_back_months": nil})
}

// What is counted: each print spoils in its own way.
func TestPrintsThatCount(t *testing.T) {
	sum := strings.Repeat("cd", 32)
	const at = ",2026-07-01T12:00:00Z,j,c,"
	file := ",p 9 " + sum + "\n"
	whole := at + "M,A,5,,,,,,0" + file + at + "M,B,5,,,,,,1" + file
	for _, c := range []struct {
		name, rows      string
		prints, counted int
	}{
		{"whole", whole, 1, 1},
		{"sum in capitals, other name", strings.ReplaceAll(whole, file, ",q.gcode 12 "+strings.ToUpper(sum)+"\n"), 1, 1},
		{"failed", strings.ReplaceAll(whole, "5,,,,,", "5,,,,failed,"), 0, 0},
		{"no row for tool 1", at + "M,A,5,,,,,,0" + file, 1, 0},
		{"no slot", whole + at + "M,A,5,,,,,," + file, 1, 0},
		{"no file on one: a print of its own", whole + at + "M,A,5,,,,,,0,\n", 2, 1},
		{"unknown printer", strings.ReplaceAll(whole, ",M,", ",X,"), 1, 0},
		{"no printer", strings.ReplaceAll(whole, ",M,", ",,"), 1, 0},
		{"unknown file", strings.ReplaceAll(whole, sum, strings.Repeat("e", 64)), 1, 0},
		{"two spools on a slot", whole + at + "M,C,5,,,,,,1" + file, 1, 0},
		{"twice the same on a slot", whole + at + "M,B,5,,,,,,1" + file, 1, 1},
		{"a spool on two slots", strings.ReplaceAll(whole, ",B,", ",A,"), 1, 0},
		{"a tool outside the sequence", whole + at + "M,C,5,,,,,,7" + file, 1, 1},
		{"more tools than its own printer feeds", strings.ReplaceAll(whole, ",M,", ",SMALL,"), 1, 0},
		{"two moments", whole + strings.ReplaceAll(whole, "T12:00:00Z", "T12:00:01Z"), 2, 2},
		{"one moment on two clocks", strings.Replace(whole, "T12:00:00Z", "T14:00:00+02:00", 1), 1, 1},
	} {
		f := microBook(t,
			purchasesHeader+",2026-06-01T00:00:00Z,A,PLA,,1.75,9,,,1,,,\n,2026-06-01T00:00:00Z,B,PLA,,1.75,9,,,1,,,\n,2026-06-01T00:00:00Z,C,PLA,,1.75,9,,,1,,,\n",
			"printers.csv\nprinter,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm\nM,1+1,,,,,\nSMALL,1,,,,,\n",
			"sliced.csv\nentry,at,file,layers,sequence,boxes,note\n,2026-06-02T00:00:00Z,p 9 "+sum+",3,9 8,,superseded\n,2026-06-03T00:00:00Z,p 9 "+sum+",3,0 1,,\n",
			"consumption.csv\nentry,at,job,client,printer,spool,part_g,support_g,prime_g,purge_g,outcome,basis,slot,file\n"+c.rows)
		now := time.Date(2026, 8, 1, 0, 0, 0, 0, time.UTC)
		answer, _ := calculate(f, question{command: "machines", asOf: &now})
		if o := answer.(object); o["prints"] != c.prints || o["counted"] != c.counted {
			t.Errorf("%s: got %v prints, %v counted; want %d, %d", c.name, o["prints"], o["counted"], c.prints, c.counted)
		}
	}
}

// TestMachines holds the program's answers over random books, once it has taken
// the step; the books must meet each case before.
func TestMachines(t *testing.T) {
	t.Parallel()
	binary := ""
	if machines.on() {
		binary = program(t)
	}
	asked, met := 0, map[string]int{}
	books := eachBook(t, func(dir string, s uint64) {
		g, err := writeMachineBook(dir, s)
		if err != nil {
			t.Fatal(err)
		}
		f := readBook(t, dir)
		for _, q := range machineQuestions(g) {
			want, status := calculate(f, q)
			meetMachines(want.(object), met)
			if binary == "" {
				continue
			}
			got, gotStatus, stderr, err := ask(binary, dir, q.args())
			asked++
			where := fmt.Sprintf("seed %d: tarebook --book %s --format json %q", s, dir, q.args())
			if err != nil || gotStatus != status {
				t.Errorf("%s: %v, status %d, want %d, stderr %q", where, err, gotStatus, status, stderr)
				continue
			}
			for _, d := range compare("", got, want) {
				t.Errorf("%s: %s", where, d)
			}
		}
	})
	for _, c := range []string{"counted", "not counted", "counted without a price", "takes some alone", "takes none", "owned saves", "candidate saves", "pays back", "hours", "queue"} {
		if met[c] < 2 && books >= 100 {
			t.Errorf("%s: met %d times", c, met[c])
		}
	}
	t.Logf("%d books, %d comparisons of machines; %v", books, asked, met)
}

func meetMachines(o object, met map[string]int) {
	note := func(what string, is bool) {
		if is {
			met[what]++
		}
	}
	counted := o["counted"].(int)
	note("counted", counted > 0)
	note("not counted", counted < o["prints"].(int))
	note("counted without a price", o["priced"].(int) < counted)
	for _, m := range o["machines"].(unordered) {
		takes, saves := m["takes"].(int), m["saves_cost"].(exact).Sign() > 0
		note("takes some alone", takes > 0 && takes < counted)
		note("takes none", counted > 0 && takes == 0)
		note("owned saves", saves && m["owned"] == true)
		note("candidate saves", saves && m["owned"] == false)
		note("pays back", m["pays_back_months"] != nil)
		note("hours", m["cost"].(exact).Cmp(m["waste_cost"].(exact).Rat) != 0)
		note("queue", m["saves_a_month"] == nil && takes > 0)
	}
}
