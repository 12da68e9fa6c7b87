package recording

import (
	"strings"
	"testing"

	"tarebook/inventory/filament"
	"tarebook/ledger"
)

func TestCutTarget(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ text, slot, target, masses, fault string }{
		{"PLA-02:182.4", "", "PLA-02", "182.4", ""},
		{"PLA-02:part=182.4,purge=3", "", "PLA-02", "part=182.4,purge=3", ""},
		{"PLA-02", "", "PLA-02", "", ""},
		{"0=PLA-02", "0", "PLA-02", "", ""},
		{"0=PLA-02:part=1", "0", "PLA-02", "part=1", ""},
		{"left = PLA/light blue : 4", "left", "PLA/light blue", " 4", ""},
		{"1=PETG/:part=120", "1", "PETG/", "part=120", ""},
		{"1=a/b/c:2", "1", "a/b/c", "2", ""},
		{"0=a=b:2", "0", "a=b", "2", ""}, // a spool or material of that name there is none
		{"=PLA-02:1", "", "", "", `"=PLA-02:1" has no slot before the =`},
		{"0=:1", "", "", "", `nothing before the masses in "0=:1"`},
		{":1", "", "", "", `nothing before the masses in ":1"`},
		{"", "", "", "", `nothing before the masses in ""`},
	} {
		slot, target, masses, err := cutTarget(c.text)
		if fault := text(err); slot != c.slot || target != c.target || masses != c.masses || fault != c.fault {
			t.Errorf("%q: got %q, %q, %q, %s; want %q, %q, %q, %s", c.text, slot, target, masses, fault, c.slot, c.target, c.masses, c.fault)
		}
	}
}

func TestParseMasses(t *testing.T) {
	t.Parallel()
	// 1.75 mm of 1.24 g/cm3: 2.40528 mm2, so 1 m weighs 2.98255 g.
	pla := &filament.Stock{DiameterMM: 1.75, Density: 1.24}
	twelve := ledger.Count{N: 12, Given: true}
	for _, c := range []struct {
		text  string
		stock *filament.Stock
		want  ledger.Masses
		fault string // its beginning
	}{
		{"182.4", pla, ledger.Masses{PartG: 182400}, ""},
		{"0.1824kg", nil, ledger.Masses{PartG: 182400}, ""},
		{"part=182.4,support=1,prime=3.1,purge=14.9,changes=12", nil, masses(182400, 1000, 3100, 14900, twelve), ""},
		{"PURGE=1g, part = 2 g", nil, ledger.Masses{PartG: 2000, PurgeG: 1000}, ""},
		{"part=0", nil, ledger.Masses{}, ""},
		{"10m", pla, ledger.Masses{PartG: 29825}, ""},
		{"part=10000mm,prime=0.5", pla, ledger.Masses{PartG: 29825, PrimeG: 500}, ""},
		{"10m", nil, ledger.Masses{}, `"10m" is a length`},
		{"", pla, ledger.Masses{}, `"" is not a mass`},
		{"part=", pla, ledger.Masses{}, `part "" is not a mass`},
		{"part=1,part=2", pla, ledger.Masses{}, `"part=1,part=2" wants each of`},
		{"part=1,", pla, ledger.Masses{}, `"part=1," wants each of`},
		{"part=1,7", pla, ledger.Masses{PartG: 1700}, ""},
		{"part=82,4,prime=3,purge=14,9 g,changes=12", nil, masses(82400, 0, 3000, 14900, twelve), ""},
		{"182,4", nil, ledger.Masses{PartG: 182400}, ""},
		{"0,1824kg", nil, ledger.Masses{PartG: 182400}, ""},
		{"1,250 kg", nil, ledger.Masses{PartG: 1250000}, ""},
		{"0,125", nil, ledger.Masses{PartG: 125}, ""},
		{"1,250", nil, ledger.Masses{}, `"1,250" may be 1.250 or 1250; write one of them`},
		{"part=1,7,8", pla, ledger.Masses{}, `part "1,7,8" is not a number`},
		{"part=1.5,7", pla, ledger.Masses{}, `part "1.5,7" is not a number`},
		{"wipe=1", pla, ledger.Masses{}, `"wipe" is none of part, support, prime, purge, changes`},
		{"part=-1", pla, ledger.Masses{}, `part "-1" is not a number`},
		{"part=1e2", pla, ledger.Masses{}, `part "1e2"`},
		{"changes=", pla, ledger.Masses{}, `changes "" is not a whole number`},
		{"changes=1.5", pla, ledger.Masses{}, `changes "1.5" is not a whole number`},
		{"changes=-1", pla, ledger.Masses{}, `changes "-1" is not a whole number`},
	} {
		got, err := parseMasses(c.text, c.stock)
		switch {
		case c.fault != "":
			if !strings.HasPrefix(text(err), c.fault) {
				t.Errorf("%q: got %s, want %s", c.text, text(err), c.fault)
			}
		case err != nil || got != c.want:
			t.Errorf("%q: got %+v, %v; want %+v", c.text, got, err, c.want)
		}
	}
}

// So much of each mass is booked as the print had come, to 0.001 g half up; changes are whole.
func TestUpTo(t *testing.T) {
	t.Parallel()
	all := masses(100001, 2500, 15, 14900, ledger.Count{N: 35, Given: true})
	for percent, want := range map[string]ledger.Masses{
		"0":    {Changes: ledger.Count{Given: true}},
		"100":  all,
		"50":   masses(50001, 1250, 8, 7450, ledger.Count{N: 18, Given: true}), // 50000.5, 7.5 and 17.5 half up
		"33.3": masses(33300, 833, 5, 4962, ledger.Count{N: 12, Given: true}),  // 33300.333, 832.5, 4.995, 4961.7, 11.655
	} {
		p, err := ledger.ParseNumber(percent)
		if err != nil {
			t.Fatal(err)
		}
		if got := upTo(all, p); got != want {
			t.Errorf("%s %%: got %+v, want %+v", percent, got, want)
		}
	}
	if got := upTo(ledger.Masses{PartG: 10}, ledger.NewNumber(ledger.Grams(50000).Decimal())); got.Changes.Given {
		t.Error("changes that were not given are given after")
	}
}

func masses(part, support, prime, purge ledger.Grams, changes ledger.Count) ledger.Masses {
	return ledger.Masses{PartG: part, SupportG: support, PrimeG: prime, PurgeG: purge, Changes: changes}
}

func text(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}
