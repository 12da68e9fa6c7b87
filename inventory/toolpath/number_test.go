package toolpath_test

import (
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebook/inventory/toolpath"
)

// A number is its text times 10^9, dropping what is smaller: math/big is the judge.
func TestNumber(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[+-]?(0{0,3}[0-9]{1,9}(\.[0-9]{0,25})?|\.[0-9]{1,25}|[0-9]{0,3}\.?[0-9]{1,5})`).Draw(t, "number")
		behind := rapid.StringMatching(`([ EeX*;()-][ -~]{0,9})?`).Draw(t, "behind") // with it, the number is not the end of what was read
		v, length, ok := toolpath.Number(text, behind)
		exact, is := new(big.Rat).SetString(strings.TrimPrefix(text, "+"))
		if !is {
			t.Fatal("math/big reads no ", text)
		}
		exact.Mul(exact, big.NewRat(1e9, 1))
		want := new(big.Int).Quo(exact.Num(), exact.Denom()) // toward zero
		if !ok || length != len(text) || big.NewInt(v).Cmp(want) != 0 {
			t.Fatalf("%s: got %d of %d bytes, %v; want %d", text, v, length, ok, want)
		}
	})
	for _, text := range []string{"", "-", "+", ".", "-.", "--1", "x", "+-1", "1000000000", "99999999999999999999", "1000000000.5"} {
		for _, behind := range []string{"", " X1.5 Y2.5"} {
			if v, _, ok := toolpath.Number(text, behind); ok {
				t.Errorf("%s: got %d, want none", text+behind, v)
			}
		}
	}
}
