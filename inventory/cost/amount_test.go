package cost

import (
	"cmp"
	"maps"
	"math/big"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tarebook/ledger"
)

// The largest remainder over exact fractions, as Apportion is defined, is the reference of what is computed with amounts.
func exactly(amounts []*big.Rat, decimals int32) []string {
	units := new(big.Rat).SetInt(powerOf10(decimals))
	floors, rests, order := make([]*big.Int, len(amounts)), make([]*big.Rat, len(amounts)), make([]int, len(amounts))
	missing := RoundHalfUp(sum(amounts), decimals).Shift(decimals).IntPart()
	for i, a := range amounts {
		scaled := new(big.Rat).Mul(a, units)
		floors[i] = new(big.Int).Div(scaled.Num(), scaled.Denom())
		rests[i] = new(big.Rat).Sub(scaled, new(big.Rat).SetInt(floors[i]))
		missing -= floors[i].Int64()
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Or(rests[b].Cmp(rests[a]), amounts[b].Cmp(amounts[a])) })
	for _, i := range order[:missing] {
		floors[i].Add(floors[i], big.NewInt(1))
	}
	var all []string
	for _, f := range floors {
		all = append(all, f.String())
	}
	return all
}

// What grams cost is apportioned as if each amount were an exact fraction: also where amounts are equal, whole or half units, or differ
// from those by less than the parts that an amount is reckoned in.
func TestAmountsAreExact(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		currency := rapid.SampledFrom([]string{"EUR", "JPY", "KWD"}).Draw(r, "currency")
		decimals, _ := ledger.MinorUnit(currency)
		p := &prices{}
		var nets []int64
		for range rapid.IntRange(1, 5).Draw(r, "prices") {
			net := rapid.SampledFrom([]int64{1000, 750_000, 1_000_000, 999_983, 3, 7, 2_147_483_647, 1_000_000_000_000}).Draw(r, "net")
			coefficient := rapid.SampledFrom([]int64{0, 1, 2095, 3333, 1_999_999, 1_000_000_000_000_000}).Draw(r, "price")
			perGram := big.NewRat(coefficient, 100)
			p.all = append(p.all, newPrice(perGram.Quo(perGram, big.NewRat(net, 1000)), currency))
			nets = append(nets, net)
		}
		p.all = append(p.all, price{}) // none
		amounts := costsByRow{prices: p, kind: Purge}
		var exact []*big.Rat
		for range rapid.IntRange(1, 12).Draw(r, "amounts") {
			cells := &costCells{}
			whole := new(big.Rat)
			for range rapid.IntRange(0, 3*fewKeys).Draw(r, "rows") {
				n := rapid.IntRange(0, len(nets)).Draw(r, "of")
				g := rapid.Int64Range(0, 2000).Draw(r, "grams")
				if n < len(nets) {
					if rapid.Bool().Draw(r, "whole spools") {
						g = nets[n] / rapid.Int64Range(1, 3).Draw(r, "part")
					}
					whole.Add(whole, costOf(p.all[n].perGram, ledger.Grams(g)))
				}
				cells.grams.of(n)[Purge] += ledger.Grams(g)
			}
			amounts.rows, exact = append(amounts.rows, Row{cells: cells}), append(exact, whole)
		}
		var got []string
		for _, d := range apportionTo(total(amounts, decimals), amounts, decimals) {
			got = append(got, d.Shift(decimals).String())
		}
		if want := exactly(exact, decimals); !slices.Equal(got, want) {
			r.Fatalf("%v, want %v, of %v", got, want, exact)
		}
	})
}

// A set of names is what a map of them is, also one of several sets.
func TestNameSetIsASet(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		want := map[nameID]bool{}
		sets := make([]*nameSet, rapid.IntRange(0, 3).Draw(t, "sets"))
		for i := range sets {
			sets[i] = &nameSet{}
			own := map[nameID]bool{}
			for range rapid.IntRange(0, 200).Draw(t, "names") {
				id := nameID(rapid.Uint64Range(1, 600).Draw(t, "name"))
				sets[i].add(id)
				want[id], own[id] = true, true
			}
			got := map[nameID]bool{}
			for id := range sets[i].all() {
				got[id] = true
			}
			if !maps.Equal(got, own) || sets[i].n != len(own) {
				t.Fatalf("%d names, want %d", sets[i].n, len(own))
			}
		}
		all := union(sets)
		for id := range want {
			if !all.has(id) {
				t.Fatalf("%v is not in the union", id)
			}
		}
		if all.n != len(want) || all.has(601) {
			t.Fatalf("%d names, want %d", all.n, len(want))
		}
	})
}

// A set of names keeps each once, whatever the order in which they come, and little room for more.
func TestNameSet(t *testing.T) {
	t.Parallel()
	ids := newNameIDs()
	other := ids.another()
	var set nameSet
	for i := range 10000 {
		name := string(rune('a'+i%7)) + string(rune('a'+i%11))
		id, _ := ids.of(name)
		set.add(id)
		if again, _ := other.of(string(rune('A'+i%7)) + string(rune('a'+i%11))); again != id {
			t.Fatalf("%s: two ids", name)
		}
	}
	if set.n != 77 || len(slices.Collect(set.all())) != 77 || len(set.ids) > 4*77 {
		t.Errorf("%d names in %d places, want 77", set.n, len(set.ids))
	}
}
