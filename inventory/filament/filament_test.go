package filament_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"tarebook/inventory/filament"
)

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if math.Abs(got-want) > relative*math.Abs(want) {
		t.Errorf("%s = %.15g, want %.15g", what, got, want)
	}
}

// The cross section and lengths of round filament. Area is geometry. Printed figures: Fabbaloo, "Basic 3D Printer
// Filament Calculations", 2018-12-19 (1 m of 1.75 mm is 2.405 cm3; 11.4 cm3 of 2.85 mm is 178.7 cm); ecoreprap.com,
// "How Long Is 1 kg of PLA Filament?" ("around 335 m" at 1.24 g/cm3). The full figures are those, worked again.
func TestLength(t *testing.T) {
	t.Parallel()
	thin := filament.Stock{DiameterMM: 1.75, Density: 1.24}
	thick := filament.Stock{DiameterMM: 2.85, Density: 1.27}
	near(t, "area 1.75", thin.Area(), 2.405281875404685, 1e-12)
	near(t, "area 2.85", thick.Area(), 6.379396582195774, 1e-12)
	near(t, "1 kg PLA 1.75, printed", thin.Length(1000), 335, 0.5/335)
	near(t, "1 kg PLA 1.75", thin.Length(1000), 335.284, 0.0005/335)
	near(t, "182.4 g PLA", thin.Length(182.4), 61.155732181618, 1e-12)
	near(t, "61.2 m PLA", thin.Mass(61.2), 182.532030960711, 1e-12)
	near(t, "750 g PETG 2.85", thick.Length(750), 92.571636438238, 1e-12)
	water := filament.Stock{DiameterMM: 2.85, Density: 1}
	near(t, "11.4 cm3 of 2.85 mm in m", water.Length(11.4), 1.7870028698, 1e-9)
}

// Metres in a kilogram and grams in a metre, to six digits: metres per kg = 1000/(rho area), worked by hand
// from the densities of makers' data sheets (ISO 1183, ASTM D792).
func TestTable(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ rho, thinKg, thinM, thickKg, thickM float64 }{
		{1.01, 411.635, 2.42933, 155.203, 6.44319},
		{1.04, 399.761, 2.50149, 150.726, 6.63457},
		{1.07, 388.553, 2.57365, 146.500, 6.82595},
		{1.20, 346.460, 2.88634, 130.629, 7.65528},
		{1.24, 335.284, 2.98255, 126.415, 7.91045},
		{1.27, 327.364, 3.05471, 123.429, 8.10183},
	} {
		thin := filament.Stock{DiameterMM: 1.75, Density: c.rho}
		thick := filament.Stock{DiameterMM: 2.85, Density: c.rho}
		what := fmt.Sprintf("rho %v", c.rho)
		near(t, what+" m/kg 1.75", thin.Length(1000), c.thinKg, 2e-6)
		near(t, what+" g/m 1.75", thin.Mass(1), c.thinM, 2e-6)
		near(t, what+" m/kg 2.85", thick.Length(1000), c.thickKg, 4e-6)
		near(t, what+" g/m 2.85", thick.Mass(1), c.thickM, 2e-6)
	}
}

// The law of propagation (JCGM 100:2008, 5.1.2 eq. 10) for a product and quotient. The first case is worked by hand from
// the formula; the second lets the diameter alone be unknown: 2h/(d sqrt 3).
func TestLengthU(t *testing.T) {
	t.Parallel()
	s := filament.Stock{DiameterMM: 1.75, TolMM: 0.05, Density: 1.24, DensityU: 0.02 / math.Sqrt(3)}
	near(t, "length", s.Length(500), 167.6418097084, 1e-10)
	near(t, "u", s.LengthU(500, 0.645497224368), 5.750913781, 1e-9)
	for _, c := range []struct{ d, h, want float64 }{
		{1.75, 0.03, 0.019795}, {1.75, 0.05, 0.032991}, {2.85, 0.03, 0.012155}, {2.85, 0.05, 0.020258},
	} {
		s := filament.Stock{DiameterMM: c.d, TolMM: c.h, Density: 1.24}
		near(t, fmt.Sprintf("u_L/L of %v +- %v", c.d, c.h), s.LengthU(500, 0)/s.Length(500), c.want, 5e-5)
	}
}

// Mass to length and back is the identity.
func TestThereAndBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := filament.Stock{DiameterMM: rapid.Float64Range(0.5, 5).Draw(t, "d"), Density: rapid.Float64Range(0.5, 8).Draw(t, "rho")}
		g := rapid.Float64Range(0, 1e5).Draw(t, "g")
		if got := s.Mass(s.Length(g)); math.Abs(got-g) > 1e-12*g {
			t.Fatalf("%v g became %v", g, got)
		}
	})
}

func ExampleStock_Length() {
	pla := filament.Stock{DiameterMM: 1.75, Density: 1.24}
	fmt.Printf("%.3f m", pla.Length(1000))
	// Output: 335.284 m
}
