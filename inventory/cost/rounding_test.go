package cost_test

import (
	"fmt"
	"math/big"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tarebook/inventory/cost"
)

func rat(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		panic(text)
	}
	return r
}

// shares returns the amounts scaled so that they add up to the seats.
func shares(seats int64, amounts ...string) []*big.Rat {
	total := new(big.Rat)
	scaled := make([]*big.Rat, len(amounts))
	for i, a := range amounts {
		scaled[i] = rat(a)
		total.Add(total, scaled[i])
	}
	for _, r := range scaled {
		r.Mul(r, big.NewRat(seats, 1)).Quo(r, total)
	}
	return scaled
}

func apportioned(amounts []*big.Rat, decimals int32) []string {
	var all []string
	for _, d := range cost.Apportion(amounts, decimals) {
		all = append(all, d.StringFixed(decimals))
	}
	return all
}

// Hamilton's method. The first eight and the paradoxes: M. Birgen, Math of Democracy, Apportionment (open text);
// percentages: D. Villarreal, Apportionment Schemes, 2009 (data); 15 shares: the 1790 census, exercise in Mathematical
// Excursions 4e, 4.1, by its printed divisor; counties: Lippman, Math in Society (Delaware; from memory, done again).
func TestLargestRemainder(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		seats int64
		in    []string
		want  []string
	}{
		{"plain", 160, []string{"69", "267", "133", "331"}, []string{"14", "53", "27", "66"}},
		{"five shares", 119, []string{"40.50", "29.70", "23.65", "14.60", "10.55"}, []string{"40", "30", "24", "15", "10"}},
		{"four", 175, []string{"871", "1029", "610", "190"}, []string{"56", "67", "40", "12"}},
		{"five", 250, []string{"3292", "1524", "4162", "2132", "13890"}, []string{"33", "15", "42", "21", "139"}},
		{"a share may be nought", 11, []string{"54", "243", "703"}, []string{"0", "3", "8"}},
		{"Alabama paradox, before", 200, []string{"940", "9030", "10030"}, []string{"10", "90", "100"}},
		{"Alabama paradox, after", 201, []string{"940", "9030", "10030"}, []string{"9", "91", "101"}},
		{"population paradox, before", 50, []string{"150", "78", "173", "204", "295"}, []string{"8", "4", "10", "11", "17"}},
		{"population paradox, after", 50, []string{"150", "78", "181", "204", "296"}, []string{"8", "5", "10", "11", "16"}},
		{"new-states paradox, before", 100, []string{"89550", "10450"}, []string{"90", "10"}},
		{"new-states paradox, after", 105, []string{"89550", "10450", "5250"}, []string{"89", "11", "5"}},
		{"percentages", 100, []string{"51", "18", "11"}, []string{"64", "22", "14"}},
		{"15 shares", 105, []string{"236841", "55540", "70835", "278514", "475327", "68705", "141822", "85533", "331591", "179570", "432879", "353523", "206236", "630560", "68446"},
			[]string{"7", "2", "2", "8", "14", "2", "4", "2", "10", "5", "13", "10", "6", "18", "2"}},
		{"three counties", 41, []string{"162310", "538479", "197145"}, []string{"7", "25", "9"}},
	} {
		in := shares(c.seats, c.in...)
		if got := apportioned(in, 0); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
		// The same in cents.
		for _, r := range in {
			r.Quo(r, big.NewRat(100, 1))
		}
		var cents []string
		for _, w := range c.want {
			cents = append(cents, rat(w+"/100").FloatString(2))
		}
		if got := apportioned(in, 2); !slices.Equal(got, cents) {
			t.Errorf("%s, in cents: %v, want %v", c.name, got, cents)
		}
	}
}

