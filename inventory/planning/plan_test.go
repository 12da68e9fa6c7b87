package planning_test

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
	"testing"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
	"tarebook/inventory/planning"
	"tarebook/ledger"
)

// planned makes plans on a book; loads are SLOT=SPOOL or SLOT=MATERIAL/COLOUR, steps the slots in order, each use of 10 g.
func planned(t *testing.T, text, steps string, o planning.Options, loads ...string) *planning.Plans {
	t.Helper()
	v := booktest.View(t, text)
	shelf, err := inventory.Load(v)
	if err != nil {
		t.Fatal(err)
	}
	print, err := planning.ReadSequence(strings.NewReader("slot,grams\n"+strings.ReplaceAll(steps, " ", ",10\n")+",10\n"), "the test")
	if err != nil {
		t.Fatal(err)
	}
	var on []planning.SlotLoad
	for _, load := range loads {
		slot, target, _ := strings.Cut(load, "=")
		l := planning.SlotLoad{Slot: slot}
		if material, colour, any := strings.Cut(target, "/"); any {
			l.Material, l.Colour, l.Filament = material, colour, shelf.Stock(material, 1.75)
		} else {
			l.Spool = shelf.Spool(target)
			l.Material, l.Colour, l.Filament = l.Spool.Material, l.Spool.Colour, l.Spool.Filament
		}
		on = append(on, l)
	}
	if err := print.Load(on); err != nil {
		t.Fatal(err)
	}
	if o.Printers, err = v.PrintersInOrder(); err != nil {
		t.Fatal(err)
	}
	if o.Purges, err = v.Purges(); err != nil {
		t.Fatal(err)
	}
	plans, err := planning.Plan(shelf, print, o)
	if err != nil {
		t.Fatal(err)
	}
	return plans
}

// said tells plans as printer: slots by nozzle, what decided.
func said(plans *planning.Plans) string {
	var b strings.Builder
	for _, m := range plans.Printers {
		fmt.Fprintf(&b, "%s:", m.Printer.Printer)
		if m.Plan == nil {
			fmt.Fprintf(&b, " %s\n", m.Why)
			continue
		}
		for i, spool := range plans.Spools {
			id := "-"
			if spool != nil {
				id = spool.ID
			}
			fmt.Fprintf(&b, " %s@%d", id, m.Nozzle[i]+1)
		}
		fmt.Fprintf(&b, " %s\n", m.Decided)
	}
	return b.String()
}

const machines = `
printers printer=One feeds=4 purge_mm3=200 prime_mm3=20 load_s=60
printers printer=Two feeds=1+4 purge_mm3=200 prime_mm3=20 swap_s=10 load_s=60
printers printer=Four feeds=1+1+1+1 prime_mm3=20 swap_s=10
`

// A slot that names no spool is given the smallest that is enough for part, support and prime; the prime is that of the printer which
// lays most, here 2 changes of 20 mm3, 0.0496 g.
func TestPlanResolves(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, book, want string
	}{
		{"the smallest", "purchases at=0 spool=A colour=red net_g=500\npurchases at=0 spool=B colour=red net_g=100\n", "B"},
		{"one that is not enough is passed over", "purchases at=0 spool=A colour=red net_g=500\npurchases at=0 spool=B colour=red net_g=20.049\n", "A"},
		{"one that just is: its label is taken as sure", "settings setting=label_u value=0\nsettings setting=estimate_u value=0\npurchases at=0 spool=A colour=red net_g=500\npurchases at=0 spool=B colour=red net_g=20.05\n", "B"},
		{"one that just is not", "settings setting=label_u value=0\nsettings setting=estimate_u value=0\npurchases at=0 spool=A colour=red net_g=500\npurchases at=0 spool=B colour=red net_g=20.049\n", "A"},
		{"where it stands does not matter", "purchases at=0 spool=A colour=red net_g=500 place=Two/a\npurchases at=0 spool=B colour=red net_g=100\n", "B"},
		{"ended", "purchases at=0 spool=A colour=red net_g=500\npurchases at=0 spool=B colour=red net_g=100\nweighins at=1 spool=B state=discarded\n", "A"},
		{"none", "purchases at=0 spool=A colour=blue net_g=500\n", "-"},
		{"one that another slot names", "purchases at=0 spool=A colour=red net_g=500\n", "-"},
	} {
		other := "purchases at=0 spool=W colour=white net_g=900\n"
		load := "b=W"
		if strings.HasPrefix(c.name, "one that another") {
			load = "b=A"
		}
		plans := planned(t, machines+"printers printer=Dry feeds=4\n"+other+c.book, "b a b a", planning.Options{}, load, "a=pla/RED")
		got := "-"
		if plans.Spools[1] != nil {
			got = plans.Spools[1].ID
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
		if c.want == "-" && (plans.Priced || len(plans.Best().Short) != 1) {
			t.Errorf("%s: priced %t, short %v; want grams and the slot without a spool", c.name, plans.Priced, plans.Best().Short)
		}
	}
}

