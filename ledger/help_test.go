package ledger

import (
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// helpPage reads a page of help as lines.
func helpPage(t *testing.T, name string) []string {
	text, err := os.ReadFile("../cmd/tarebook/help/" + name + ".txt")
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(string(text), "\n")
}

// The page of settings has every setting in the order of the code, each with its default.
func TestHelpSettings(t *testing.T) {
	const nameEnds, valueEnds = len("  diameter_tol_mm  "), len("  diameter_tol_mm  0.95   ")
	var names []string
	defaults := &Settings{}
	for _, line := range helpPage(t, "settings") {
		if len(line) < valueEnds || !strings.HasPrefix(line, "  ") || strings.HasPrefix(line, "   ") {
			continue
		}
		name, value := Trim(line[:nameEnds]), Trim(line[nameEnds:valueEnds])
		names = append(names, name)
		if err := defaults.set(&Setting{Setting: name, Value: value}); err != nil || len(line) == valueEnds {
			t.Errorf("%q: %v, or it does not say what it is", line, err)
		}
	}
	if !slices.Equal(names, SettingNames) {
		t.Errorf("settings: got %q, want %q", names, SettingNames)
	}
	if want := defaultSettings(); !reflect.DeepEqual(defaults, want) {
		t.Errorf("defaults: got %+v, want %+v", defaults, want)
	}
}

// The page of the book has every file in the order of the code, each with its columns, and tells which may be absent.
func TestHelpBook(t *testing.T) {
	var files []string
	columns := map[string][]string{}
	file := ""
	for _, line := range helpPage(t, "book") {
		if name, about, ok := strings.Cut(line, ": "); ok && strings.HasSuffix(name, ".csv") && about != "" {
			file = name
			files = append(files, file)
		}
		switch {
		case line == "  entry, at":
			columns[file] = append(columns[file], "entry", "at")
		case line == "":
			file = ""
		case file != "" && strings.HasPrefix(line, "  ") && !strings.HasPrefix(line, "   "):
			words := strings.Fields(line)
			absent := len(words) > 1 && words[1] == "*"
			if len(words) < 2 || absent != mayBeAbsent(file, words[0]) {
				t.Errorf("%s: %q does not say what it is, or is wrong in whether it may be absent", file, line)
			}
			columns[file] = append(columns[file], words[0])
		}
	}
	if want := slices.Concat(Tables, Ledgers); !slices.Equal(files, want) {
		t.Errorf("files: got %q, want %q", files, want)
	}
	for _, file := range files {
		if got := strings.Join(columns[file], ",") + "\n"; got != Header(file) {
			t.Errorf("%s: got %swant %s", file, got, Header(file))
		}
	}
}
