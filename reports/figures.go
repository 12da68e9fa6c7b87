package reports

import (
	"math"
	"strconv"
)

// How figures are rounded for people. CSV and JSON have them as they are.

// known returns the number of decimals, 0 to 3, to which figures with these expanded uncertainties are shown in one column: so many that
// the greatest has two significant digits, and the least that is not 0 has one. JCGM 100:2008, 7.2.6: an uncertainty is quoted to at most
// two significant digits, and an estimate to the same decimals. Without any uncertainty it is 1.
func known(uncertainties ...float64) int {
	greatest, least := 0.0, math.Inf(1)
	for _, u := range uncertainties {
		if u > 0 {
			greatest, least = max(greatest, u), min(least, u)
		}
	}
	if greatest == 0 {
		return 1
	}
	return min(3, max(0, decimalsOf(greatest, 2), decimalsOf(least, 1)))
}

// decimalsOf returns the decimals with which x has that many significant digits.
func decimalsOf(x float64, significant int) int {
	n := significant - 1 - int(math.Floor(math.Log10(x)))
	if rounded := x + math.Pow(10, -float64(n))/2; math.Floor(math.Log10(rounded)) > math.Floor(math.Log10(x)) { // 9.96 is 10
		n--
	}
	return n
}

// fixed formats a figure with that many decimals.
func fixed(x float64, decimals int) string {
	return noMinusZero(strconv.FormatFloat(x, 'f', decimals, 64))
}

// within formats a figure, its unit and how well it is known, as 651 g (2u 10 g).
func within(x, u float64, unit string) string {
	d := known(2 * u)
	return fixed(x, d) + " " + unit + " (2u " + fixed(2*u, d) + " " + unit + ")"
}

// expanded returns 2u of the uncertainties that are known.
func expanded(us ...*float64) (all []float64) {
	for _, u := range us {
		if u != nil {
			all = append(all, 2**u)
		}
	}
	return all
}

// figure formats a figure, or a dash for none.
func figure(x *float64, decimals int) string {
	if x == nil {
		return "-"
	}
	return fixed(*x, decimals)
}
