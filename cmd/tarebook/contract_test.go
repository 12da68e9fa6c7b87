package main

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tarebook/samples"
)

// The JSON contract: people's scripts depend on these names. Fields may be added with the contract, never renamed.
// A field of an object is written by its path; [] stands for the elements of an array.
var contract = map[string]string{
	"stock": `[].spool [].material [].colour [].maker [].place [].diameter_mm [].density_g_cm3 [].tare_g [].tare_from [].net_g
		[].u_g [].likely_g [].length_m [].u_m [].last_weighed [].drawn_since_g [].price_per_g [].value [].currency [].ended [].flags`,
	"reconcile": `[].entry [].at [].spool [].gross_g [].tare_g [].measured_g [].book_g [].variance_g [].u_g [].variance_u_g [].flags`,
	"check": `jobs jobs[].job jobs[].client jobs[].printer jobs[].due jobs[].verdict jobs[].needs
		jobs[].needs[].slot jobs[].needs[].spool jobs[].needs[].spool_from jobs[].needs[].material jobs[].needs[].colour
		jobs[].needs[].need_g jobs[].needs[].need_m jobs[].needs[].likely_g jobs[].needs[].tail_g jobs[].needs[].after_g
		jobs[].needs[].u_g jobs[].needs[].odds jobs[].needs[].verdict jobs[].needs[].runs_out_at jobs[].needs[].instead
		jobs[].needs[].spools jobs[].needs[].hands_over jobs[].needs[].in_turn
		jobs[].needs[].runs_out_in jobs[].needs[].runs_out_in.layer jobs[].needs[].runs_out_in.z_mm
		jobs[].needs[].runs_out_in.share jobs[].needs[].runs_out_in.line`,
	"waste": `by rows totals` + fields("rows[].") + fields("totals[]."),
	"plan": `printers printers[].printer printers[].feasible printers[].why printers[].assignment printers[].assignment[].slot
		printers[].assignment[].nozzle printers[].assignment[].spool printers[].loads printers[].swaps printers[].purge_g printers[].prime_g
		printers[].waste_cost printers[].currency printers[].change_s printers[].short printers[].shift printers[].shift.x_mm printers[].shift.y_mm best
		tried printers[].time_cost printers[].total_s printers[].proven printers[].assignment[].loads printers[].assignment[].need_g
		printers[].assignment[].purge_g printers[].assignment[].prime_g printers[].assignment[].purge_cost printers[].assignment[].prime_cost
		printers[].assignment[].after_g printers[].assignment[].verdict`,
	"verify": `entries problems problems[].file problems[].line problems[].entry problems[].what seals`,
}

// arguments are what a command of the contract can't go without.
var arguments = map[string][]string{
	"plan": {"branch-owl.gcode", "--load", "0=PLA-09", "--load", "1=PLA-06", "--load", "2=PLA-11"},
}

func fields(prefix string) string {
	names := strings.Fields(`key currency jobs part_g support_g prime_g purge_g scrap_g waste_g part_cost support_cost prime_cost
		purge_cost scrap_cost waste_cost unpriced_g waste_share`)
	return " " + prefix + strings.Join(names, " "+prefix)
}

func TestContract(t *testing.T) {
	t.Parallel()
	for command, want := range contract {
		t.Run(command, func(t *testing.T) {
			t.Parallel()
			dir := demo(t)
			if command == "verify" { // a problem to show
				appendLine(t, dir, "voids.csv", ",2026-11-09T08:00:00+01:00,01ARZ3NDEKTSV4RRFFQ69G5FAV,")
			}
			status, stdout, stderr := inside(t, dir, samples.DemoAsOf, append([]string{command, "--format", "json"}, arguments[command]...)...)
			if status > 1 || stderr != "" {
				t.Fatalf("status %d, stderr %s", status, stderr)
			}
			decoder := json.NewDecoder(strings.NewReader(stdout))
			var value any
			if err := decoder.Decode(&value); err != nil {
				t.Fatal(err)
			}
			if decoder.More() {
				t.Error("more than one JSON value")
			}
			got := map[string]bool{}
			paths(value, "", got)
			expected := strings.Fields(want)
			slices.Sort(expected)
			if d := cmp.Diff(expected, slices.Sorted(maps.Keys(got))); d != "" {
				t.Errorf("field names (-contract +got):\n%s", d)
			}
		})
	}
}

// paths gathers the path of every field; each element of an array must have the same.
func paths(value any, prefix string, found map[string]bool) {
	switch v := value.(type) {
	case map[string]any:
		for name, inner := range v {
			path := strings.TrimPrefix(prefix+"."+name, ".")
			found[path] = true
			paths(inner, path, found)
		}
	case []any:
		for _, inner := range v {
			paths(inner, prefix+"[]", found)
		}
	}
}

// Every object of one kind has all its fields, those not known as null: none is left out.
func TestContractLeavesNothingOut(t *testing.T) {
	t.Parallel()
	for command, array := range map[string]string{"stock": "", "reconcile": "", "check": "jobs", "waste": "rows"} {
		_, stdout, _ := inside(t, demo(t), samples.DemoAsOf, command, "--format", "json")
		var rows []map[string]any
		if array == "" {
			if err := json.Unmarshal([]byte(stdout), &rows); err != nil {
				t.Fatal(err)
			}
		} else {
			var outer map[string]json.RawMessage
			if err := json.Unmarshal([]byte(stdout), &outer); err != nil {
				t.Fatal(err)
			}
			if err := json.Unmarshal(outer[array], &rows); err != nil {
				t.Fatal(err)
			}
		}
		if len(rows) < 2 {
			t.Errorf("%s: %d rows", command, len(rows))
			continue
		}
		first := slices.Sorted(maps.Keys(rows[0]))
		for i, row := range rows {
			if d := cmp.Diff(first, slices.Sorted(maps.Keys(row))); d != "" {
				t.Errorf("%s: row %d has other fields than row 0:\n%s", command, i, d)
			}
			for name, v := range row {
				if v == nil && slices.Contains([]string{"flags", "needs", "instead"}, name) {
					t.Errorf("%s: row %d: %s is null, want []", command, i, name)
				}
			}
		}
	}
}
