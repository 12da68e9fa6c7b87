package ledger

import (
	"strings"
	"testing"
)

func TestMinorUnit(t *testing.T) {
	t.Parallel()
	// ISO 4217, list one, published 2024-06-25.
	for decimals, codes := range map[int32]string{
		0: "JPY KRW ISK CLP VND PYG UGX XOF XAF XPF RWF VUV BIF DJF GNF KMF UYI",
		2: "USD EUR GBP CHF HUF MGA MRU XCG ANG", // XCG, of amendment 176, from memory
		3: "KWD BHD TND IQD JOD LYD OMR",
		4: "CLF UYW",
	} {
		for code := range strings.FieldsSeq(codes) {
			if got, ok := MinorUnit(code); !ok || got != decimals {
				t.Errorf("MinorUnit(%s) = %d, %t, want %d", code, got, ok, decimals)
			}
		}
	}
	// Gold has no minor unit in the list; the rest are no codes.
	for _, code := range []string{"XAU", "", "EU", "EURO", "eur", "R G", " EU", "EUR ", "ZZZ", "UR "} {
		if got, ok := MinorUnit(code); ok {
			t.Errorf("MinorUnit(%q) = %d, want none", code, got)
		}
	}
	seen := map[string]bool{}
	for code := range strings.FieldsSeq(strings.Join([]string{codes0, codes2, codes3, codes4}, " ")) {
		if len(code) != 3 || seen[code] {
			t.Errorf("%q stands twice, or is no code", code)
		}
		seen[code] = true
	}
}
