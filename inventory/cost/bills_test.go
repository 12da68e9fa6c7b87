package cost_test

import (
	"crypto/sha256"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"tarebook/inventory/booktest"
	"tarebook/inventory/cost"
)

// entry returns the nth entry of a test's book.
func entry(n int) string { return fmt.Sprintf("01K1000000000000000000%04d", n) }

// billed is a book whose client was sent a bill, as entry 50: 30.5 g at 24.90/750 a gram are 1.0126, half of 12.3 g 0.20418, a quarter
// of 10 g of a failed print 0.083.
var billed = map[string]string{
	"rates":  "clients client=mole waste_billed=0.50 scrap_billed=0.25 from=2026-01-01",
	"A":      "purchases entry=" + entry(1) + " at=0 spool=A net_g=750 price=24.90",
	"B":      "purchases entry=" + entry(2) + " at=0 spool=B net_g=1000",
	"Y":      "purchases entry=" + entry(3) + " at=0 spool=Y net_g=3 price=1 currency=JPY",
	"part":   "consumption entry=" + entry(10) + " at=2026-01-03T00:00:00Z job=Straße client=mole spool=A part_g=30.5 purge_g=12.3",
	"scrap":  "consumption entry=" + entry(11) + " at=2026-01-04T00:00:00Z job=STRASSE client=Mole spool=A part_g=10 outcome=failed",
	"second": "consumption entry=" + entry(12) + " at=2026-01-05T00:00:00Z job=KITE client=mole spool=A part_g=5 support_g=2",
	"free":   "consumption entry=" + entry(13) + " at=2026-01-05T00:00:00Z job=kite client=mole spool=B part_g=5",
	"yen":    "consumption entry=" + entry(14) + " at=2026-01-05T00:00:00Z job=kite client=mole spool=Y part_g=1.5",
	"other":  "consumption entry=" + entry(15) + " at=2026-01-05T00:00:00Z job=kite client=dock spool=A part_g=5",
	"bill": "bills entry=" + entry(50) + " at=800 bill=2026-001 client=mole from=2026-01-01 to=2026-01-31 currency=EUR billed=1.50 lines=6 sha256=" +
		sumOf("kite|A|part|5.000|0.033200000000|1|0.17|0.17", "kite|A|support|2.000|0.033200000000|0.5|0.07|0.03", "kite|B|part|5.000||1||",
			"strasse|A|scrap|10.000|0.033200000000|0.25|0.33|0.08", "straße|A|part|30.500|0.033200000000|1|1.01|1.01", "straße|A|purge|12.300|0.033200000000|0.5|0.41|0.20"),
}

// sumOf is the digest of lines by the contract's words: fields joined by U+001F, each line ended by LF (FIPS 180-4, by the standard
// library).
func sumOf(lines ...string) string {
	text := strings.ReplaceAll(strings.Join(lines, "\n")+"\n", "|", "\x1f")
	return fmt.Sprintf("%x", sha256.Sum256([]byte(text)))
}

// changedBill returns what verify says of the bill's book with some of its rows instead, and others added.
func changedBill(t *testing.T, instead map[string]string, more ...string) string {
	t.Helper()
	var rows []string
	for name, row := range billed {
		if other, ok := instead[name]; ok {
			row = other
		}
		if row != "" {
			rows = append(rows, row)
		}
	}
	problems, err := cost.VerifyBills(booktest.View(t, strings.Join(append(rows, more...), "\n")))
	if err != nil {
		t.Fatal(err)
	}
	var told []string
	for _, p := range problems {
		told = append(told, p.File+": "+p.What)
	}
	return strings.Join(told, "\n")
}

