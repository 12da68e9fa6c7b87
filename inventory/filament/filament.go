// Package filament is the physics of round filament: mass, length and what is not known of either.
//
// Diameters are in mm, densities in g/cm3, masses in g, lengths in m. Uncertainties are standard uncertainties
// (JCGM 100:2008, 2.3.1). Start at [Stock].
package filament

import "math"

// Stock is a kind of filament: its diameter with the half-width of the tolerance, in mm, and its density with
// the standard uncertainty, in g/cm3.
type Stock struct {
	DiameterMM, TolMM float64
	Density, DensityU float64
}

// Area returns the cross section in mm2, pi d^2/4.
func (s Stock) Area() float64 { return math.Pi * s.DiameterMM * s.DiameterMM / 4 }

// Length returns the metres that g grams measure, m/(rho area): g over g/cm3 times mm2 is cm3/mm2, which is a metre.
func (s Stock) Length(g float64) float64 { return g / (s.Density * s.Area()) }

// Mass returns the grams of a length in metres.
func (s Stock) Mass(metres float64) float64 { return metres * s.Density * s.Area() }

// LengthU returns the standard uncertainty in metres of the length of g grams known to within u: the law of
// propagation (JCGM 100:2008, 5.1.2) on m/(rho pi d^2/4), the diameter's tolerance taken as rectangular (4.3.7).
func (s Stock) LengthU(g, u float64) float64 {
	perGram := s.Length(1)
	diameterU := s.TolMM / math.Sqrt(3)
	relative := math.Hypot(s.DensityU/s.Density, 2*diameterU/s.DiameterMM)
	return math.Hypot(u*perGram, g*perGram*relative)
}
