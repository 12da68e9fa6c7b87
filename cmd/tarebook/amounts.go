package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/filament"
	"tarebook/ledger"
)

// amounts are the masses of one spool or slot as typed: part=182.4,prime=3.1,purge=14.9,changes=12 or 182.4 alone.
type amounts struct {
	part, support, prime, purge ledger.Grams
	changes                     ledger.Count
}

// parseAmounts reads masses; stock turns lengths into grams and is nil where no spool is known yet.
func parseAmounts(text string, stock *filament.Stock) (a amounts, err error) {
	if !strings.Contains(text, "=") {
		a.part, err = inventory.ParseMass(text, stock)
		return a, err
	}
	seen := map[string]bool{}
	for field := range strings.SplitSeq(text, ",") {
		name, value, ok := strings.Cut(field, "=")
		name = strings.ToLower(ledger.Trim(name))
		if !ok || seen[name] {
			return a, fmt.Errorf("%q wants each of part, support, prime, purge and changes once, as part=182.4,purge=14.9", text)
		}
		seen[name] = true
		var to *ledger.Grams
		switch name {
		case "part":
			to = &a.part
		case "support":
			to = &a.support
		case "prime":
			to = &a.prime
		case "purge":
			to = &a.purge
		case "changes":
			if err := a.changes.UnmarshalCSV(value); err != nil || !a.changes.Given {
				return a, fmt.Errorf("changes %q is not a whole number", value)
			}
			continue
		default:
			return a, fmt.Errorf("%q is none of part, support, prime, purge, changes", name)
		}
		if *to, err = inventory.ParseMass(value, stock); err != nil {
			return a, fmt.Errorf("%s %w", name, err)
		}
	}
	return a, nil
}

// share returns the amounts of a print that failed at so many percent.
func (a amounts) share(percent ledger.Number) amounts {
	scale := func(g ledger.Grams) ledger.Grams {
		return ledger.Grams(g.Decimal().Mul(percent.Decimal).Shift(1).Round(0).IntPart())
	}
	a.part, a.support, a.prime, a.purge = scale(a.part), scale(a.support), scale(a.prime), scale(a.purge)
	if a.changes.Given {
		n, _ := strconv.Atoi(percent.Decimal.Mul(ledger.Grams(a.changes.N * 1000).Decimal()).Shift(-2).Round(0).String())
		a.changes.N = n
	}
	return a
}

// cutTarget parts SLOT=TARGET from the masses after the colon. Names hold no colon, and masses no slash.
func cutTarget(text string) (slot, target, masses string, err error) {
	head, masses, _ := strings.Cut(text, ":")
	if i := strings.IndexByte(head, '='); i >= 0 {
		slot, head = ledger.Trim(head[:i]), head[i+1:]
		if slot == "" {
			return "", "", "", fmt.Errorf("%q has no slot before the =", text)
		}
	}
	if head = ledger.Trim(head); head == "" {
		return "", "", "", errors.New("nothing before the masses in " + strconv.Quote(text))
	}
	return slot, head, masses, nil
}

// aimed finds what SPOOL or MATERIAL/COLOUR names: a spool that has not ended, or any of a material and colour (blank: any
// colour). The last slash parts the two.
func aimed(shelf *inventory.Shelf, target string) (spool *inventory.Spool, material, colour string, err error) {
	i := strings.LastIndexByte(target, '/')
	if i < 0 {
		if spool, err = shelf.Find(target); err != nil {
			return nil, "", "", err
		}
		if spool.Ended {
			return nil, "", "", fmt.Errorf("%s has ended; name another", spool.ID)
		}
		return spool, spool.Material, spool.Colour, nil
	}
	material, err = known("material", ledger.Trim(target[:i]), shelf.Materials, func(m *ledger.Material) string { return m.Material }, ledger.Materials)
	if err == nil && material == "" {
		err = fmt.Errorf("%q names no material before the /", target)
	}
	return nil, material, ledger.Trim(target[i+1:]), err
}
