package ledger

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"
)

func look(v *View) map[string]error {
	_, settings := v.Settings()
	_, purchases := v.Purchases()
	_, weighins := v.Weighins()
	_, needs := v.Needs()
	_, moves := v.Moves()
	_, voids := v.Voids()
	f := &tally{rows: map[string]int{}}
	return map[string]error{SettingsFile: settings, Purchases: purchases, Weighins: weighins, Queue: needs, Moves: moves, Voids: voids, ConsumptionFile: v.FoldConsumption(f)}
}

// A row may name only spools, materials, cores and scales that the book knows; the message says where, and what is near.
func TestReferences(t *testing.T) {
	t.Parallel()
	const at = "2026-11-20T18:30:00Z"
	for _, c := range []struct{ file, row, want string }{
		{Purchases, "," + at + ",A,PLS,,,,,1.75,1000,,,,,,,,", `purchases.csv:4: material "PLS" is not in materials.csv; did you mean PLA?`},
		{Purchases, "," + at + ",A,Nylon,,,,,1.75,1000,,,,,,,,", `purchases.csv:4: material "Nylon" is not in materials.csv; add it to materials.csv`},
		{Purchases, "," + at + ",A,PLA,,,,,1.75,1000,cart,,,,,,,", `purchases.csv:4: core "cart" is not in cores.csv; did you mean CARD?`},
		{Purchases, "," + at + ",A,PLA,,,,,1.75,1000,,,,,,,pla-11,", `purchases.csv:4: from PLA-11 was never bought; did you mean PLA-1?`},
		{Weighins, "," + at + ",PLA-11,1,,,", `weighins.csv:2: spool PLA-11 was never bought; did you mean PLA-1?`},
		{Weighins, "," + at + ",ROOF,1,,,", `weighins.csv:2: spool ROOF was never bought; book its purchase first, with: tarebook buy`},
		{Weighins, "," + at + ",PLA-1,1,bensh,,", `weighins.csv:2: scale "bensh" is not in scales.csv; did you mean BENCH?`},
		{ConsumptionFile, "," + at + ",,,,PLA-11,1,,,,,,,", `consumption.csv:2: spool PLA-11 was never bought; did you mean PLA-1?`},
		{Queue, "," + at + ",j,,,0,PLA-11,,,1,,,,,,,,", `queue.csv:2: spool PLA-11 was never bought; did you mean PLA-1?`},
		{Queue, "," + at + ",j,,,0,,PLS,,1,,,,,,,,", `queue.csv:2: material "PLS" is not in materials.csv; did you mean PLA?`},
		{Moves, "," + at + ",PLA-11,P1/2,", `moves.csv:2: spool PLA-11 was never bought; did you mean PLA-1?`},
	} {
		rows := []string{c.row}
		if c.file == Purchases {
			rows = append(append([]string(nil), bought...), c.row)
		}
		v := view(t, newBook(t, map[string]string{c.file: lines(c.file, rows...)}))
		got := look(v)
		if fmt.Sprint(got[c.file]) != c.want {
			t.Errorf("%s: got %v, want %s", c.file, got[c.file], c.want)
		}
		// Nobody else is troubled, but for those who need the purchases.
		for file, err := range got {
			if needs := file == c.file || c.file == Purchases && file != SettingsFile && file != Voids; (err != nil) != needs {
				t.Errorf("with a fault in %s, %s says %v", c.file, file, err)
			}
		}
		var f Faults
		if !errors.As(got[c.file], &f) || f[0].File != c.file || f[0].Line == 0 {
			t.Errorf("%s: the error %v does not tell file and line", c.file, got[c.file])
		}
	}
}

// Names are matched by simple folding, wherever they stand.
func TestReferencesFold(t *testing.T) {
	t.Parallel()
	const at = "2026-11-20T18:30:00Z"
	v := view(t, newBook(t, map[string]string{
		Materials: lines(Materials, "Weiß-Kunststoff,1.2,,"),
		Cores:     lines(Cores, "ΣΕΛΑΣ,148,,"),
		Scales:    lines(Scales, "Bench,0.1,,,"),
		Purchases: lines(Purchases, ","+at+",pla-1,weiß-KUNST\u017Ftoff,,,,,1.75,1000,σελας,,,,,,,"),
		Weighins:  lines(Weighins, ","+at+",Pla-1,1,BENCH,,"),
	}))
	for file, err := range look(v) {
		if err != nil {
			t.Errorf("%s: %v", file, err)
		}
	}
}