func TestPlanCompares(t *testing.T) {
	t.Parallel()
	const spools = `
purchases at=0 spool=A colour=white net_g=1000 price=20
purchases at=0 spool=B colour=black net_g=1000 price=40
purchases at=0 spool=C colour=red net_g=1000 price=20
`
	for _, c := range []struct {
		name, book, steps string
		loads             []string
		want              string
	}{
		{"least waste first", machines + spools, "a b a c a b a c a b a c", []string{"a=A", "b=B", "c=C"},
			"Four: A@1 B@2 C@3 waste\nTwo: A@2 B@1 C@2 waste\nOne: A@1 B@1 C@1 waste\n"},
		{"equal: the order of the table", "printers printer=Second feeds=4\nprinters printer=First feeds=4\n" + spools, "a b", []string{"a=A", "b=B"},
			"Second: A@1 B@1 \nFirst: A@1 B@1 \n"},
		{"equal waste: less time", "printers printer=Slow feeds=4 load_s=9\nprinters printer=Fast feeds=4 load_s=8\n" + spools, "a b", []string{"a=A", "b=B"},
			"Fast: A@1 B@1 time\nSlow: A@1 B@1 time\n"},
		{"not possible comes last", "printers printer=Small feeds=1+1\nprinters printer=Big feeds=4 purge_mm3=900\n" + spools, "a b c", []string{"a=A", "b=B", "c=C"},
			"Big: A@1 B@1 C@1 \nSmall: 3 slots, 2 feeds in all\n"},
		// 11 loads of 300 mm3 of PLA at 0.02 a gram are 0.08; 110 s of swaps at 36 an hour are 1.10.
		{"an hour that costs", "printers printer=Flush feeds=4 purge_mm3=300 hour_cost=0.1\nprinters printer=Swap feeds=1+1 swap_s=10 hour_cost=36\n" + spools, "a b a b a b a b a b a b", []string{"a=A", "b=B"},
			"Flush: A@1 B@1 waste\nSwap: A@1 B@2 waste\n"},
		{"an hour whose cost one printer lacks", "printers printer=Flush feeds=4 purge_mm3=300\nprinters printer=Swap feeds=1+1 swap_s=10 hour_cost=36\n" + spools, "a b a b a b a b a b a b", []string{"a=A", "b=B"},
			"Swap: A@1 B@2 waste\nFlush: A@1 B@1 waste\n"},
		{"an hour in another currency than the spools", "settings setting=currency value=USD\nprinters printer=Flush feeds=4 purge_mm3=300 hour_cost=0.1\nprinters printer=Swap feeds=1+1 swap_s=10 hour_cost=36\n" +
			strings.ReplaceAll(spools, "price", "currency=EUR price"), "a b a b a b a b a b a b", []string{"a=A", "b=B"},
			"Swap: A@1 B@2 waste\nFlush: A@1 B@1 waste\n"},
		// Whichever is alone, the others are loaded 3 times. In money the dear one goes alone; in grams the one with fewer swaps.
		{"dear and cheap", machines + spools, "a c b a c b", []string{"a=A", "b=B", "c=C"},
			"Four: A@1 C@2 B@3 waste\nTwo: A@2 C@2 B@1 waste\nOne: A@1 C@1 B@1 waste\n"},
		{"a price missing: grams", machines + spools + "purchases at=0 spool=D colour=blue net_g=1000\n", "a d b a d b", []string{"a=A", "b=B", "d=D"},
			"Four: A@1 D@2 B@3 waste\nTwo: A@1 D@2 B@2 waste\nOne: A@1 D@1 B@1 waste\n"},
	} {
		if got := said(planned(t, c.book, c.steps, planning.Options{}, c.loads...)); got != c.want {
			t.Errorf("%s:\n%swant\n%s", c.name, got, c.want)
		}
	}
}

