package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Arrows point down only: what each package of ours may import of ours.
var below = map[string][]string{
	"cmd/tarebook": {"reports", "inventory", "inventory/recording", "inventory/cost", "inventory/planning", "inventory/filament", "inventory/indicator",
		"inventory/sheet", "inventory/toolpath", "inventory/assign", "ledger", "samples"},
	"reports":             {"inventory", "inventory/recording", "inventory/cost", "inventory/planning", "inventory/filament", "inventory/toolpath", "inventory/assign", "ledger"},
	"inventory/recording": {"inventory", "inventory/cost", "inventory/planning", "inventory/filament", "inventory/sheet", "inventory/toolpath", "ledger"},
	"inventory/planning":  {"inventory", "inventory/cost", "inventory/assign", "inventory/filament", "inventory/toolpath", "ledger"},
	"inventory/cost":      {"inventory", "ledger"},
	"inventory":           {"ledger", "inventory/filament", "inventory/toolpath"},
	"inventory/booktest":  {"inventory", "ledger", "ledger/crash"}, // for tests
	"inventory/filament":  {},
	"inventory/indicator": {},
	"inventory/sheet":     {},
	"inventory/toolpath":  {},
	"inventory/assign":    {},
	"ledger":              {},
	"ledger/crash":        {"ledger"},
	"samples":             {"ledger"},
}

func TestArrowsPointDown(t *testing.T) {
	t.Parallel()
	const module = "tarebook/"
	root := filepath.Join("..", "..")
	seen := map[string]bool{}
	err := fs.WalkDir(os.DirFS(root), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if name != "." && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata") {
				return fs.SkipDir
			}
			return nil
		}
		if path.Ext(name) != ".go" || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		dir := path.Dir(name)
		may, ok := below[dir]
		if !ok {
			t.Errorf("%s: package %s is not in the table of packages", name, dir)
			return nil
		}
		seen[dir] = true
		file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, filepath.FromSlash(name)), nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range file.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if ours, ok := strings.CutPrefix(imported, module); ok && !slices.Contains(may, ours) {
				t.Errorf("%s: %s imports %s, which is not below it", name, dir, ours)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{"cmd/tarebook", "reports", "inventory", "inventory/recording", "inventory/planning", "inventory/cost", "ledger", "samples"} {
		if !seen[dir] {
			t.Errorf("no file of package %s was read", dir)
		}
	}
}
