package main

import (
	"fmt"
	"strings"
	"testing"

	"tarebook/ledger"
)

// The views round money to the same minor units as the program.
func TestMinorUnitsInSQL(t *testing.T) {
	t.Parallel()
	_, body, ok := strings.Cut(viewsSQL, "MACRO decimals_of(code) AS CASE")
	body, _, ended := strings.Cut(body, ";")
	if !ok || !ended {
		t.Fatal("the views have no decimals_of")
	}
	decimals := map[string]int32{}
	for line := range strings.SplitSeq(body, "\n") {
		list, then, ok := strings.Cut(line, ") THEN ")
		if !ok {
			continue
		}
		var n int32
		if _, err := fmt.Sscan(then, &n); err != nil {
			t.Fatal(err)
		}
		for i, code := range strings.Split(list, "'") {
			if i%2 == 1 {
				decimals[code] = n
			}
		}
	}
	for _, a := range "ABCDEFGHIJKLMNOPQRSTUVWXYZ" {
		for _, b := range "ABCDEFGHIJKLMNOPQRSTUVWXYZ" {
			for _, c := range "ABCDEFGHIJKLMNOPQRSTUVWXYZ" {
				code := string([]rune{a, b, c})
				want, known := ledger.MinorUnit(code)
				got, listed := decimals[code]
				if !listed {
					got = 2
				}
				if listed && !known || known && got != want {
					t.Errorf("%s has %d decimals in the views, want %d", code, got, want)
				}
			}
		}
	}
}