// The row with most columns that are no * counts; of equals one that names the printer, then one that names the colour to come.
func TestPairPurges(t *testing.T) {
	t.Parallel()
	const spools = "printers printer=P feeds=2 purge_mm3=7\npurchases at=0 spool=A colour=white net_g=1000\npurchases at=0 spool=B colour=black net_g=1000\n"
	for _, c := range []struct {
		name, rows string
		want       int64 // mm3 from white to black
	}{
		{"none", "", 7},
		{"other printer, other colours", "purges printer=Q from_colour=white to_colour=black purge_mm3=1\npurges printer=P from_colour=black to_colour=white purge_mm3=2\n", 7},
		{"any at all", "purges printer=* from_colour=* to_colour=* purge_mm3=1\n", 1},
		{"nothing flushed is something said", "purges printer=P from_colour=WHITE to_colour=* purge_mm3=0\n", 0},
		{"two names beat one", "purges printer=P from_colour=* to_colour=* purge_mm3=1\npurges printer=* from_colour=white to_colour=black purge_mm3=2\n", 2},
		{"the printer beats a colour", "purges printer=* from_colour=* to_colour=black purge_mm3=1\npurges printer=p from_colour=* to_colour=* purge_mm3=2\n", 2},
		{"printer and a colour beat two colours", "purges printer=* from_colour=white to_colour=black purge_mm3=1\npurges printer=P from_colour=white to_colour=* purge_mm3=2\n", 2},
		{"to beats from", "purges printer=P from_colour=white to_colour=* purge_mm3=1\npurges printer=P from_colour=* to_colour=Black purge_mm3=2\n", 2},
		{"all three", "purges printer=P from_colour=white to_colour=* purge_mm3=1\npurges printer=P from_colour=white to_colour=black purge_mm3=3\n", 3},
	} {
		plans := planned(t, spools+c.rows, "a b", planning.Options{}, "a=A", "b=B")
		// 1.24 g/cm3
		if got, want := plans.Best().Purge[1], big.NewRat(124*c.want, 100_000); got.Cmp(want) != 0 {
			t.Errorf("%s: %s g, want %s", c.name, got, want)
		}
	}
}

func TestFlushedDiffers(t *testing.T) {
	t.Parallel()
	v := booktest.View(t, "printers printer=One feeds=4 purge_mm3=200\nprinters printer=Two feeds=1+4 purge_mm3=200\nprinters printer=Four feeds=1+1+1+1 purge_mm3=200\n")
	printers, err := v.PrintersInOrder()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		mm3, u float64
		want   []bool // on one nozzle, on two, on four of their own
	}{
		{200, 0, []bool{false, false, false}},
		{221, 10, []bool{true, true, false}},
		{219, 10, []bool{false, false, false}},
		{179, 10, []bool{true, false, false}},
		{200.1, 0, []bool{true, true, false}},
	} {
		var got []bool
		for _, p := range printers {
			got = append(got, planning.Flushed{MM3: c.mm3, U: c.u, Rows: 5}.Differs(p))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%g with u %g: %v, want %v", c.mm3, c.u, got, c.want)
		}
	}
}

// Remnants are finished first, as long as nothing runs short and all are enough.
func TestTrySpools(t *testing.T) {
	t.Parallel()
	const book = machines + `
purchases at=0 spool=R1 colour=red net_g=800 price=20
purchases at=0 spool=R2 colour=red net_g=60 price=90
purchases at=0 spool=R3 colour=red net_g=31 price=20
purchases at=0 spool=B1 colour=blue net_g=70 price=20
`
	// Each of a and b takes 30 g: R3 has too little to be sure of, R2 is the smaller, though it is dear. What a has b can't have.
	plans := planned(t, book, "a b a b a b", planning.Options{TrySpools: true}, "a=PLA/red", "b=PLA/")
	if got := said(plans)[:14]; got != "Two: R2@1 B1@2" {
		t.Errorf("%q, want R2 and B1", got)
	}
	if plans.Tried == 0 || plans.Tried > 200 {
		t.Errorf("%d choices tried", plans.Tried)
	}
	without := planned(t, book, "a b a b a b", planning.Options{}, "a=PLA/red", "b=PLA/")
	if without.Tried != 0 {
		t.Errorf("%d choices tried, unasked", without.Tried)
	}
	// A spool that is named is left.
	plans = planned(t, book, "a b a b a b", planning.Options{TrySpools: true}, "a=R1", "b=B1")
	if got := said(plans)[:14]; got != "Two: R1@1 B1@2" {
		t.Errorf("%q, want R1 and B1", got)
	}
}

