package inventory_test

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
)

// Areas of the standard normal. NIST/SEMATECH e-Handbook, table 1.3.6.7.1, prints them from 0 to z to five places; the
// full values are computed anew. The margin is z times u: an exact reading, a typed tare of u 2 g, exact estimates.
func TestOdds(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		z       float64
		printed string // from 0 to |z|
		odds    float64
		verdict string
	}{
		{0, "0", 0.5, inventory.Marginal},
		{0.50, "0.19146", 0.691462461274, inventory.Marginal},
		{1.00, "0.34134", 0.841344746069, inventory.Marginal},
		{1.28, "0.39973", 0.899727432046, inventory.Marginal},
		{1.50, "0.43319", 0.933192798731, inventory.Marginal},
		{1.64, "0.44950", 0.949497416526, inventory.Marginal},
		{1.65, "0.45053", 0.950528531966, inventory.Enough},
		{1.88, "0.46995", 0.969945961039, inventory.Enough},
		{1.96, "0.47500", 0.975002104852, inventory.Enough},
		{2.00, "0.47725", 0.977249868052, inventory.Enough},
		{3.00, "0.49865", 0.998650101968, inventory.Enough},
		{-1, "0.34134", 0.158655253931, inventory.Short},
		{-1.96, "0.47500", 0.024997895148, inventory.Short},
	} {
		booktest.Near(t, fmt.Sprintf("odds of %v", c.z), inventory.Odds(c.z*7, 7), c.odds, 1e-9)
		_, jobs := booktest.Check(t, fmt.Sprintf(`
settings setting=estimate_u value=0
purchases at=0 spool=A net_g=1000 tare_g=200
weighins at=1 spool=A gross_g=1200 scale=exact
queue at=2 job=next spool=A part_g=%.3f
`, 1000-2*c.z))
		n := jobs[0].Needs[0]
		booktest.Near(t, fmt.Sprintf("odds of a need at %v", c.z), n.Odds, c.odds, 1e-9)
		if n.Verdict != c.verdict || jobs[0].Verdict != c.verdict {
			t.Errorf("at %v u: %s, want %s", c.z, n.Verdict, c.verdict)
		}
		if part, _ := strconv.ParseFloat(c.printed, 64); part != 0 {
			booktest.Printed(t, "area from 0", math.Abs(n.Odds-0.5), c.printed)
		}
	}
	for _, c := range []struct{ margin, want float64 }{{0, 1}, {1, 1}, {-0.001, 0}} {
		if got := inventory.Odds(c.margin, 0); got != c.want {
			t.Errorf("odds of %v without uncertainty: %v, want %v", c.margin, got, c.want)
		}
	}
}