// A spool is known when any row of purchases.csv names it, also one that is voided or broken: a fault of the
// purchase is not told again for each row of the spool.
func TestKnownSpools(t *testing.T) {
	t.Parallel()
	const at = "2026-11-20T18:30:00Z"
	files := map[string]string{
		Voids:    lines(Voids, ","+at+","+id(1)+","),
		Weighins: lines(Weighins, ","+at+",PLA-1,1,,,"),
	}
	v := view(t, newBook(t, files))
	if rows, err := v.Weighins(); err != nil || len(rows) != 1 {
		t.Errorf("a spool whose purchase is voided: %d weigh-ins, %v", len(rows), err)
	}
	if got, err := v.Spools(); err != nil || strings.Join(got, " ") != "PLA-1 PLA-2" {
		t.Errorf("spools %q, %v", got, err)
	}
	files[Purchases] = lines(Purchases, ","+at+",PLA-1,PLA,,,,,one,1000,,,,,,,,")
	_, err := view(t, newBook(t, files)).Weighins()
	if want := `purchases.csv:2: diameter_mm "one" is not a number; write digits with a dot, as 24.90`; fmt.Sprint(err) != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

// All faults of all the files that a look needs are told at once, in the order of file and line, each once.
func TestFaultsAreGathered(t *testing.T) {
	t.Parallel()
	v := view(t, newBook(t, map[string]string{
		Materials: lines(Materials, "PLA,heavy,,", "PETG,,,"),
		Weighins:  lines(Weighins, ",soon,PLA-1,1,,,", ",2026-11-20T18:30:00Z,PLA-1,much,,,"),
	}))
	_, err := v.Weighins()
	const want = `materials.csv:2: density_g_cm3 "heavy" is not a number; write digits with a dot, as 24.90
materials.csv:3: density_g_cm3 is blank or 0; write g/cm3 from the maker's data sheet, as 1.24
weighins.csv:2: at "soon" is not a time of RFC 3339; write a time with its offset, as 2026-11-20T18:30:00+01:00
weighins.csv:3: gross_g "much" is not a number; write grams with a dot, as 180.2`
	if d := cmp.Diff(want, fmt.Sprint(err)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if _, again := v.Weighins(); fmt.Sprint(again) != fmt.Sprint(err) {
		t.Errorf("asked again, it says %v", again)
	}
}

// What could not be read of one file is told once, and not again for every row that may name something in it.
func TestLostRowsAreToldOnce(t *testing.T) {
	t.Parallel()
	const at = "2026-11-20T18:30:00Z"
	for _, c := range []struct{ file, content, want string }{
		{Materials, lines(Materials, `PLA,1.24,,3" pipe`, "PETG,1.27,,"), `materials.csv:2: a quote stands where RFC 4180 allows none; put the whole field in quotes and write "" for a quote within`},
		{Materials, "material,note\nPLA,\n", "materials.csv:1: the header lacks density_g_cm3, density_u_g_cm3; it should read " + contract[Materials]},
		{Purchases, lines(Purchases, `,`+at+`,PLA-1,"PLA,,,,,1.75,1000,,,,,,,,`), `purchases.csv:2: a quote that opens in this row is never closed; close it, or write "" for a quote within quotes`},
		{Purchases, "spool\nPLA-1\n", "purchases.csv:1: the header lacks entry, at, material, colour, diameter_mm, net_g, core, tare_g, price, currency; it should read " + contract[Purchases]},
		{Scales, lines(Scales, `bench,0.1,,,"`), `scales.csv:2: a quote that opens in this row is never closed; close it, or write "" for a quote within quotes`},
	} {
		v := view(t, newBook(t, map[string]string{c.file: c.content, Weighins: lines(Weighins, ","+at+",PLA-1,1,bench,,")}))
		if _, err := v.Weighins(); fmt.Sprint(err) != c.want {
			t.Errorf("%s: got %v, want %s", c.file, err, c.want)
		}
		found, err := v.Verify(time.Date(2026, 11, 26, 0, 0, 0, 0, time.UTC), nil)
		if err != nil || len(found.Problems) != 1 {
			t.Errorf("%s: verify tells %+v, %v, want one problem", c.file, found, err)
		}
	}
}

func TestTableKeyTwice(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		file string
		rows []string
		want string
	}{
		{Materials, []string{"PLA,1.24,,", "pla,1.25,,"}, `materials.csv:3: material "pla" stands on line 2 too, with other content; keep one of them`},
		{Materials, []string{"PLA,1.24,,", "PLA,1.240,,"}, `materials.csv:3: material "PLA" stands on line 2 too, with other content; keep one of them`},
		{Materials, []string{"PLA,1.24,,", "", "PLA, 1.24 ,,"}, ""},
		{Clients, []string{"c,,1,0,,", "c,,0.5,0,2026-10-01,"}, ""}, // rates from a day on: the key is client and from
		{Clients, []string{"c,,1,0,2026-10-01,", "C,,0.5,0,2026-10-01,"}, `clients.csv:3: client "C" stands on line 2 too, with other content; keep one of them`},
		{Limits, []string{"DOOR,2,PVA,ASA,chars", "door,2,PVA,ASA,clogs"}, `limits.csv:3: limit "door nozzle 2 PVA beside ASA" stands on line 2 too, with other content; keep one of them`},
		{SettingsFile, []string{"currency,EUR", "Currency,USD"}, `settings.csv:3: setting "Currency" stands on line 2 too, with other content; keep one of them`},
	} {
		v := view(t, newBook(t, map[string]string{c.file: lines(c.file, c.rows...)}))
		var err error
		switch c.file {
		case Materials:
			_, err = v.Materials()
		case Clients:
			_, err = v.Clients()
		case Limits:
			_, err = v.Limits()
		case SettingsFile:
			_, err = v.Settings()
		}
		got := ""
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s, %q: got %q, want %q", c.file, c.rows, got, c.want)
		}
	}
}

