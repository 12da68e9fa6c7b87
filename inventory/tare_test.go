package inventory_test

import (
	"math"
	"testing"

	"tarebook/inventory"
	"tarebook/inventory/booktest"
)

// The ladder of tares, the best known first. 5/12 g2 is a reading of division 1 and error 1: 1/12 + 1/3.
func TestTare(t *testing.T) {
	t.Parallel()
	bench := 5. / 12
	for _, c := range []struct {
		name, rows string
		from       string
		tare       string
		u          float64
	}{
		{"nothing", "purchases at=0 spool=A net_g=1000", inventory.TareNone, "", 0},
		{"typed with the purchase", "purchases at=0 spool=A net_g=1000 tare_g=211.5 core=card\nweighins at=1 spool=A gross_g=1200", inventory.TarePurchase, "211.5", 2},
		{"core, u by default", "purchases at=0 spool=A net_g=1000 core=Card\nweighins at=1 spool=A gross_g=1200", inventory.TareCore, "180", 5},
		{"core, its own u", "purchases at=0 spool=A net_g=1000 core=plastic", inventory.TareCore, "240", 3},
		{"core of unknown tare", "purchases at=0 spool=A net_g=1000 core=unweighed", inventory.TareNone, "", 0},
		{"core of unknown tare, then the label", "purchases at=0 spool=A net_g=1000 core=unweighed\nweighins at=1 spool=A gross_g=1200", inventory.TareLabel, "200", math.Sqrt(bench + 100)},
		{"label", "purchases at=0 spool=A net_g=750\nweighins at=1 spool=A gross_g=950.5", inventory.TareLabel, "200.5", math.Sqrt(bench + 7.5*7.5)},
		{"label, another label_u and scale", "settings setting=label_u value=0.02\npurchases at=0 spool=A net_g=750\nweighins at=1 spool=A gross_g=950 scale=fine", inventory.TareLabel, "200", math.Sqrt(0.01/12 + 0.01/3 + 15*15)},
		{"label, dried first", "purchases at=0 spool=A net_g=1000\nweighins at=1 spool=A gross_g=1200 state=dried", inventory.TareLabel, "200", math.Sqrt(bench + 100)},
		{"label, discarded unopened", "purchases at=0 spool=A net_g=1000\nweighins at=1 spool=A gross_g=1200 state=discarded", inventory.TareLabel, "200", math.Sqrt(bench + 100)},
		{"label, first of two", "purchases at=0 spool=A net_g=1000\nweighins at=2 spool=A gross_g=1100\nweighins at=1 spool=A gross_g=1200", inventory.TareLabel, "200", math.Sqrt(bench + 100)},
		{"no label once used", "purchases at=0 spool=A net_g=1000\nconsumption at=1 job=a spool=A part_g=10\nweighins at=2 spool=A gross_g=1200", inventory.TareNone, "", 0},
		{"no label once used, in whatever line", "purchases at=0 spool=A net_g=1000\nconsumption at=1 job=a spool=A part_g=10\nconsumption at=3 job=b spool=A part_g=10\nweighins at=2 spool=A gross_g=1200", inventory.TareNone, "", 0},
		{"no label, used by weighed grams or nought", "purchases at=0 spool=A net_g=1000\nconsumption at=1 job=a spool=A basis=weighed\nweighins at=2 spool=A gross_g=1200", inventory.TareNone, "", 0},
		{"label, used at the same instant, which is after", "purchases at=0 spool=A net_g=1000\nconsumption at=1 job=a spool=A part_g=10\nweighins at=1 spool=A gross_g=1200", inventory.TareLabel, "200", math.Sqrt(bench + 100)},
		{"no label once wound off", "purchases at=0 spool=A net_g=1000\npurchases at=1 spool=B net_g=100 from=A\nweighins at=2 spool=A gross_g=1100", inventory.TareNone, "", 0},
		{"no label, wound off at the same instant, which is before", "purchases at=0 spool=A net_g=1000\npurchases at=1 spool=B net_g=100 from=A\nweighins at=1 spool=A gross_g=1100", inventory.TareNone, "", 0},
		{"label, wound off later", "purchases at=0 spool=A net_g=1000\npurchases at=2 spool=B net_g=100 from=A\nweighins at=1 spool=A gross_g=1200", inventory.TareLabel, "200", math.Sqrt(bench + 100)},
		{"no label that weighs nothing", "purchases at=0 spool=A net_g=1000\nweighins at=1 spool=A gross_g=1000", inventory.TareNone, "", 0},
		{"no label, thrown away unweighed", "purchases at=0 spool=A net_g=1000\nweighins at=1 spool=A state=discarded\nweighins at=2 spool=A gross_g=1200", inventory.TareNone, "", 0},
		{"own core beats all", "purchases at=0 spool=A net_g=1000 tare_g=211 core=card\nweighins at=1 spool=A gross_g=1200\nweighins at=2 spool=A gross_g=205 state=empty", inventory.TareEmpty, "205", math.Sqrt(bench)},
		{"own core, last weighed", "purchases at=0 spool=A net_g=1000\nweighins at=1 spool=A gross_g=205 state=empty\nweighins at=2 spool=A gross_g=204.6 state=empty scale=fine", inventory.TareEmpty, "204.6", 0.0645497224368},
		{"own core, last with a gross", "purchases at=0 spool=A net_g=1000\nweighins at=1 spool=A gross_g=205 state=empty\nweighins at=2 spool=A state=empty", inventory.TareEmpty, "205", math.Sqrt(bench)},
		{"ended without a weighing", "purchases at=0 spool=A net_g=1000 tare_g=211\nweighins at=1 spool=A state=empty", inventory.TarePurchase, "211", 2},
		{"no label after an empty first", "purchases at=0 spool=A net_g=1000\nweighins at=1 spool=A state=empty\nweighins at=2 spool=A gross_g=1200", inventory.TareNone, "", 0},
	} {
		tare := booktest.Shelf(t, c.rows).Spool("A").Tare
		if tare.From != c.from || tare.Grams.Given != (c.tare != "") || tare.Grams.Given && tare.Grams.Grams != booktest.Grams(c.tare) {
			t.Errorf("%s: %s from %s, want %s from %s", c.name, tare.Grams.Grams, tare.From, c.tare, c.from)
		}
		booktest.Near(t, c.name+": u", tare.U, c.u, 1e-12)
	}
}