// One need on spool A, which held 1000 g when it was weighed; k is 1, estimate_u 0.03.
func TestNeed(t *testing.T) {
	t.Parallel()
	const weighed = boughtA + "weighins at=1 spool=A gross_g=1200 scale=exact\n"
	const metre = 2.9825495254960 // g of 1.75 mm PLA: 1.24 * 2.405281875 (the area is geometry)
	u := func(T float64) float64 { return math.Hypot(2, 0.03*T) }
	for _, c := range []struct {
		name, rows              string
		likely, tail, margin, u float64
		verdict                 string
		runsOut                 float64
	}{
		{"enough", weighed + "queue at=2 job=n spool=A part_g=500 support_g=10 prime_g=20 purge_g=70", 1000, 0, 400, u(600), inventory.Enough, 0},
		{"since the weigh-in", weighed + "consumption at=2 job=a spool=A part_g=300\nconsumption at=2 job=b spool=A part_g=200 basis=weighed\nqueue at=3 job=n spool=A part_g=400", 500, 0, 100, u(700), inventory.Enough, 0},
		{"marginal", weighed + "queue at=2 job=n spool=A part_g=1000", 1000, 0, 0, u(1000), inventory.Marginal, 1},
		{"marginal: held within 1", weighed + "queue at=2 job=n spool=A part_g=990", 1000, 0, 10, u(990), inventory.Marginal, 1},
		{"short", weighed + "queue at=2 job=n spool=A part_g=1250", 1000, 0, -250, u(1250), inventory.Short, 0.8},
		{"tail", weighed + "queue at=2 job=n spool=A part_g=1250 printer=long", 1000, metre, -250 - metre, u(1250), inventory.Short, (1000 - metre) / 1250},
		{"no tail on a printer that nobody knows", weighed + "queue at=2 job=n spool=A part_g=1250 printer=Other", 1000, 0, -250, u(1250), inventory.Short, 0.8},
		{"only the tail is left", weighed + "consumption at=2 job=a spool=A part_g=998 basis=weighed\nqueue at=3 job=n spool=A part_g=100 printer=Long", 2, metre, -98 - metre, u(100), inventory.Short, 0},
		{"overdrawn", weighed + "consumption at=2 job=a spool=A part_g=1100 basis=weighed\nqueue at=3 job=n spool=A part_g=100", -100, 0, -200, u(100), inventory.Short, 0},
		{"a need of nothing", weighed + "queue at=2 job=n spool=A", 1000, 0, 1000, 2, inventory.Enough, 0},
		{"a need of nothing on an overdrawn spool", weighed + "consumption at=2 job=a spool=A part_g=1100 basis=weighed\nqueue at=3 job=n spool=A", -100, 0, -100, 2, inventory.Short, 0},
		{"never weighed: the label", "purchases at=0 spool=A net_g=1000\nqueue at=2 job=n spool=A part_g=900", 1000, 0, 100, math.Hypot(10, 27), inventory.Enough, 0},
		{"other odds", "settings setting=enough_odds value=0.5\n" + weighed + "queue at=2 job=n spool=A part_g=1000", 1000, 0, 0, u(1000), inventory.Enough, 0},
		{"an ended spool", weighed + "weighins at=2 spool=A state=discarded\nqueue at=3 job=n spool=A part_g=100", 0, 0, -100, 0, inventory.Short, 0},
		{"an ended spool, a need of nothing", weighed + "weighins at=2 spool=A state=discarded\nqueue at=3 job=n spool=A", 0, 0, 0, 0, inventory.Short, 0},
	} {
		_, jobs := booktest.Check(t, c.rows)
		n := jobs[0].Needs[0]
		if n.Spool == nil || n.From != inventory.SpoolNamed || n.Verdict != c.verdict || jobs[0].Verdict != c.verdict {
			t.Errorf("%s: %s on %v (%s), want %s on A by name", c.name, n.Verdict, n.Spool, n.From, c.verdict)
		}
		booktest.Near(t, c.name+": likely", n.Likely, c.likely, 1e-12)
		booktest.Near(t, c.name+": tail", n.Tail, c.tail, 1e-9)
		booktest.Near(t, c.name+": margin", n.Margin, c.margin, 1e-9)
		booktest.Near(t, c.name+": u", n.U, c.u, 1e-12)
		if n.Verdict != inventory.Enough {
			booktest.Near(t, c.name+": runs out at", n.RunsOut, c.runsOut, 1e-9)
		}
		if n.Spool.Ended && n.Odds != 0 {
			t.Errorf("%s: odds %v, want 0", c.name, n.Odds)
		}
	}
}

