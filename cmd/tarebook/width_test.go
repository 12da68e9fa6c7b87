package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/mattn/go-runewidth"

	"tarebook/samples"
)

// namesOfAllLengths is the demo book with names of 1, 32 and 90 characters, in scripts whose characters take two cells too.
func namesOfAllLengths(t *testing.T) string {
	dir := demo(t)
	files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	names := map[string]string{}
	taken := map[string]int{}
	rename := func(kind, name string) string { // the same for the same, wherever it stands
		if name == "" || name == "*" {
			return name
		}
		key := kind + ":" + name
		if names[key] == "" {
			n := taken[kind]
			taken[kind]++
			names[key] = invented(n)
			if kind == "spool" {
				names[key] = inventedID(n)
			}
		}
		return names[key]
	}
	place := func(text string) string {
		if printer, slot, ok := strings.Cut(text, "/"); ok {
			return rename("printer", printer) + "/" + slot
		}
		return rename("place", text)
	}
	kinds := map[string]string{"spool": "spool", "from": "spool", "job": "job", "client": "client", "name": "client", "printer": "printer", "material": "material",
		"beside": "material", "colour": "colour", "from_colour": "colour", "to_colour": "colour", "from_material": "material", "to_material": "material", "maker": "maker", "lot": "maker", "supplier": "maker"}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows[1:] {
			for i, column := range rows[0] {
				kind := kinds[column]
				if column == "from" && filepath.Base(file) != "purchases.csv" {
					kind = ""
				}
				switch {
				case column == "place":
					row[i] = place(row[i])
				case kind == "spool":
					var ids []string
					for id := range strings.SplitSeq(row[i], "+") {
						ids = append(ids, rename(kind, id))
					}
					row[i] = strings.Join(ids, "+")
				case kind != "":
					row[i] = rename(kind, row[i])
				}
			}
		}
		var out bytes.Buffer
		if err := csv.NewWriter(&out).WriteAll(rows); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, out.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// invented is the nth name: of 1, 32 and 90 characters, none of them a digit.
func invented(n int) string {
	letter := string(rune('a' + n%26))
	fill := func(pattern string, characters int) string {
		runes := []rune(strings.Repeat(pattern, characters))
		return letter + string(runes[:characters-2]) + letter
	}
	switch n % 5 {
	case 0:
		if n < 26 {
			return letter
		}
		return fill("plain-", 32) + letter
	case 1:
		return fill("seldom-short-", 32)
	case 2:
		return fill("a long name that goes on ", 90)
	case 3:
		return fill("棚の上の長い名前", 90)
	}
	return fill("spool 🧵👩‍🔧e\u0301 ", 90)
}

func inventedID(n int) string {
	letter := string(rune('A'+n%26)) + string(rune('A'+n/26))
	if n%3 == 0 {
		return letter
	}
	return letter + strings.Repeat("-SPOOL", 6)[:28] + letter
}

func purchases(dir string) [][]string {
	data, _ := os.ReadFile(filepath.Join(dir, "purchases.csv"))
	rows, _ := csv.NewReader(bytes.NewReader(data)).ReadAll()
	return rows
}

// tablesOf are commands with every table that there is.
func tablesOf(dir, sliced string, demoIDs []string) [][]string {
	var rows [][]string
	data, _ := os.ReadFile(filepath.Join(dir, "clients.csv"))
	clients, _ := csv.NewReader(bytes.NewReader(data)).ReadAll()
	for _, c := range clients[1:3] {
		rows = append(rows, []string{"statement", c[0]}, []string{"statement", c[0], "--unbilled"})
	}
	data, _ = os.ReadFile(filepath.Join(dir, "queue.csv"))
	queue, _ := csv.NewReader(bytes.NewReader(data)).ReadAll()
	rows = append(rows, []string{"quote", queue[len(queue)-1][2]})
	spools := purchases(dir)
	var ids []string
	var drums, owls []string // the spools of other tables
	for i, row := range spools[1:] {
		ids = append(ids, row[2])
		switch demoIDs[i] {
		case "PLA-09", "PLA-11":
			owls = append(owls, row[2])
		case "PLA-08", "PLA-06":
			drums = append(drums, row[2])
		}
	}
	load := func(first, second, third string) []string {
		return []string{sliced, "--load", "0=" + first, "--load", "1=" + second, "--load", "2=" + third}
	}
	turn := strings.Join(drums, "+")
	for _, by := range []string{"client", "printer", "material", "colour", "spool", "lot", "maker", "job", "month"} {
		rows = append(rows, []string{"waste", "--by", by})
	}
	return append(rows, []string{"stock", "--all"}, []string{"check"}, []string{"reconcile"}, []string{"queue", "list"}, []string{"machines", "--prints"}, []string{"reorder"},
		[]string{"statement", "--house"}, []string{"statement", "--issued"}, []string{"statement", "--bill", "2026-001"}, []string{"recent", "40"}, []string{"recent", "--all"},
		append([]string{"card"}, ids[1]), append([]string{"card"}, ids[2]), append([]string{"toolpath"}, load(owls[0], turn, owls[1])...), append([]string{"plan"}, load(owls[0], turn, owls[1])...),
		append([]string{"check", "--from"}, load(owls[0], turn, owls[1])...), []string{"import", "--as", "spools", "--columns"})
}

var (
	verdicts = regexp.MustCompile(`(?m)^.*  (short|marginal|enough)(  .*)?$`)
	tooWide  = regexp.MustCompile(`\d…|…\d|\d~|~\d`)
)

// On terminals of 80, 100 and 120 cells no line of any table is wider, no verdict is missing, and no figure is cut, whatever the names.
func TestTablesFitTerminals(t *testing.T) {
	t.Parallel()
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	sliced := filepath.Join(root, "samples", "demo", "branch-owl.gcode")
	var demoIDs []string
	for _, row := range purchases(filepath.Dir(sliced))[1:] {
		demoIDs = append(demoIDs, row[2])
	}
	for name, book := range map[string]func(*testing.T) string{"demo": demo, "names of all lengths": func(t *testing.T) string { return namesOfAllLengths(t) }} {
		dir := book(t)
		for _, args := range tablesOf(dir, sliced, demoIDs) {
			whole := onTerminal(t, dir, 0, args)
			for _, width := range []int{80, 100, 120} {
				got := onTerminal(t, dir, width, args)
				if len(got) < 10 {
					t.Errorf("%s, %.60q at %d: it says %q", name, args, width, got)
				}
				for line := range strings.Lines(got) {
					if line = strings.TrimSuffix(line, "\n"); runewidth.StringWidth(line) > width {
						t.Errorf("%s, %.60q at %d: a line of %d cells:\n%s", name, args, width, runewidth.StringWidth(line), line)
					}
				}
				if cut := tooWide.FindString(got); cut != "" && name != "demo" { // whose ids have digits
					t.Errorf("%s, %.60q at %d: a figure is cut at %q", name, args, width, cut)
				}
				if got, want := len(verdicts.FindAllString(got, -1)), len(verdicts.FindAllString(whole, -1)); got != want {
					t.Errorf("%s, %.60q at %d: %d verdicts of %d", name, args, width, got, want)
				}
			}
		}
	}
}

// onTerminal returns what a command writes to a terminal of that width.
func onTerminal(t *testing.T, dir string, width int, args []string) string {
	t.Helper()
	var out, errs bytes.Buffer
	status := run(args, environment{
		stdin: strings.NewReader(""), stdout: &out, stderr: &errs, terminal: true, width: width, dir: dir, entropy: counting(0),
		now: func() time.Time { return at(samples.DemoAsOf) },
		getenv: func(name string) string {
			return map[string]string{"LANG": "C.UTF-8", "NO_COLOR": "1"}[name]
		},
	})
	if status == 2 {
		t.Errorf("%.200q: %s", fmt.Sprint(args), errs.String())
	}
	return out.String()
}