// Hundreds of spools are not all tried.
func TestTriesEnd(t *testing.T) {
	t.Parallel()
	var book strings.Builder
	book.WriteString(machines)
	for i := range 300 {
		fmt.Fprintf(&book, "purchases at=0 spool=R%d colour=red net_g=%d\n", i, 500+i)
	}
	plans := planned(t, book.String(), "a b a", planning.Options{TrySpools: true}, "a=PLA/red", "b=PLA/red")
	if got := said(plans)[:14]; got != "Two: R0@1 R1@2" || plans.Tried != 200 {
		t.Errorf("%q after %d choices, want R0 and R1 after 200", got, plans.Tried)
	}
}

// A slot without a spool runs short, though nothing is printed from it.
func TestPlanOfNothing(t *testing.T) {
	t.Parallel()
	v := booktest.View(t, machines+"purchases at=0 spool=A colour=red net_g=500\n")
	shelf, err := inventory.Load(v)
	if err != nil {
		t.Fatal(err)
	}
	print, err := planning.ReadSequence(strings.NewReader("slot,grams\na,10\nb,0\n"), "the test")
	if err != nil {
		t.Fatal(err)
	}
	blue := inventory.OnTool{Material: "PLA", Colour: "blue", Filament: shelf.Stock("PLA", 1.75)}
	a := shelf.Spool("A")
	if err := print.Load([]planning.SlotLoad{{Slot: "a", OnTool: inventory.OnTool{Spool: a, Material: a.Material, Colour: a.Colour, Filament: a.Filament}}, {Slot: "b", OnTool: blue}}); err != nil {
		t.Fatal(err)
	}
	printers, err := v.PrintersInOrder()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range printers {
		p.PrimeMM3, p.PurgeMM3 = ledger.Number{}, ledger.Number{}
	}
	plans, err := planning.Plan(shelf, print, planning.Options{Printers: printers})
	if err != nil {
		t.Fatal(err)
	}
	if short := plans.Best().Short; !slices.Equal(short, []int{1}) {
		t.Errorf("short: %v, want slot b alone", short)
	}
}

// What follows itself is one use and no change; a mark of the byte order is nothing.
func TestReadSequence(t *testing.T) {
	t.Parallel()
	p, err := planning.ReadSequence(strings.NewReader("\ufeffslot,grams\na,1\nA,2\nb,3\nb,0.5\na,4\n"), "the test")
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(p.Sequence, []uint8{0, 1, 0}) || len(p.Slots) != 2 ||
		p.Slots[0].Changes != 1 || p.Slots[1].Changes != 1 || p.Slots[0].Grams != 7000 || p.Slots[1].Grams != 3500 {
		t.Errorf("got %v, %+v; want a b a, a change to each, 7 and 3.5 g", p.Sequence, p.Slots)
	}
}

// A printer for which purges by pair of colours are written has no figure of its own rows.
func TestLearned(t *testing.T) {
	t.Parallel()
	v := booktest.View(t, machines+`
purges printer=Two from_colour=* to_colour=white purge_mm3=90
purchases at=0 spool=A net_g=900
consumption at=1 job=a printer=One spool=A purge_g=10 changes=20
consumption at=2 job=b printer=One spool=A purge_g=11 changes=20
consumption at=1 job=c printer=Two spool=A purge_g=10 changes=20
consumption at=2 job=d printer=Two spool=A purge_g=11 changes=20
consumption at=2 job=e printer=Four spool=A purge_g=11 changes=20
`)
	printers, err := v.PrintersInOrder()
	if err != nil {
		t.Fatal(err)
	}
	purges, err := v.Purges()
	if err != nil {
		t.Fatal(err)
	}
	_, flushes, err := planning.Load(v)
	if err != nil {
		t.Fatal(err)
	}
	learned := flushes.Learned(printers, planning.Tables{Purges: purges})
	if len(learned) != 1 || learned[printers[0]].Rows != 2 {
		t.Errorf("got %+v, want that of One alone", learned)
	}
}
