package main

import (
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"testing"

	"tarebook/inventory"
	"tarebook/inventory/cost"
	"tarebook/inventory/recording"
	"tarebook/ledger"
	"tarebook/reports"
)

// answersJSON are the forms of what each command answers with --format json.
var answersJSON = func() map[string][]shape {
	receipt := []shape{{value: reports.Receipt{}}}
	one := func(r reports.Report) []shape { return []shape{{value: encoded(r)}} }
	keys := slices.DeleteFunc(slices.Clone(cost.GroupKeys), func(key string) bool { return key == "job" || key == "printer" })
	return map[string][]shape{
		"buy": receipt, "weigh": receipt, "consume": receipt, "queue add": receipt, "queue drop": receipt, "move": receipt, "void": receipt,
		"init": receipt, "define": receipt, "seal": receipt,
		"queue list": one(reports.Queue{}),
		"recent":     {{when: "the last commands", value: reports.Recent{}}, {when: "with --all: rows", value: reports.Register{}}},
		"stock":      one(reports.Stock{}), "reconcile": one(reports.Reconcile{}), "check": one(reports.Check{}), "card": one(reports.Card{}),
		"waste": {{value: encoded(reports.Waste{}), by: keys}, {when: "with --by job", value: encoded(reports.Waste{By: "job"}), by: []string{"job"}},
			{when: "with --by printer", value: encoded(reports.Waste{By: "printer"}), by: []string{"printer"}}},
		"statement": {{value: encoded(reports.Statement{})}, {when: "with --house", value: encoded(reports.House{})}, {when: "with --issued", value: encoded(reports.Bills{})}},
		"toolpath":  {{when: "of one file", value: encoded(reports.Toolpaths{{}})}, {when: "of several files", value: encoded(reports.Toolpaths{})}},
		"plan":      one(reports.Plan{}), "machines": one(reports.Machines{}), "quote": one(reports.Quote{}), "reorder": one(reports.Reorder{}),
		"import": {{value: reports.Receipt{}}, {when: "with --columns", value: reports.ImportColumns{}},
			{when: "with --dry-run, as spools", value: ledgerRows{recording.OfSpools, ledger.Purchases, reflect.TypeFor[ledger.Purchase]()}},
			{when: "with --dry-run, as weighins", value: ledgerRows{recording.OfWeighins, ledger.Weighins, reflect.TypeFor[ledger.Weighin]()}},
			{when: "with --dry-run, as jobs", value: ledgerRows{recording.OfJobs, ledger.ConsumptionFile, reflect.TypeFor[ledger.Consumption]()}}},
		"verify": one(reports.Verify{}), "label": one(reports.Labels{}),
	}
}()

// encoded returns what a report encodes as JSON.
func encoded(r reports.Report) any {
	if r, ok := r.(interface{ JSON() any }); ok {
		return r.JSON()
	}
	return r
}

// closed are the words that a property may hold, by its name or by its struct and name.
var closed = map[string][]string{
	"verdict": inventory.Verdicts, "spool_from": {inventory.SpoolNamed, inventory.SpoolLoaded, inventory.SpoolChosen, inventory.SpoolNone},
	"tare_from": {inventory.TareEmpty, inventory.TarePurchase, inventory.TareCore, inventory.TareLabel, inventory.TareNone},
	"flags":     reports.StockFlags, "kind": cost.KindNames[:], "layers_from": {"comments", "z"},
	"basis":               {"", ledger.Sliced, ledger.Path, ledger.Weighed},
	"Consumption.outcome": {ledger.Finished, ledger.Failed}, "Consumption.basis": {ledger.Sliced, ledger.Path, ledger.Weighed},
	"Weighin.state":        {ledger.Loaded, ledger.Dried, ledger.Empty, ledger.Discarded},
	"RegisterRow.state":    {"", ledger.Loaded, ledger.Dried, ledger.Empty, ledger.Discarded, ledger.Finished, ledger.Failed},
	"CardLine.what":        {inventory.EventBought, inventory.EventWeighed, inventory.EventConsumed, inventory.EventWoundOff, inventory.EventMoved},
	"Receipt.file":         slices.Concat([]string{""}, ledger.Tables, ledger.Ledgers),
	"ReceiptRow.file":      slices.Concat(ledger.Tables, ledger.Ledgers),
	"RecentLine.file":      ledger.Ledgers,
	"RegisterRow.file":     ledger.Ledgers,
	"StatementRow.outcome": {"", ledger.Finished, ledger.Failed, "finished and failed"},
}

// The schemas are those of the structs and their comments as they are. A command that takes --format has one; no other has.
func TestSchemas(t *testing.T) {
	t.Parallel()
	comments := commentsOf(t, "reports", "ledger")
	columns := map[string]string{}
	for _, kind := range recording.ImportKinds {
		all, err := recording.ImportColumns(kind)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range all {
			columns[c.Name], columns[kind+"."+c.Name] = c.About, c.About
		}
	}
	want := map[string]string{}
	for _, c := range commands {
		shapes := answersJSON[c.name]
		if taken := !c.refuses("format"); taken != (shapes != nil) {
			t.Errorf("%s takes --format: %v, and has %d schemas; say in answersJSON what it answers", c.name, taken, len(shapes))
		}
		if shapes != nil {
			if !regexp.MustCompile(`(?m)^  .*\b` + c.name + `\b`).MatchString(helpPage("json")) {
				t.Errorf("help json does not list %s", c.name)
			}
			m := &schemaMaker{t: t, comments: comments, columns: columns}
			want[filepath.Base(c.schemaFile())] = m.command(c, shapes)
		}
	}
	if t.Failed() {
		return
	}
	files, err := os.ReadDir(filepath.Join("help", "json"))
	if err != nil {
		t.Fatal(err)
	}
	have := map[string]string{}
	for _, f := range files {
		text, err := os.ReadFile(filepath.Join("help", "json", f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if have[f.Name()] = string(text); want[f.Name()] == "" {
			t.Errorf("help/json/%s is of no command; remove it", f.Name())
		}
	}
	for name, text := range want {
		switch {
		case have[name] == text:
		case *update:
			if err := os.WriteFile(filepath.Join("help", "json", name), []byte(text), 0o666); err != nil {
				t.Fatal(err)
			}
		default:
			t.Errorf("help/json/%s is not what is answered now; rewrite it with: go test ./cmd/tarebook -run Schemas -update", name)
		}
	}
}
