package ledger

import (
	"strings"
	"testing"
)

// Whatever bytes a file of the book holds, reading them ends, and keeps no more than a row or a fault for each line.

func FuzzLedger(f *testing.F) {
	const at = "2026-11-20T18:30:00Z"
	for _, row := range []string{
		"," + at + ",PLA-1,PLA,,,,,1.75,1000,,,,,,,,\n", "," + at + ",PLA-1,812.5,bench,dried,\"a\nb\"\n", "," + at + ",job,,,PLA-1,1,2,3,4,5,failed,path,x\n",
		id(1) + "," + at + "," + id(2) + ",why\n", id(1) + "," + at + "," + at + ",moves.csv,2026-10,3," + strings.Repeat("ab", 32) + "\n", "\"", "\x00,\xff\n\n,,,,,,,,,,,,,,,,,,,,,,,,\n",
	} {
		f.Add("", row)
	}
	f.Add("at,spool,gross_g,state,entry,scale\r\n", at+",PLA-1,1,,,\r\n")
	f.Fuzz(func(t *testing.T, header, rows string) {
		readsOn(t, Purchases, header, rows, decode[Purchase])
		readsOn(t, Weighins, header, rows, decode[Weighin])
		readsOn(t, ConsumptionFile, header, rows, decode[Consumption])
		readsOn(t, Queue, header, rows, decode[Need])
		readsOn(t, Moves, header, rows, decode[Move])
		readsOn(t, Voids, header, rows, decode[Void])
		readsOn(t, Seals, header, rows, decode[Seal])
		readsOn(t, Bills, header, rows, decode[Bill])
	})
}

func readsOn[T any](t *testing.T, file, header, rows string, decode func(*scanner) (decoded[T], error)) {
	content := header + rows
	if header == "" {
		content = headerBefore(file) + rows
	}
	d, err := decode(scanText(content))
	if err != nil && faultsOf(err) == nil {
		t.Fatalf("%s: %v", file, err)
	}
	if most := strings.Count(content, "\n") + 1; len(d.rows) > most {
		t.Fatalf("%s: %d rows of %d lines", file, len(d.rows), most)
	}
	for _, row := range d.rows {
		if h := any(row).(Row).head(); h.ID == "" || h.At.IsZero() || h.canonical() == "" {
			t.Fatalf("%s: row %+v has no name or no time", file, row)
		}
	}
}

func FuzzSettings(f *testing.F) {
	for _, rows := range []string{"currency,EUR\n", "min_intervals,1e3\n", "min_intervals,99999999999999999999999\n", "enough_odds,0.95\n\"scale\",\"ben\"\"ch\"\n", "enough_odds,1.5\n",
		"lead_days,7\nlead_days,8\n", "purge_words,a b\n", "service_level,\n", "Currency,xxx\n", "\"", "\ufeff,\n"} {
		f.Add("", rows)
	}
	f.Fuzz(func(t *testing.T, header, rows string) {
		if header == "" {
			header = Header(SettingsFile)
		}
		d, err := decode[Setting](scanText(header + rows))
		if err != nil {
			if faultsOf(err) == nil {
				t.Fatal(err)
			}
			return
		}
		s := defaultSettings()
		for _, line := range d.rows {
			if err := s.set(line); err != nil {
				t.Fatalf("%q passes as a row, yet %v", line.Value, err)
			}
		}
		if _, ok := MinorUnit(s.Currency); !ok || !(s.EnoughOdds >= 0 && s.EnoughOdds <= 1) || !(s.EstimateU >= 0) || s.MinIntervals < 0 {
			t.Fatalf("%q gives %+v", header+rows, s)
		}
	})
}

// What is pending is either what was written or not taken.
func FuzzPending(f *testing.F) {
	p := pending{file: Moves, before: -1, entries: span{id(1), id(1), 1}, batch: "rows\n", id: "7"}
	f.Add(p.text())
	f.Add("moves.csv 1 2 ab cd\n")
	f.Fuzz(func(t *testing.T, text string) {
		if p, ok := parsePending(text); ok && p.text() != text {
			t.Fatalf("%q reads as %q", text, p.text())
		}
	})
}
