package ledger

import (
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// The README's table of the shop's figures has every column of printers.csv and every setting, in the order of the code, each setting
// with its default.
func TestReadmeFigures(t *testing.T) {
	text, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, table, ok := strings.Cut(string(text), "| in | column or setting | blank or absent | what it is |\n|---|---|---|---|\n")
	if !ok {
		t.Fatal("the README has no table of the shop's figures")
	}
	table, _, _ = strings.Cut(table, "\n\n")
	names := map[string][]string{}
	defaults := &Settings{}
	file := ""
	for row := range strings.SplitSeq(table, "\n") {
		cells := strings.Split(strings.ReplaceAll(row, "`", ""), "|")
		if len(cells) != 6 || Trim(cells[4]) == "" {
			t.Fatalf("%q has not four cells, or does not say what it is", row)
		}
		if Trim(cells[1]) != "" {
			file = Trim(cells[1])
		}
		name, otherwise := Trim(cells[2]), Trim(cells[3])
		names[file] = append(names[file], name)
		if file == SettingsFile {
			if err := defaults.set(&Setting{Setting: name, Value: otherwise}); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	if got, want := names[Printers], columnsOf(&Printer{}); !slices.Equal(got, want) {
		t.Errorf("columns of printers.csv: got %q, want %q", got, want)
	}
	if got, want := names[SettingsFile], settingNames; !slices.Equal(got, want) {
		t.Errorf("settings: got %q, want %q", got, want)
	}
	if want := defaultSettings(); !reflect.DeepEqual(defaults, want) {
		t.Errorf("defaults: got %+v, want %+v", defaults, want)
	}
}
