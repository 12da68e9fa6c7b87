package recording

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tarebook/inventory"
	"tarebook/inventory/filament"
	"tarebook/ledger"
)

// parseMasses reads the masses of one spool or slot as typed: part=182.4,prime=3.1,purge=14.9,changes=12, or 182.4 for part alone, also with decimal commas.
// Lengths are turned into grams of stock, which is nil where no spool is known yet.
func parseMasses(text string, stock *filament.Stock) (m ledger.Masses, err error) {
	if !strings.Contains(text, "=") {
		m.PartG, err = inventory.ParseMass(text, stock)
		return m, err
	}
	masses := map[string]*ledger.Grams{"part": &m.PartG, "support": &m.SupportG, "prime": &m.PrimeG, "purge": &m.PurgeG}
	seen := map[string]bool{}
	for _, field := range fieldsOf(text) {
		name, value, ok := strings.Cut(field, "=")
		name = strings.ToLower(ledger.Trim(name))
		if !ok || seen[name] {
			return m, fmt.Errorf("%q wants each of part, support, prime, purge and changes once, as part=182.4,purge=14.9", text)
		}
		seen[name] = true
		mass := masses[name]
		switch {
		case name == "changes":
			if err := m.Changes.UnmarshalCSV(value); err != nil || !m.Changes.Given {
				return m, fmt.Errorf("changes %q is not a whole number", value)
			}
			continue
		case mass == nil:
			return m, fmt.Errorf("%q is none of part, support, prime, purge, changes", name)
		}
		if *mass, err = inventory.ParseMass(value, stock); err != nil {
			return m, fmt.Errorf("%s %w", name, err)
		}
	}
	return m, nil
}

// fieldsOf splits NAME=MASS,NAME=MASS. A comma before a field without a name is a decimal comma.
func fieldsOf(text string) (fields []string) {
	for field := range strings.SplitSeq(text, ",") {
		if n := len(fields); n > 0 && field != "" && field[0] >= '0' && field[0] <= '9' && !strings.Contains(field, "=") {
			fields[n-1] += "," + field
		} else {
			fields = append(fields, field)
		}
	}
	return fields
}

// formatMasses writes masses as parseMasses reads them; what is 0 is left out, but for part.
func formatMasses(m ledger.Masses) string {
	words := []string{"part=" + m.PartG.String()}
	for _, kind := range []struct {
		name string
		g    ledger.Grams
	}{{"support", m.SupportG}, {"prime", m.PrimeG}, {"purge", m.PurgeG}} {
		if kind.g != 0 {
			words = append(words, kind.name+"="+kind.g.String())
		}
	}
	if m.Changes.Given {
		words = append(words, fmt.Sprintf("changes=%d", m.Changes.N))
	}
	return strings.Join(words, ",")
}

// upTo returns the masses of a print that failed at so many percent: grams half up to 0.001 g, and whole changes.
func upTo(m ledger.Masses, percent ledger.Number) ledger.Masses {
	scale := func(n int64) int64 { return percent.Decimal.Mul(ledger.Grams(n).Decimal()).Shift(1).Round(0).IntPart() }
	for _, g := range []*ledger.Grams{&m.PartG, &m.SupportG, &m.PrimeG, &m.PurgeG} {
		*g = ledger.Grams(scale(int64(*g)))
	}
	m.Changes.N = int(scale(int64(m.Changes.N)))
	return m
}

// cutTarget cuts SLOT=TARGET:MASSES apart. Names hold no colon, and masses no slash.
func cutTarget(text string) (slot, target, masses string, err error) {
	head, masses, _ := strings.Cut(text, ":")
	if i := strings.IndexByte(head, '='); i >= 0 {
		slot, head = ledger.Trim(head[:i]), head[i+1:]
		if slot == "" {
			return "", "", "", fmt.Errorf("%q has no slot before the =", text)
		}
	}
	if head = ledger.Trim(head); head == "" {
		return "", "", "", fmt.Errorf("nothing before the masses in %q", text)
	}
	return slot, head, masses, nil
}

// findTarget finds what SPOOL, SPOOL+SPOOL (used one after another) or MATERIAL/COLOUR names: spools that have not ended, or any of a
// material and colour (blank: any colour). The last slash parts the two.
func findTarget(v *ledger.View, shelf *inventory.Shelf, target string) (spools []*inventory.Spool, material, colour string, err error) {
	i := strings.LastIndexByte(target, '/')
	if i < 0 {
		if spools, err = findTurn(shelf, target); err != nil {
			return nil, "", "", err
		}
		for _, spool := range spools {
			if spool.Ended {
				return nil, "", "", fmt.Errorf("%s has ended; name another", spool.ID)
			}
		}
		return spools, spools[0].Material, spools[0].Colour, nil
	}
	if ledger.Trim(target[:i]) == "" {
		return nil, "", "", fmt.Errorf("%q names no material before the /", target)
	}
	if first, _, turn := strings.Cut(target[:i], "+"); turn && shelf.ByID[ledger.Fold(ledger.Trim(first))] != nil {
		return nil, "", "", fmt.Errorf("%q has a spool and a filament without one; name spools alone in their turn, as PLA-08+PLA-06", target)
	}
	material, err = Known(v, "material", ledger.Trim(target[:i]))
	return nil, material, ledger.Trim(target[i+1:]), err
}

// findTurn finds the spools that SPOOL or SPOOL+SPOOL names: all of one material and diameter, each once.
func findTurn(shelf *inventory.Shelf, target string) (spools []*inventory.Spool, err error) {
	ids := strings.Split(target, "+")
	if len(ids) > ledger.MostInTurn {
		return nil, fmt.Errorf("%q names %d spools; at most %d are used in turn", target, len(ids), ledger.MostInTurn)
	}
	for _, id := range ids {
		if ledger.Trim(id) == "" {
			return nil, fmt.Errorf("%q has a + with no spool beside it; name the spools in their turn, as PLA-08+PLA-06", target)
		}
		spool, err := shelf.Find(id)
		switch {
		case err != nil:
			return nil, err
		case slices.Contains(spools, spool):
			return nil, fmt.Errorf("%s stands twice in %q", spool.ID, target)
		case len(spools) > 0 && !spool.Follows(spools[0]):
			return nil, fmt.Errorf("%s is %s of %s mm and cannot follow %s, which is %s of %s mm", spool.ID, spool.Material, spool.Purchase.DiameterMM.Decimal,
				spools[0].ID, spools[0].Material, spools[0].Purchase.DiameterMM.Decimal)
		}
		spools = append(spools, spool)
	}
	return spools, nil
}

var errNotQueued = errors.New("write what it took, as SPOOL:part=182.4,purge=14.9")
