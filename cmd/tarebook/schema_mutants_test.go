package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebook/inventory/booktest"
	"tarebook/inventory/cost"
	"tarebook/ledger/crash"
)

// lookLines and drawnLines are asked of drawn books, of what booktest.Draw calls its spools, jobs and clients. A book may lack one of those, so
// drawnLines may be refused.
var (
	lookLines = strings.Split(`stock --all
reconcile
check
queue list
recent
recent --all
statement --house
statement --issued
machines
machines --queue
reorder
verify
label --all`, "\n")
	drawnLines = strings.Split(`card A
card B
statement quay
statement mole --unbilled
quote one
quote two
weigh A 250 --dry-run
weigh b 120 --empty --scale coarse --dry-run
consume one A:part=7,purge=1 --dry-run
consume three --failed --dry-run
queue add five 0=PLA/sand:40 1=B+A:3 --dry-run
queue drop two --dry-run
move C box --dry-run
buy E-9 --off A --net 5 --dry-run
void --only 01K00000000000000000000001 --dry-run
seal --through 2026-01-01 --dry-run`, "\n")
)

// Answers over drawn books, full of conflicts, voids, ends and blanks, fit the schemas too.
func TestDrawnAnswersAreDescribed(t *testing.T) {
	t.Parallel()
	a := newAnswers()
	all := slices.Concat(lookLines, drawnLines)
	for _, key := range cost.GroupKeys {
		all = append(all, "waste --by "+key)
	}
	rapid.Check(t, func(r *rapid.T) {
		dir, err := crash.Folder()
		if err != nil {
			r.Fatal(err)
		}
		defer os.RemoveAll(dir)
		booktest.Write(t, dir, booktest.Draw(r))
		for range 8 {
			line := rapid.SampledFrom(all).Draw(r, "line")
			err := a.ask(t, dir, "2026-01-02T00:00:00Z", "", strings.Fields(line))
			if err != nil && !(errors.Is(err, errRefused) && slices.Contains(drawnLines, line)) {
				r.Fatalf("%s: %v", line, err)
			}
		}
	})
	t.Log(a.String())
}

// mutants fails where a mutant of an answer, in which one property is another or none, is valid: a schema must say something.
func (a *answersOf) mutants(t *testing.T) {
	mutants := 0
	compiled, written := described()
	for form, first := range a.first {
		name, answer := form.command, cut(first)
		if err := compiled[name].Validate(answer); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		root := written[name].(map[string]any)
		eachProperty(root, root, answer, func(of string, s, object map[string]any, property string) {
			was, there := object[property]
			if !there {
				return
			}
			mutant := func(what string, change func()) {
				change()
				if compiled[name].Validate(answer) == nil {
					t.Errorf("%s: valid although %s.%s is %s", name, of, property, what)
				}
				object[property] = was
				mutants++
			}
			if slices.Contains(s["required"].([]any), any(property)) {
				mutant("left out", func() { delete(object, property) })
			}
			mutant("called otherwise", func() { object[property+"x"] = was })
			delete(object, property+"x")
			mutant("an object", func() { object[property] = map[string]any{"x": 1} })
			p := s["properties"].(map[string]any)[property].(map[string]any)
			if kinds := fmt.Sprint(p["type"], p["anyOf"]); !strings.Contains(kinds, "null") {
				mutant("null", func() { object[property] = nil })
			}
			switch was.(type) {
			case string:
				mutant("a number", func() { object[property] = json.Number("1") })
				if p["enum"] != nil || p["format"] != nil {
					mutant("another word", func() { object[property] = "nonsense" })
				}
			case json.Number:
				mutant("a text", func() { object[property] = "1" })
			}
		})
	}
	t.Logf("%d mutants of %d answers", mutants, len(a.first))
}

// cut returns an answer with one element of each list.
func cut(value any) any {
	switch value := value.(type) {
	case []any:
		if len(value) > 0 {
			return []any{cut(value[0])}
		}
	case map[string]any:
		value = maps.Clone(value)
		for name, inner := range value {
			value[name] = cut(inner)
		}
		return value
	}
	return value
}
