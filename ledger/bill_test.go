package ledger

import (
	"strings"
	"testing"
)

// The seal of clients.csv is of the rows in force: those whose from is blank or not after the day of its through.
func TestSealOfClients(t *testing.T) {
	t.Parallel()
	const dock, mole, later = "dock,Dock,0.50,,2026-10-01,", "mole,,1,0,,by word", "dock,Dock,0.75,,2026-11-05,"
	moves := lines(Moves, entryAt("2026-10-05T08:00:00Z", 1)+",2026-10-05T08:00:00Z,PLA-1,shelf,")
	b := newBook(t, map[string]string{Moves: moves, Clients: lines(Clients, mole, dock, later)})
	seals, err := seal(t, b, "2026-10-31T23:59:59Z", "2026-11-04T08:00:00Z", false)
	if err != nil {
		t.Fatal(err)
	}
	// The forms by hand, numbers in their shortest form, in their own order.
	want := sumOf(form(Clients, "dock", "Dock", "0.5", "", "2026-10-01", ""), form(Clients, "mole", "", "1", "0", "", "by word"))
	got := seals[len(seals)-1]
	if got.Ledger != Clients || got.Month != "" || got.Rows.N != 2 || got.SHA256 != want {
		t.Errorf("sealed %s %q, %d rows, %s; want 2 rows, %s", got.Ledger, got.Month, got.Rows.N, got.SHA256, want)
	}
	for _, c := range []struct{ name, clients, want string }{
		{"nothing", lines(Clients, mole, dock, later), ""},
		{"other lines first, numbers as a spreadsheet saves them, a row twice", lines(Clients, "dock,Dock,0.5,,2026-10-01,", later, mole, mole), ""},
		{"rates to come", lines(Clients, mole, dock, "dock,Dock,1,,2026-11-05,"), ""},
		{"a rate edited", lines(Clients, mole, "dock,Dock,0.6,,2026-10-01,", later), "the seal no longer holds for clients.csv, sealed through 2026-10-31T23:59:59Z: of 2 rows one or more were changed"},
		{"a rate back-dated", lines(Clients, mole, dock, later, "mole,,0,0,2026-10-15,"), "2 rows were sealed and 3 are there now"},
		{"a rate gone", lines(Clients, mole), "of 2 rows 1 are gone"},
	} {
		write(t, b.Dir, map[string]string{Clients: c.clients})
		problems, hold := looksOver(t, b)
		if holds := hold == len(seals); holds != (c.want == "") || !strings.Contains(problems, c.want) || c.want == "" && problems != "" {
			t.Errorf("%s: %d of %d seals hold, %s", c.name, hold, len(seals), problems)
		}
	}
	if _, err := seal(t, b, "2026-11-03T23:59:59Z", "2026-11-04T08:00:00Z", false); err == nil || !strings.Contains(err.Error(), "seal it as it is now with --again") {
		t.Errorf("sealed again in silence: %v", err)
	}
	if _, err := seal(t, b, "2026-11-03T23:59:59Z", "2026-11-04T08:00:00Z", true); err != nil {
		t.Error(err)
	}
	if seals, err := seal(t, b, "2026-11-03T23:59:59Z", "2026-11-04T08:00:00Z", false); err != nil || len(seals) != 0 {
		t.Errorf("sealed as far a second time: %v, %v", seals, err)
	}
}

// A number is of one client and period, and has one row a currency.
func TestBillNumbersAreUnique(t *testing.T) {
	t.Parallel()
	row := func(n int, number, client, to, currency string) string {
		return id(n) + ",2026-11-02T08:00:00Z," + number + "," + client + ",2026-10-01," + to + "," + currency + ",1,1," + strings.Repeat("ab", 32) + ","
	}
	const to = "2026-10-31"
	for _, c := range []struct {
		name string
		rows []string
		want string
	}{
		{"a row a currency", []string{row(5, "2026-1", "pellam", to, "EUR"), row(6, "2026-1", "Pellam", to, "jpy"), row(7, "2026-2", "pellam", to, "EUR")}, ""},
		{"another client", []string{row(5, "A-1", "pellam", to, "EUR"), row(6, "a-1", "dorrow", to, "EUR")}, `bill "A-1" stands on lines 2 and 3`},
		{"another period", []string{row(5, "2026-1", "pellam", to, "EUR"), row(6, "2026-1", "pellam", "2026-10-30", "USD")}, "lines 2 and 3"},
		{"a currency twice", []string{row(5, "2026-1", "pellam", to, "EUR"), row(6, "2026-1", "pellam", to, "EUR")}, "lines 2 and 3"},
	} {
		v := view(t, newBook(t, map[string]string{Bills: lines(Bills, c.rows...)}))
		bills, err := v.Bills()
		if err != nil || len(bills) != len(c.rows) {
			t.Fatalf("%s: %d bills, %v", c.name, len(bills), err)
		}
		var told []string
		for _, conflict := range v.Conflicts() {
			told = append(told, conflict.Error())
		}
		if got := strings.Join(told, "\n"); (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: told %q, want %q", c.name, got, c.want)
		}
	}
	v := view(t, newBook(t, map[string]string{Bills: lines(Bills, row(5, "East-7", "pellam", to, "EUR")), Voids: lines(Voids, id(6)+",2026-11-03T08:00:00Z,"+id(5)+",")}))
	numbers, err := v.BillNumbers()
	if bills, _ := v.Bills(); err != nil || len(bills) != 0 || !numbers[Fold("EAST-7")] {
		t.Errorf("a cancelled bill: %d bills, numbers %v, %v", len(bills), numbers, err)
	}
}