// What is queued ahead on the same spool is part of T, with what was estimated since the weigh-in. k 1.1 from two
// intervals that agree, so s = u_k = 0 and the odds turn on k alone.
func TestQueuedAhead(t *testing.T) {
	t.Parallel()
	_, jobs := booktest.Check(t, interval("X", "PLA", 1090)+interval("Y", "PLA", 1090)+boughtA+`
settings setting=min_intervals value=2
weighins at=1 spool=A gross_g=1200
consumption at=2 job=a spool=A part_g=100
consumption at=2 job=b spool=A part_g=40 basis=weighed
queue at=3 job=one spool=A part_g=300
queue at=4 job=two spool=A part_g=200
queue at=5 job=three spool=A part_g=300
queue at=6 job=four spool=A part_g=100
`)
	u := math.Sqrt(5./12 + 4)
	for i, want := range []struct {
		likely, margin float64
		verdict        string
		runsOut        float64
	}{
		{960 - 110, 960 - 110 - 330, inventory.Enough, 0},
		{960 - 440, 960 - 440 - 220, inventory.Enough, 0},
		{960 - 660, 960 - 660 - 330, inventory.Short, 300. / 330},
		{960 - 990, 960 - 990 - 110, inventory.Short, 0},
	} {
		n := jobs[i].Needs[0]
		booktest.Near(t, "likely", n.Likely, want.likely, 1e-9)
		booktest.Near(t, "margin", n.Margin, want.margin, 1e-9)
		booktest.Near(t, "u", n.U, u, 1e-9)
		booktest.Near(t, "runs out at", n.RunsOut, want.runsOut, 1e-9)
		if n.Verdict != want.verdict {
			t.Errorf("%s: %s, want %s", jobs[i].Name, n.Verdict, want.verdict)
		}
	}
}

// told renders a queue as job: slot=spool(from) ... in its order.
func told(jobs []*inventory.Job) string {
	var b strings.Builder
	for i, job := range jobs {
		if i > 0 {
			b.WriteString("; ")
		}
		b.WriteString(job.Name + ":")
		for _, n := range job.Needs {
			spool := "-"
			if n.Spool != nil {
				spool = n.Spool.ID
			}
			fmt.Fprintf(&b, " %s=%s(%s)", n.Slot, spool, n.From)
		}
	}
	return b.String()
}

