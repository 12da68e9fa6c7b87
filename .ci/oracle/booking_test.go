package oracle

import (
	"maps"
	"os/exec"
	"strings"
	"testing"
)

func TestBookInTurn(t *testing.T) {
	f := microBook(t, "settings.csv\nsetting,value\nmin_intervals,2\n",
		purchasesHeader+buyPLA("A", "100")+buyPLA("B", "200")+buyPLA("C", "50")+",2026-07-01T00:00:00Z,D,PLA,red,1.75,70,,,,,,\n",
		weighinsHeader+",2026-07-02T00:00:00Z,D,,,discarded\n")
	spools := buildSpools(f, liveLedgers(f, nil))
	a, b, c, d := spools["A"], spools["B"], spools["C"], spools["D"]
	none, two := func(*spool) float64 { return 0 }, func(*spool) float64 { return 2.0004 }
	for _, x := range []struct {
		name    string
		list    []*spool
		need    masses
		weighed bool
		tail    func(*spool) float64
		k       float64
		want    map[*spool]masses
	}{
		// 100 of 160 g: five eighths of each kind.
		{"pro rata", []*spool{a, b}, masses{120000, 0, 8000, 32000}, false, none, 1, map[*spool]masses{a: {75000, 0, 5000, 20000}, b: {45000, 0, 3000, 12000}}},
		// 97.9996 is 98.000: of 3 x 50 g a third each, 32666.67; the first two kinds have one more.
		{"remainders", []*spool{a, b}, masses{50000, 50000, 50000, 0}, false, two, 1, map[*spool]masses{a: {32667, 32667, 32666, 0}, b: {17333, 17333, 17334, 0}}},
		// Estimates run 1.25 times too low: 80 g of the book are 100 on the scale.
		{"by k", []*spool{a, b}, masses{90000, 0, 0, 0}, false, none, 1.25, map[*spool]masses{a: {80000, 0, 0, 0}, b: {10000, 0, 0, 0}}},
		{"weighed grams are none of k's", []*spool{a, b}, masses{110000, 0, 0, 0}, true, none, 1.25, map[*spool]masses{a: {100000, 0, 0, 0}, b: {10000, 0, 0, 0}}},
		{"three", []*spool{c, a, b}, masses{160000, 0, 0, 0}, false, none, 1, map[*spool]masses{c: {50000, 0, 0, 0}, a: {100000, 0, 0, 0}, b: {10000, 0, 0, 0}}},
		{"not reached", []*spool{b, a}, masses{160000, 0, 0, 0}, false, none, 1, map[*spool]masses{b: {160000, 0, 0, 0}}},
		{"the last that is not ended takes the rest", []*spool{c, a, d}, masses{500000, 0, 0, 0}, false, none, 1, map[*spool]masses{c: {50000, 0, 0, 0}, a: {450000, 0, 0, 0}}},
	} {
		for _, s := range spools {
			s.estimate.k = x.k
		}
		if got := bookInTurn(x.list, x.need, x.weighed, x.tail); !maps.Equal(got, x.want) {
			t.Errorf("%s: got %v, want %v", x.name, got, x.want)
		}
	}
}

// TestBookings lets the program book queued jobs, of one spool or of several in
// turn, and holds the rows that it appends.
func TestBookings(t *testing.T) {
	t.Parallel()
	binary := program(t)
	asked, several, refused := 0, 0, 0
	books := eachBook(t, func(dir string, s uint64) {
		randomBook(t, dir, s)
		for range 3 {
			job, want := wantBooked(t, dir)
			if want == nil {
				break
			}
			asked++
			if len(want) > 1 {
				several++
			}
			if got, why := booked(t, binary, dir, job); why != "" {
				refused++
				t.Logf("seed %d: %s", s, strings.TrimSpace(why))
				break // the next job would be the same
			} else if !maps.Equal(got, want) {
				t.Errorf("seed %d: tarebook --book %s consume %q: booked %v, want %v", s, dir, job, got, want)
			}
		}
	})
	if refused*4 > asked {
		t.Errorf("%d of %d bookings refused", refused, asked)
	}
	t.Logf("%d books, %d comparisons of bookings, %d on several spools, %d refused", books, asked, several, refused)
}

// wantBooked finds the first job that is one need of named spools; nil if there is
// none, or where all its spools have ended.
func wantBooked(t *testing.T, dir string) (job string, want map[string]masses) {
	t.Helper()
	f := readBook(t, dir)
	l := liveLedgers(f, nil)
	spools := buildSpools(f, l)
	_, jobs, _ := check(f, l, spools, shown{})
	for _, j := range jobs {
		n := j.needs[0]
		known := func(file, column string) bool { // what no table has is refused
			return n.get(column) == "" || f.find(file, column, n.get(column)) != nil
		}
		if !known("clients.csv", "client") || !known("printers.csv", "printer") {
			continue
		}
		if len(j.needs) > 1 || n.from != "named" || n.mg == 0 || j.name == "" {
			continue
		}
		need := masses{milligrams(n.get("part_g")), milligrams(n.get("support_g")), milligrams(n.get("prime_g")), milligrams(n.get("purge_g"))}
		want = map[string]masses{}
		for s, m := range bookInTurn(n.spools, need, n.get("basis") == "weighed", n.tailBy(f)) {
			want[s.name] = m
		}
		if len(want) > 0 {
			return j.first.get("job"), want
		}
	}
	return "", nil
}

// booked lets a job be booked, and gives the grams of its new rows by spool.
func booked(t *testing.T, binary, dir, job string) (rows map[string]masses, refused string) {
	t.Helper()
	before := readBook(t, dir)
	cmd := exec.Command(binary, "--book", dir, "consume", job)
	cmd.Env = environment()
	if out, err := cmd.CombinedOutput(); err != nil {
		return nil, string(out)
	}
	after := readBook(t, dir)
	rows = map[string]masses{}
	for _, r := range after["consumption.csv"][len(before["consumption.csv"]):] {
		m := rows[strings.ToUpper(r.get("spool"))]
		for kind, name := range kinds[:4] {
			m[kind] += milligrams(r.get(name + "_g"))
		}
		if m.sum() > 0 {
			rows[strings.ToUpper(r.get("spool"))] = m
		}
	}
	return rows, ""
}