func TestSettings(t *testing.T) {
	t.Parallel()
	// The defaults of the contract.
	want := Settings{Currency: "EUR", EnoughOdds: 0.95, EstimateU: 0.03, LabelU: 0.01, DiameterTol: 0.05, MinIntervals: 5, LeadDays: 7, ServiceLevel: 0.95}
	got, err := view(t, newBook(t, map[string]string{SettingsFile: lines(SettingsFile, "unheard,of", "lead_days,")})).Settings()
	if d := cmp.Diff(&want, got); d != "" || err != nil {
		t.Errorf("%v, defaults (-want +got):\n%s", err, d)
	}
	want = Settings{"JPY", 0.9, 0.05, 0.02, 0.03, 3, 2.5, 0.99, "bench", "P1", []string{"waste"}, []string{"tower", "lip"}, []string{"prop"},
		[]PurgeWeight{{"PLA-01", decimal.New(10, 0)}, {"PVA-02", decimal.New(5, -1)}}, "Print Loft", []string{"7 Quay Row", "Harbourside"}}
	got, err = view(t, newBook(t, map[string]string{SettingsFile: lines(SettingsFile, "CURRENCY,jpy", "enough_odds,0.90", "estimate_u,0.05", "label_u,0.02",
		"diameter_tol_mm,0.03", "min_intervals,3", "lead_days,2.5", "service_level,0.99", "scale,bench", "printer,P1", "purge_words,waste", "prime_words,tower  lip", "support_words,prop", "purge_weight,pla-01=10  PVA-02=0.5", "shop,Print Loft", "shop_lines,7 Quay Row / Harbourside")})).Settings()
	if d := cmp.Diff(&want, got); d != "" || err != nil {
		t.Errorf("%v, settings (-want +got):\n%s", err, d)
	}
}

// One pass over a ledger full of faults keeps the first hundred and says how many more there are.
func TestManyFaults(t *testing.T) {
	t.Parallel()
	bad := strings.Repeat(",2026-11-20T18:30:00Z,,,,PLA-1,x,,,,,,,\n", maxFaults+7)
	err := look(view(t, newBook(t, map[string]string{ConsumptionFile: headerBefore(ConsumptionFile) + bad})))[ConsumptionFile]
	wantError(t, err, "consumption.csv:2: part_g \"x\"", "consumption.csv:101: ", "consumption.csv: 7 more rows break a rule; see them with: tarebook verify")
}