// A reading of a scale. Sources as named; masses in mg are put down as grams, whose thousandths the book keeps.
func TestScaleU(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, scale string
		want        float64
	}{
		// JCGM 100:2008, F.2.2.1 (clause from memory): a smallest digit of 1 g has variance 1/12 g2, u = 0.29 g.
		{"digital resolution", "division_g=1 error_g=0", 0.288675134594813},
		// University of Tartu, GUM examples, Uncertainty of Simple Weighing: repeatability 0.17 mg, drift +-0.2 mg,
		// readability 0.1 mg; u = 0.000207525098883645 g.
		{"simple weighing", "division_g=0.1 error_g=0.2 repeat_g=0.17", 0.207525098883645},
		// Arithmetic of division^2/12 + error^2/3.
		{"division and error 1", "division_g=1 error_g=1", 0.645497224368},
		{"division and error 0.1", "division_g=0.1 error_g=0.1", 0.0645497224368},
		{"error is the division where blank", "division_g=0.1", 0.0645497224368},
		{"division is 1 where blank", "error_g=1", 0.645497224368},
		{"all blank", "", 0.645497224368},
		{"repeatability alone", "division_g=0 error_g=0 repeat_g=0.25", 0.25},
	} {
		s := booktest.Shelf(t, "scales scale=Pan "+c.scale)
		booktest.Near(t, c.name, s.ScaleU("pan"), c.want, 1e-11)
	}
	booktest.Near(t, "no scale named", booktest.Shelf(t, "").ScaleU(""), 0.645497224368, 1e-11)
}

// EURACHEM/CITAC QUAM, example A2, weighing by difference: 60.5450 g less 60.1562 g is 0.3888 g; linearity +-0.15 mg
// counts for each of the two weighings. u = 0.13 mg printed, where 0.15/sqrt 3 was rounded to 0.09 first; in full
// 0.122474 mg. Here the container is the core, weighed empty, and 1 mg a gram.
func TestWeighingByDifference(t *testing.T) {
	t.Parallel()
	s := booktest.Shelf(t, `
scales scale=Pan division_g=0 error_g=0.15
purchases at=0 spool=A net_g=388
weighins at=1 spool=A gross_g=60545.0 scale=Pan
weighins at=2 spool=A gross_g=60156.2 scale=Pan state=empty
`)
	r := s.Spool("A").Readings[0]
	if r.Measured.Grams != booktest.Grams("388.8") {
		t.Errorf("difference %s, want 388.8", r.Measured)
	}
	booktest.Near(t, "u of the difference", r.U, 0.122474487139, 1e-11)
	booktest.Printed(t, "u with its parts rounded", math.Hypot(0.09, 0.09), "0.13")
}