// The sources leave ties open. Here the larger amount comes first, then the earlier.
func TestTies(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		in       []string
		decimals int32
		want     []string
	}{
		{"none", nil, 2, nil},
		{"nothing", []string{"0", "0"}, 2, []string{"0.00", "0.00"}},
		{"the earlier", []string{"0.5", "0.5", "0.5"}, 0, []string{"1", "1", "0"}},
		{"the larger", []string{"0.5", "2.5", "1.5"}, 0, []string{"0", "3", "2"}},
		{"the total half up", []string{"0.2", "0.3"}, 0, []string{"0", "1"}},
		{"the total down", []string{"0.2", "0.29"}, 0, []string{"0", "0"}},
		{"three decimals", []string{"0.0015", "0.0005"}, 3, []string{"0.002", "0.000"}},
		{"thirds", []string{"1/3", "1/3", "1/3"}, 2, []string{"0.34", "0.33", "0.33"}},
	} {
		var in []*big.Rat
		for _, a := range c.in {
			in = append(in, rat(a))
		}
		if got := apportioned(in, c.decimals); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// General Decimal Arithmetic test cases, quantize.decTest 2.56, half up; the integer from rounding.decTest 2.59.
func TestRoundHalfUp(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		in       string
		decimals int32
		want     string
	}{
		{"2.17", 1, "2.2"}, {"1.2345", 2, "1.23"}, {"1.2355", 2, "1.24"}, {"9.9999", 2, "10.00"}, {"1.05", 1, "1.1"},
		{"352364.506", 2, "352364.51"}, {"12346.5", 0, "12347"}, {"12346.49999", 0, "12346"}, {"12345.50001", 0, "12346"},
		{"1.655", 2, "1.66"}, {"0", 3, "0.000"}, // binary floats cannot hold 1.655
	} {
		if got := cost.RoundHalfUp(rat(c.in), c.decimals).StringFixed(c.decimals); got != c.want {
			t.Errorf("%s to %d decimals: %s, want %s", c.in, c.decimals, got, c.want)
		}
	}
}

// Rounded cells add up to the total rounded half up, and none is a whole unit or more off its amount.
func TestCellsAddUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		decimals := rapid.Int32Range(0, 4).Draw(t, "decimals")
		in := rapid.SliceOf(rapid.Custom(func(t *rapid.T) *big.Rat {
			return big.NewRat(rapid.Int64Range(0, 1e9).Draw(t, "a"), rapid.SampledFrom([]int64{1, 2, 3, 7, 1000, 2000, 750000}).Draw(t, "b"))
		})).Draw(t, "amounts")
		exact, sum := new(big.Rat), new(big.Rat)
		unit := rat(fmt.Sprintf("1e-%d", decimals))
		for i, d := range cost.Apportion(in, decimals) {
			exact.Add(exact, in[i])
			sum.Add(sum, d.Rat())
			off := new(big.Rat).Sub(d.Rat(), in[i])
			if off.Abs(off).Cmp(unit) >= 0 || !d.Equal(d.Round(decimals)) {
				t.Fatalf("%s became %s", in[i], d)
			}
		}
		if want := cost.RoundHalfUp(exact, decimals); sum.Cmp(want.Rat()) != 0 {
			t.Fatalf("cells add up to %s, the total is %s", sum.FloatString(6), want)
		}
	})
}

// A sum that is cut off behind the minor unit is rounded as the exact sum is, also where that lies on the half: thirds and sixths
// of a cent have no end.
func TestRoundedSum(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		amounts []*big.Rat
		want    string
	}{
		{nil, "0"},
		{[]*big.Rat{rat("1/300"), rat("1/600")}, "0.01"},                                               // 0.005
		{[]*big.Rat{rat("1/300"), rat("9999999999999999999999999/6000000000000000000000000000")}, "0"}, // a little less
		{[]*big.Rat{rat("0.0025"), rat("0.0025")}, "0.01"},                                             // the half itself
		{[]*big.Rat{rat("1/3"), rat("2/3"), rat("1/7"), rat("6/7")}, "2"},                              // whole
		{[]*big.Rat{rat("299999999999999999999/600000000000000000000"), rat("1/200")}, "0.5"},          // 0.50499...
	} {
		if got := cost.RoundedSum(test.amounts, 2).String(); got != test.want {
			t.Errorf("%v: got %s, want %s", test.amounts, got, test.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		decimals := rapid.Int32Range(0, 4).Draw(t, "decimals")
		amounts := rapid.SliceOf(rapid.Custom(func(t *rapid.T) *big.Rat {
			return big.NewRat(rapid.Int64Range(0, 100).Draw(t, "a"), rapid.SampledFrom([]int64{1, 2, 3, 6, 7, 14, 600, 997, 2000}).Draw(t, "b"))
		})).Draw(t, "amounts")
		whole := new(big.Rat)
		for _, amount := range amounts {
			whole.Add(whole, amount)
		}
		if got, want := cost.RoundedSum(amounts, decimals), cost.RoundHalfUp(whole, decimals); !got.Equal(want) {
			t.Fatalf("%v: got %s, want %s", amounts, got, want)
		}
	})
}

// A remainder that is larger by far less than a minor unit comes before a larger amount.
func TestApportionNearTie(t *testing.T) {
	t.Parallel()
	more := new(big.Rat).Add(rat("1/2"), rat("1/1000000000000000000000000000000"))
	if got := fmt.Sprint(cost.Apportion([]*big.Rat{rat("3/2"), more}, 0)); got != "[1 1]" {
		t.Errorf("got %s, want [1 1]", got)
	}
}
