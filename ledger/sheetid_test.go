package ledger

import "testing"

func TestReadBySheets(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		ids   []string
		taken bool
	}{
		{[]string{"0042", "00", "1E5", "12E-3", "12-", "1234567890123", "TRUE", "FALSCH", "NA", "NULL", "MAR-1", "MAR1", "1-MAR", "1-MAR-26", "SEPT2", "DEZ-24", "MARCH-1",
			"MRZ-2026", "1-2", "2026-03", "2026-03-01", "23-001", "5MAI", "JUILLET-14"}, true},
		{[]string{"0", "42", "PLA-1", "PLA-001", "A0042", "0042A", "E5", "1E", "1E5A", "MAR", "MARS", "MAR-A1", "MARBLE-1", "X-1-2", "1-2-X", "DECK-1", "TRUE-1", "NAN-1", "1-2-3-4",
			"2026-PLA-3", "PA12-01"}, false},
	} {
		for _, id := range c.ids {
			if got := ReadBySheets(id); (got != "") != c.taken {
				t.Errorf("%s: got %q, want one: %v", id, got, c.taken)
			}
		}
	}
}
