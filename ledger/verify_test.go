package ledger

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// givenOn is a judge who finds something wrong with every row.
type givenOn struct{ noJudge }

func (givenOn) Judge(*Consumption) string { return "given" }
func (g givenOn) Split() Judge            { return g }

func verified(t *testing.T, files map[string]string) (text string, given []string) {
	t.Helper()
	found, err := view(t, newBook(t, files)).Verify(mustTime("2026-11-25T12:00:00Z").Std(), givenOn{})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%d entries\n", found.Entries)
	for _, p := range found.Problems {
		if p.What == "given" {
			given = append(given, fmt.Sprint(p.Line))
			continue
		}
		fmt.Fprintf(&b, "%s:%d %s %s\n", p.File, p.Line, p.Entry, p.What)
	}
	return b.String(), given
}

func TestVerify(t *testing.T) {
	t.Parallel()
	const at = "2026-11-20T18:30:00Z"
	row := func(entry, note string) string { return entry + "," + at + ",j,,,PLA-1,1,,,,,,," + note }
	for _, c := range []struct {
		name  string
		files map[string]string
		want  []string // a part of each line, in order
		given string   // lines of consumption.csv given on
	}{
		{"all is well", map[string]string{ConsumptionFile: lines(ConsumptionFile, row(id(5), ""))}, []string{"3 entries"}, "2"},
		{"each entry once, in late order too", map[string]string{ConsumptionFile: lines(ConsumptionFile, row(id(5), ""), row(id(6), ""), row(id(5), ""), row("", "x"), row("", "x"))},
			[]string{"5 entries"}, "2 3 5"},
		{"conflicts", map[string]string{ConsumptionFile: lines(ConsumptionFile, row(id(5), "a"), row(id(6), ""), row(id(5), "b"))},
			[]string{"4 entries", "consumption.csv:2 " + id(5) + " entry " + id(5) + " stands with different contents on lines 2 and 4"}, "3"},
		{"conflicts beside faults", map[string]string{ConsumptionFile: lines(ConsumptionFile, row(id(5), "a"), row(id(6), ""), row(id(5), "b"), row("X", ""))},
			[]string{"4 entries", "consumption.csv:2 " + id(5) + " entry", "consumption.csv:5  entry \"X\" is not a ULID"}, "3"},
		{"conflicts of seals", map[string]string{Seals: lines(Seals, id(5)+","+at+",2026-10-31T23:59:59Z,weighins.csv,2026-10,0,"+strings.Repeat("ab", 32), id(5)+","+at+",2026-10-31T23:59:59Z,weighins.csv,2026-10,0,"+strings.Repeat("cd", 32))},
			[]string{"3 entries", "seals.csv:2 " + id(5) + " entry"}, ""},
		{"seals that are none", map[string]string{Seals: lines(Seals, id(5)+","+at+",2026-10,weighing.csv,2026-13,,ab")},
			[]string{"2 entries", `seals.csv:2  through "2026-10" is not a time`}, ""},
		{"seals that break the rules of their row", map[string]string{Seals: lines(Seals, id(5)+","+at+",,weighing.csv,2026-13,,ab")},
			[]string{"2 entries", "seals.csv:2  through is blank", `seals.csv:2  ledger "weighing.csv" is none of`, `seals.csv:2  month "2026-13" is no month`, "seals.csv:2  rows is blank", `seals.csv:2  sha256 "ab" is no SHA-256`}, ""},
		{"times that no clock can have shown", map[string]string{Moves: lines(Moves, id(5)+",2027-11-20T18:30:00Z,PLA-1,,", id(6)+",0206-11-20T18:30:00Z,PLA-1,,"), ConsumptionFile: lines(ConsumptionFile, id(7)+",2026-11-26T12:00:01Z,,,,PLA-1,1,,,,,,,", id(8)+",2026-11-26T12:00:00Z,,,,PLA-1,1,,,,,,,")},
			[]string{"6 entries", "consumption.csv:2 " + id(7) + " at 2026-11-26T12:00:01Z lies more than a day in the future", "moves.csv:2 " + id(5) + " at 2027", "moves.csv:3 " + id(6) + " at 0206"}, "2 3"},
		{"a void of nothing", map[string]string{Voids: lines(Voids, id(5)+","+at+","+id(9)+",")},
			[]string{"3 entries", `voids.csv:2 ` + id(5) + ` target "` + id(9) + `" is no entry of this book`}, ""},
		{"voided rows count as entries", map[string]string{ConsumptionFile: lines(ConsumptionFile, row(id(5), "")), Voids: lines(Voids, id(6)+","+at+","+id(5)+",")},
			[]string{"4 entries"}, ""},
		{"unknown client and printer", map[string]string{ConsumptionFile: lines(ConsumptionFile, id(5)+","+at+",j,who,what,PLA-1,1,,,,,,,")},
			[]string{"3 entries", `client "who" is not in clients.csv`, `printer "what" is not in printers.csv`}, "2"},
		{"clients and printers that could not be read", map[string]string{Clients: lines(Clients, `pellam,"`), Printers: lines(Printers, "what,none,,,,,,"), Purges: lines(Purges, "what,,a,,b,1", "other,,a,,b,1"),
			ConsumptionFile: lines(ConsumptionFile, id(5)+","+at+",j,who,what,PLA-1,1,,,,,,,")},
			[]string{"3 entries", "printers.csv:2  feeds", `purges.csv:3  printer "other" is not in printers.csv`, "clients.csv:2  a quote that opens in this row is never closed"}, "2"},
		{"weights of spools that could not be read", map[string]string{SettingsFile: lines(SettingsFile, "purge_weight,PLA-9=2"), Purchases: lines(Purchases, bought[0], `"`)},
			[]string{"1 entries", "purchases.csv:3  a quote that opens in this row is never closed"}, ""},
		{"an unknown setting", map[string]string{SettingsFile: lines(SettingsFile, "curency,EUR")},
			[]string{"2 entries", `settings.csv:2  setting "curency" is not known; did you mean currency?`}, ""},
		{"rows of a spool without a purchase that counts", map[string]string{ConsumptionFile: lines(ConsumptionFile, row(id(5), "")), Voids: lines(Voids, id(6)+","+at+","+id(1)+",")},
			[]string{"4 entries", "consumption.csv:2 " + id(5) + " spool PLA-1 has no purchase that counts; the row is left out"}, ""},
		{"a broken purchase, not those of other spools", map[string]string{Purchases: lines(Purchases, id(1)+","+at+",PLA-1,PLA,,,,,1.75,1000,,,,,,,,", id(2)+","+at+",PLA-2,WOOD,,,,,1.75,1000,,,,,,,,"),
			Moves: lines(Moves, id(5)+","+at+",PLA-1,,"), Voids: lines(Voids, id(6)+","+at+","+id(2)+",")},
			[]string{"3 entries", "purchases.csv:3  material \"WOOD\" is not in materials.csv"}, ""},
		{"one entry in two files", map[string]string{Moves: lines(Moves, id(5)+","+at+",PLA-1,,"), Weighins: lines(Weighins, id(5)+","+at+",PLA-1,1,,,")},
			[]string{"3 entries", "moves.csv:2 " + id(5) + " entry " + id(5) + " stands in weighins.csv too"}, ""},
		{"rows that break rules, of every file", map[string]string{Printers: lines(Printers, "P1,none,,,,,,"), Moves: lines(Moves, ",soon,PLA-1,,"), ConsumptionFile: lines(ConsumptionFile, ",,,,,PLA-9,1,,,,,,,", "\"")},
			[]string{"2 entries", "printers.csv:2  feeds", "consumption.csv:2  at is blank", "consumption.csv:3  a quote that opens in this row is never closed", "moves.csv:2  at"}, ""},
	} {
		got, given := verified(t, c.files)
		found := strings.Split(strings.TrimSpace(got), "\n")
		ok := len(found) == len(c.want)
		for i := range min(len(found), len(c.want)) {
			ok = ok && strings.Contains(found[i], c.want[i])
		}
		if !ok {
			t.Errorf("%s: got\n%swant\n%s", c.name, got, strings.Join(c.want, "\n"))
		}
		if d := cmp.Diff(c.given, strings.Join(given, " ")); d != "" {
			t.Errorf("%s: rows given on (-want +got):\n%s", c.name, d)
		}
	}
}

// Every fault is told, however many.
func TestVerifyTellsAllFaults(t *testing.T) {
	t.Parallel()
	bad := strings.Repeat(",2026-11-20T18:30:00Z,,,,PLA-1,x,,,,,,,\n", 3*maxFaults)
	got, _ := verified(t, map[string]string{ConsumptionFile: headerBefore(ConsumptionFile) + bad})
	if n := strings.Count(got, "part_g"); n != 3*maxFaults {
		t.Errorf("%d faults told, want %d", n, 3*maxFaults)
	}
}