// The lines come to 1.01 + 0.20 + 0.08 + 0.17 + 0.03 = 1.49, where the row says 1.50.
func TestBillIsOfItsLines(t *testing.T) {
	t.Parallel()
	row := strings.Replace(billed["bill"], "billed=1.50", "billed=1.49", 1)
	if told := changedBill(t, map[string]string{"bill": row}); told != "" {
		t.Errorf("told of %s", told)
	}
	if told := changedBill(t, nil); !strings.Contains(told, "it says 1.50 EUR in 6 lines, the book now says 1.49 EUR in 6 lines: 0.01 less; the lines are those that were sent, so this row itself was edited") {
		t.Errorf("an amount that is not that of the lines: %s", told)
	}
	s := statement(t, booktest.View(t, strings.Join(slices.Collect(maps.Values(billed)), "\n")), "mole", "2026-01-01", "2026-01-31")
	if sent := s.Sent("JPY"); sent.SHA256 != sumOf("kite|Y|part|1.500|0.333333333333|1|1|1") || sent.Lines != 1 || sent.Billed.String() != "1" { // half a yen, up
		t.Errorf("in yen: %+v", sent)
	}
}

// What changes after a bill is named with it, by how much and since when.
func TestVerifyBillsNamesTheChange(t *testing.T) {
	t.Parallel()
	sent := strings.Replace(billed["bill"], "billed=1.50", "billed=1.49", 1)
	for _, c := range []struct {
		name    string
		instead map[string]string
		more    []string
		want    []string // parts of what is told; none: nothing is
		only    bool     // of the bill alone: no row of consumption is named
	}{
		{"nothing", nil, nil, nil, true},
		{"rows of another client or time", nil, []string{"consumption entry=" + entry(60) + " at=2026-01-05T00:00:00Z job=kite client=dock spool=A part_g=5",
			"consumption entry=" + entry(61) + " at=2026-02-01T00:00:00Z job=kite client=mole spool=A part_g=5"}, nil, true},
		{"a late row in a currency that the bill has nothing in", nil, []string{"consumption entry=" + entry(60) + " at=2026-01-31T00:00:00Z job=kite client=mole spool=Y part_g=5"},
			[]string{"consumption.csv: was recorded on", "after bill 2026-001 for that time was issued"}, false},
		{"a rate to come", nil, []string{"clients client=mole waste_billed=1 from=2026-02-01"}, nil, true},
		{"a late row", nil, []string{"consumption entry=" + entry(60) + " at=2026-01-05T00:00:00Z job=kite client=MOLE spool=A part_g=5"},
			[]string{"the book now says 1.65 EUR in 6 lines: 0.16 more; since then consumption.csv:", "was recorded on", "after bill 2026-001 for that time was issued"}, false},
		{"a row that is cancelled", nil, []string{"voids entry=" + entry(60) + " at=900 target=" + entry(10)},
			[]string{"the book now says 0.28 EUR in 4 lines: 1.21 less; since then consumption.csv:", "was cancelled by voids.csv:2", "is on bill 2026-001, and was cancelled afterwards", "(voids.csv:2)"}, false},
		{"a row that was cancelled before, and comes late", nil, []string{"voids entry=" + entry(49) + " at=700 target=" + entry(60), "consumption entry=" + entry(60) + " at=2026-01-05T00:00:00Z job=kite client=mole spool=A part_g=5"}, nil, true},
		{"a spool bought again for another price", nil, []string{"voids entry=" + entry(60) + " at=900 target=" + entry(1), "purchases entry=" + entry(61) + " at=0 spool=A net_g=750 price=30"},
			// 0.04 a gram: 1.22 + 0.25 + 0.10 + 0.20 + 0.04
			[]string{"1.81 EUR in 6 lines: 0.32 more; since then purchases.csv:", "gives A another price"}, true},
		{"a spool whose purchase is cancelled", nil, []string{"voids entry=" + entry(60) + " at=900 target=" + entry(1)},
			[]string{"the book now says 0.00 EUR in 1 line: 1.49 less; since then the purchase of A (purchases.csv:", "was cancelled"}, true},
		{"a price edited", map[string]string{"A": strings.Replace(billed["A"], "24.90", "27.50", 1)}, nil,
			// 0.036667 a gram: 1.12 + 0.23 + 0.09 + 0.18 + 0.04
			[]string{"1.66 EUR in 6 lines: 0.17 more; it would agree if the price of A in purchases.csv:", " were 24.90; it is 27.5 now"}, true},
		{"a price taken out", map[string]string{"A": strings.Replace(billed["A"], " price=24.90", "", 1)}, nil,
			[]string{"0.00 EUR in 6 lines: 1.49 less; it would agree if the price of A in purchases.csv:", " were 24.90; it is blank now"}, true},
		{"a price put in", map[string]string{"B": billed["B"] + " price=20"}, nil,
			[]string{"1.59 EUR in 6 lines: 0.10 more; it would agree if the price of B in purchases.csv:", " were blank"}, true},
		{"a rate of waste edited", map[string]string{"rates": strings.Replace(billed["rates"], "0.50", "0.875", 1)}, nil,
			// 0.40836 and 0.0664 by 0.875: 0.36 and 0.06
			[]string{"1.68 EUR in 6 lines: 0.19 more; it would agree if waste_billed in clients.csv:2 were 0.5; it is 0.875 now"}, true},
		{"a rate of scrap edited", map[string]string{"rates": strings.Replace(billed["rates"], "0.25", "0.3", 1)}, nil,
			[]string{"it would agree if scrap_billed in clients.csv:2 were 0.25; it is 0.3 now"}, true},
		{"rates added", nil, []string{"clients client=mole waste_billed=0.6 scrap_billed=1 from=2026-01-04"},
			[]string{"it would agree without the rates in clients.csv:", ", which were added"}, true},
		{"a row edited", map[string]string{"second": strings.Replace(billed["second"], "part_g=5", "part_g=6", 1)}, nil,
			[]string{"1.52 EUR in 6 lines: 0.03 more; no single figure explains it"}, true},
		{"a late row and a rate", map[string]string{"rates": strings.Replace(billed["rates"], "0.50", "0.875", 1)}, []string{"consumption entry=" + entry(60) + " at=2026-01-05T00:00:00Z job=kite client=MOLE spool=A part_g=5"},
			[]string{"since then consumption.csv:", "; besides, it would agree if waste_billed in clients.csv:2 were 0.5; it is 0.875 now"}, false},
		{"a bill that is cancelled", nil, []string{"voids entry=" + entry(60) + " at=900 target=" + entry(50), "voids entry=" + entry(61) + " at=900 target=" + entry(10)}, nil, true},
	} {
		instead := map[string]string{"bill": sent}
		for name, row := range c.instead {
			instead[name] = row
		}
		told := changedBill(t, instead, c.more...)
		ok := (told == "") == (len(c.want) == 0)
		for _, part := range c.want {
			ok = ok && strings.Contains(told, part)
		}
		if !ok || c.only && strings.Contains(told, "consumption.csv: ") {
			t.Errorf("%s: told\n%s\nwant\n%s", c.name, told, strings.Join(c.want, "\n"))
		}
	}
}

// No bill has the rows that came after it, those of other times and of currencies that were not billed.
func TestUnbilled(t *testing.T) {
	t.Parallel()
	rows := append(slices.Collect(maps.Values(billed)), "consumption entry="+entry(60)+" at=2026-01-05T00:00:00Z job=late client=mole spool=A part_g=1",
		"consumption at=2026-01-06T00:00:00Z job=hand client=mole spool=A part_g=1", // it does not say when it was recorded
		"consumption entry="+entry(20)+" at=2026-02-05T00:00:00Z job=next client=mole spool=A part_g=1")
	s, err := cost.NewUnbilled(booktest.View(t, strings.Join(rows, "\n")), "mole", "", "")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, row := range s.Rows {
		got = append(got, row.Job+" "+row.Currency)
	}
	if want := "KITE JPY; late EUR; next EUR"; strings.Join(got, "; ") != want {
		t.Errorf("got %s, want %s", strings.Join(got, "; "), want)
	}
}