func TestChoiceOfSpool(t *testing.T) {
	t.Parallel()
	const three = `
purchases at=3 spool=BIG net_g=1000 colour=Black
purchases at=2 spool=MID net_g=500 colour=Black
purchases at=1 spool=LOW net_g=100 colour=black
purchases at=0 spool=RED net_g=300 colour=Red
purchases at=0 spool=PET net_g=200 colour=Black material=PETG
`
	for _, c := range []struct{ name, rows, want string }{
		{"the smallest that is enough", "queue at=9 job=n slot=0 material=pla colour=BLACK part_g=400", "n: 0=MID(chosen)"},
		{"any colour", "queue at=9 job=n slot=0 material=PLA part_g=150", "n: 0=RED(chosen)"},
		{"none is enough", "queue at=9 job=n slot=0 material=PLA colour=Black part_g=999", "n: 0=-(none)"},
		{"no such colour", "queue at=9 job=n slot=0 material=PLA colour=Green part_g=1", "n: 0=-(none)"},
		{"the oldest of two alike", "purchases at=5 spool=AAA net_g=500 colour=Black\nqueue at=9 job=n slot=0 material=PLA colour=Black part_g=400", "n: 0=MID(chosen)"},
		{"the oldest of two alike, the other way", "purchases at=1 spool=ZZZ net_g=500 colour=Black\nqueue at=9 job=n slot=0 material=PLA colour=Black part_g=400", "n: 0=ZZZ(chosen)"},
		{"loaded, even if short", "moves at=4 spool=LOW place=Bench/0\nqueue at=9 job=n slot=0 printer=bench material=PLA colour=Black part_g=400", "n: 0=LOW(loaded)"},
		{"loaded by its purchase's place", "purchases at=4 spool=NEW net_g=100 colour=Black place=bench/T0\nqueue at=9 job=n slot=t0 printer=Bench material=PLA part_g=400", "n: t0=NEW(loaded)"},
		{"loaded with another colour", "moves at=4 spool=RED place=Bench/0\nqueue at=9 job=n slot=0 printer=Bench material=PLA colour=Black part_g=400", "n: 0=MID(chosen)"},
		{"loaded elsewhere", "moves at=4 spool=LOW place=Bench/0\nqueue at=9 job=n slot=0 printer=Long material=PLA colour=Black part_g=400", "n: 0=MID(chosen)"},
		{"in another slot", "moves at=4 spool=LOW place=Bench/0\nqueue at=9 job=n slot=1 printer=Bench material=PLA colour=Black part_g=400", "n: 1=MID(chosen)"},
		{"moved away", "moves at=4 spool=LOW place=Bench/0\nmoves at=5 spool=LOW place=box\nqueue at=9 job=n slot=0 printer=Bench material=PLA colour=Black part_g=400", "n: 0=MID(chosen)"},
		{"the last to come to a slot is there", "moves at=5 spool=LOW place=Bench/0\nmoves at=4 spool=BIG place=Bench/0\nqueue at=9 job=n slot=0 printer=Bench material=PLA colour=Black part_g=400", "n: 0=LOW(loaded)"},
		{"an ended spool has left its slot", "moves at=4 spool=BIG place=Bench/0\nmoves at=5 spool=LOW place=Bench/0\nweighins at=6 spool=LOW state=empty\nqueue at=9 job=n slot=0 printer=Bench material=PLA colour=Black part_g=400", "n: 0=BIG(loaded)"},
		{"an ended spool is never chosen", "weighins at=6 spool=MID state=empty\nqueue at=9 job=n slot=0 material=PLA colour=Black part_g=400", "n: 0=BIG(chosen)"},
		{"named, even if short, and of another material", "queue at=9 job=n slot=0 spool=low material=PETG part_g=400", "n: 0=LOW(named)"},
		{"no spool serves two slots", "queue at=8 job=n slot=0 material=PLA colour=Black part_g=400\nqueue at=9 job=n slot=1 material=PLA colour=Black part_g=400", "n: 0=MID(chosen) 1=BIG(chosen)"},
		{"named before loaded before chosen", `
moves at=4 spool=MID place=Bench/1
queue at=7 job=n slot=0 printer=Bench material=PLA colour=Black part_g=50
queue at=8 job=n slot=1 printer=Bench material=PLA colour=Black part_g=50
queue at=9 job=n slot=2 printer=Bench spool=LOW part_g=50`, "n: 0=BIG(chosen) 1=MID(loaded) 2=LOW(named)"},
		{"named before loaded", "moves at=4 spool=MID place=Bench/0\nqueue at=7 job=n slot=0 printer=Bench material=PLA colour=Black part_g=50\nqueue at=8 job=n slot=1 printer=Bench spool=MID part_g=50", "n: 0=LOW(chosen) 1=MID(named)"},
		{"named twice: the first row has it", "queue at=7 job=n slot=0 spool=MID part_g=50\nqueue at=8 job=n slot=1 spool=MID part_g=50", "n: 0=MID(named) 1=-(none)"},
		{"what an earlier job takes counts", "queue at=7 job=m slot=0 spool=MID part_g=300\nqueue at=9 job=n slot=0 material=PLA colour=Black part_g=400", "m: 0=MID(named); n: 0=BIG(chosen)"},
		{"and makes a spool the smaller one", "queue at=7 job=m slot=0 spool=BIG part_g=600\nqueue at=9 job=n slot=0 material=PLA colour=Black part_g=200", "m: 0=BIG(named); n: 0=BIG(chosen)"},
		{"its own row's printer", "moves at=4 spool=LOW place=Long/1\nqueue at=7 job=n slot=0 printer=Bench spool=MID part_g=50\nqueue at=8 job=n slot=1 printer=Long material=PLA colour=Black part_g=50", "n: 0=MID(named) 1=LOW(loaded)"},
	} {
		_, jobs := booktest.Check(t, three+c.rows)
		if got := told(jobs); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

func TestNoSpool(t *testing.T) {
	t.Parallel()
	_, jobs := booktest.Check(t, "queue at=1 job=n slot=0 material=petg colour=Teal part_g=1")
	n := jobs[0].Needs[0]
	if n.Spool != nil || n.From != inventory.SpoolNone || n.Verdict != inventory.Short || n.Odds != 0 || n.RunsOut != 0 ||
		n.Material != "PETG" || n.Colour != "Teal" || len(n.Instead) != 0 {
		t.Errorf("%+v: want no spool, short, odds 0, at once, PETG as its table has it", n)
	}
}

func TestInstead(t *testing.T) {
	t.Parallel()
	const shelf = `
purchases at=0 spool=A net_g=100 colour=Black
purchases at=1 spool=B net_g=900 colour=Black
purchases at=2 spool=C net_g=700 colour=black
purchases at=3 spool=D net_g=800 colour=Red
purchases at=4 spool=E net_g=300 colour=Black
purchases at=5 spool=F net_g=900 colour=Black material=PETG
`
	for _, c := range []struct{ name, rows, want string }{
		{"least likely net first", "queue at=9 job=n slot=0 spool=A colour=Black part_g=500", "C B"},
		{"any colour where the row has none", "queue at=9 job=n slot=0 spool=A part_g=500", "C D B"},
		{"none when it is enough", "queue at=9 job=n slot=0 spool=B part_g=500", ""},
		{"not those that serve the job", "queue at=9 job=n slot=0 spool=A colour=Black part_g=500\nqueue at=9 job=n slot=1 spool=C part_g=10", "B"},
		{"by what earlier jobs leave", "queue at=8 job=m slot=0 spool=B part_g=300\nqueue at=9 job=n slot=0 spool=A colour=Black part_g=500", "B C"},
		{"of the spool's material, whatever the row says", "queue at=9 job=n slot=0 spool=A material=PETG colour=Black part_g=500", "C B"},
		{"for no spool, nothing that was not enough before", "queue at=9 job=n slot=0 material=PLA colour=Black part_g=950", ""},
		{"no ended one", "weighins at=6 spool=C state=empty\nqueue at=9 job=n slot=0 spool=A colour=Black part_g=500", "B"},
	} {
		_, jobs := booktest.Check(t, shelf+c.rows)
		var got []string
		for _, job := range jobs {
			for _, n := range job.Needs {
				if job.Name == "n" && n.Slot == "0" {
					for _, spool := range n.Instead {
						got = append(got, spool.ID)
					}
				}
			}
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: %v, want %s", c.name, got, c.want)
		}
	}
}

func TestQueueOrder(t *testing.T) {
	t.Parallel()
	const spools = "purchases at=0 spool=A net_g=1000\npurchases at=0 spool=B net_g=1000\n"
	for _, c := range []struct{ name, rows, want string }{
		{"by earliest row", "queue at=2 job=b slot=0 spool=A\nqueue at=1 job=a slot=0 spool=A", "a: 0=A(named); b: 0=A(named)"},
		{"by due, none last", "queue at=1 job=a slot=0 spool=A\nqueue at=2 job=b slot=0 spool=A due=90\nqueue at=3 job=c slot=0 spool=A due=80", "c: 0=A(named); b: 0=A(named); a: 0=A(named)"},
		{"due as an instant", "queue at=1 job=a slot=0 spool=A due=2026-02-01T00:30:00+01:00\nqueue at=2 job=b slot=0 spool=A due=2026-01-31T23:00:00Z", "b: 0=A(named); a: 0=A(named)"},
		{"a job's due is its earliest", "queue at=1 job=a slot=0 spool=A due=85\nqueue at=2 job=b slot=0 spool=A due=90\nqueue at=3 job=b slot=1 spool=B due=80", "b: 0=A(named) 1=B(named); a: 0=A(named)"},
		{"equal dues by earliest row", "queue at=2 job=b slot=0 spool=A due=90\nqueue at=1 job=a slot=0 spool=A due=90", "a: 0=A(named); b: 0=A(named)"},
		{"all of a job before the next, in row order", "queue at=1 job=a slot=9 spool=A\nqueue at=2 job=b slot=0 spool=A\nqueue at=3 job=A slot=1 spool=B", "a: 9=A(named) 1=B(named); b: 0=A(named)"},
		{"a corrected slot keeps its place", "queue at=1 job=a slot=0 spool=A\nqueue at=2 job=a slot=1 spool=A\nqueue at=3 job=b slot=0 spool=A\nqueue at=4 job=A slot=0 spool=B", "a: 0=B(named) 1=A(named); b: 0=A(named)"},
		{"a corrected due counts", "queue at=1 job=a slot=0 spool=A due=80\nqueue at=2 job=b slot=0 spool=A due=90\nqueue at=3 job=a slot=0 spool=A due=95", "b: 0=A(named); a: 0=A(named)"},
		{"blank slots correct nothing", "queue at=1 job=a spool=A\nqueue at=2 job=a spool=B", "a: =A(named) =B(named)"},
		{"a voided correction does not count", "queue at=1 job=a slot=0 spool=A\nqueue at=2 job=a slot=0 spool=B entry=01K00000000000000000000001\nvoids at=3 target=01K00000000000000000000001", "a: 0=A(named)"},
		{"over once finished", "queue at=1 job=a slot=0 spool=A\nqueue at=1 job=b slot=0 spool=A\nconsumption at=0 job=A spool=B part_g=1", "b: 0=A(named)"},
		{"a failed attempt leaves it", "queue at=1 job=a slot=0 spool=A\nconsumption at=2 job=a spool=A part_g=1 outcome=failed", "a: 0=A(named)"},
		{"failed, then finished", "queue at=1 job=a slot=0 spool=A\nconsumption at=2 job=a spool=A part_g=1 outcome=failed\nconsumption at=3 job=a spool=A part_g=1", ""},
		{"an empty queue", "", ""},
	} {
		_, jobs := booktest.Check(t, spools+c.rows)
		if got := told(jobs); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

// The least that a weighing must find for a need to be enough: put on the scale, it is just that.
func TestWanted(t *testing.T) {
	t.Parallel()
	const rows = boughtA + "weighins at=1 spool=A gross_g=%.3f\nqueue at=2 job=m spool=A part_g=100\nqueue at=3 job=n spool=A part_g=700 printer=Long"
	s, jobs := booktest.Check(t, fmt.Sprintf(rows, 900.))
	n := jobs[1].Needs[0]
	if n.Verdict != inventory.Short {
		t.Fatalf("700 g of 600 g: %s", n.Verdict)
	}
	wanted := s.Wanted(n)
	for _, c := range []struct {
		more float64
		want string
	}{{0.001, inventory.Enough}, {-0.001, inventory.Marginal}} {
		_, jobs := booktest.Check(t, fmt.Sprintf(rows, 200+wanted+c.more))
		if got := jobs[1].Needs[0].Verdict; got != c.want {
			t.Errorf("at %.3f g, %v more than wanted: %s, want %s", wanted, c.more, got, c.want)
		}
	}
}

// A job's client, printer and due are told as its first row and its earliest due have them, and names as their table
// spells them, else as the earliest row that counts.
func TestNames(t *testing.T) {
	t.Parallel()
	s, jobs := booktest.Check(t, `
purchases at=1 spool=a-1 net_g=1000 colour=Sea
purchases at=2 spool=B net_g=1000 colour=SEA material=pla
clients client=Harbour
consumption at=0 job=BUOY client=Dock printer=mill spool=A-1 part_g=1 outcome=failed
queue at=3 job=Buoy client=harbour printer=bench slot=0 material=PLA colour=sea part_g=1
queue at=4 job=buoy client=dock printer=MILL slot=1 material=PLA colour=sea part_g=1 due=50
queue at=5 job=next client=dock printer=MILL slot=0 material=PLA part_g=1
`)
	job := jobs[0]
	if job.Name != "BUOY" || job.Client != "Harbour" || job.Printer != "Bench" || job.Due.String() != "2026-01-03T02:00:00Z" {
		t.Errorf("job %q of %q on %q due %s", job.Name, job.Client, job.Printer, job.Due)
	}
	if jobs[1].Client != "Dock" || jobs[1].Printer != "mill" {
		t.Errorf("job of %q on %q, want Dock and mill", jobs[1].Client, jobs[1].Printer)
	}
	if b := s.Spool("b"); b.ID != "B" || b.Colour != "Sea" || b.Material != "PLA" || s.Spools[0].ID != "A-1" {
		t.Errorf("spool %q is %s %s, want B, PLA and Sea", b.ID, b.Material, b.Colour)
	}
}
