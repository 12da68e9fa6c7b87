package main

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"tarebook/samples"
)

// What commands answer is held against the schemas that help json shows, by a validator that knows nothing of this program.

// described are the schemas as the program shows them, ready to validate, and as they are written.
var described = sync.OnceValues(func() (map[string]*jsonschema.Schema, map[string]any) {
	compiled, written := map[string]*jsonschema.Schema{}, map[string]any{}
	for _, c := range commands {
		if c.schema() == "" {
			continue
		}
		doc, err := jsonschema.UnmarshalJSON(strings.NewReader(c.schema()))
		if err != nil {
			panic(err)
		}
		compiler := jsonschema.NewCompiler()
		compiler.AssertFormat()
		url := "tarebook:///" + c.schemaFile()
		if err := compiler.AddResource(url, doc); err != nil {
			panic(err)
		}
		compiled[c.name], written[c.name] = compiler.MustCompile(url), doc
	}
	return compiled, written
})

// answersOf counts the answers that were validated, and notes what was in them.
type answersOf struct {
	count map[string]int  // by command
	seen  map[string]bool // what properties were: STRUCT.PROPERTY null, something or absent
	first map[form]any    // an answer of each form
}

// form is one of the forms of a command's answer.
type form struct{ command, schema string }

func newAnswers() *answersOf {
	return &answersOf{count: map[string]int{}, seen: map[string]bool{}, first: map[form]any{}}
}

func (a *answersOf) String() string {
	sum := 0
	for _, n := range a.count {
		sum += n
	}
	return fmt.Sprintf("%d answers of %d commands in %d forms fit their schemas", sum, len(a.count), len(a.first))
}

// errRefused means that a command line was not carried out.
var errRefused = errors.New("refused")

// ask carries out a command line with --format json and validates what it answers.
func (a *answersOf) ask(t *testing.T, dir, now, stdin string, words []string) error {
	t.Helper()
	name, _ := commandOf(words)
	compiled, written := described()
	status, stdout, stderr := insideWith(t, strings.NewReader(stdin), dir, now, append([]string{"--format", "json"}, words...)...)
	switch {
	case status == 2:
		return fmt.Errorf("%w: %s", errRefused, stderr)
	case compiled[name] == nil:
		return errors.New("it answers, and has no schema")
	}
	value, err := jsonschema.UnmarshalJSON(strings.NewReader(stdout))
	if err != nil {
		return err
	}
	if err := compiled[name].Validate(value); err != nil {
		return fmt.Errorf("the answer is not as help json says: %w", err)
	}
	a.count[name]++
	a.note(name, written[name].(map[string]any), value)
	return nil
}

// note keeps what the answer shows of the schema.
func (a *answersOf) note(name string, root map[string]any, value any) {
	of := formOf(root, root, value)
	form := form{name, fmt.Sprint(of["$ref"], of["items"])}
	if was := a.first[form]; was == nil || size(was) < size(value) && size(value) < 1<<14 {
		a.first[form] = value
	}
	eachProperty(root, root, value, func(of string, _ map[string]any, object map[string]any, property string) {
		switch value, there := object[property]; {
		case !there:
			a.seen[of+"."+property+" absent"] = true
		case value == nil:
			a.seen[of+"."+property+" null"] = true
		default:
			a.seen[of+"."+property+" something"] = true
		}
	})
}

func size(value any) int { return len(fmt.Sprint(value)) }

// resolved follows references.
func resolved(root, s map[string]any) (to map[string]any, name string) {
	for s["$ref"] != nil {
		name = strings.TrimPrefix(s["$ref"].(string), "#/$defs/")
		s = root["$defs"].(map[string]any)[name].(map[string]any)
	}
	return s, name
}

// formOf returns the alternative of a schema that a value has the looks of.
func formOf(root, s map[string]any, value any) map[string]any {
	forms, ok := s["anyOf"].([]any)
	if !ok {
		return s
	}
	for _, form := range forms {
		if form := form.(map[string]any); looks(root, form, value) {
			return form
		}
	}
	return forms[0].(map[string]any)
}

// looks reports whether a value has the looks of a schema: its type and, of an object, its properties.
func looks(root, s map[string]any, value any) bool {
	s, _ = resolved(root, s)
	switch value := value.(type) {
	case nil:
		return s["type"] == "null"
	case []any:
		return s["type"] == "array" && (len(value) == 0 || looks(root, s["items"].(map[string]any), value[0]))
	case map[string]any:
		known, _ := s["properties"].(map[string]any)
		by, _ := known["by"].(map[string]any)
		if words, ok := by["enum"].([]any); ok && !slices.Contains(words, value["by"]) {
			return false
		}
		for name := range value {
			if known[name] == nil {
				return false
			}
		}
		return known != nil
	}
	return false
}

// eachProperty calls each for every property that the objects of a value have or might have; of is the name of their schema s.
func eachProperty(root, s map[string]any, value any, each func(of string, s, object map[string]any, property string)) {
	s, of := resolved(root, formOf(root, s, value))
	switch value := value.(type) {
	case []any:
		for _, one := range value {
			eachProperty(root, s["items"].(map[string]any), one, each)
		}
	case map[string]any:
		properties := s["properties"].(map[string]any)
		for _, name := range slices.Sorted(maps.Keys(properties)) {
			each(of, s, value, name)
			if inner, ok := value[name]; ok {
				eachProperty(root, properties[name].(map[string]any), inner, each)
			}
		}
	}
}

// askedLines are command lines beside the examples of help, so that every flag that changes the form of an answer is there. Each
// runs on a demo book of its own; steps are parted by &&.
const askedLines = `
buy PLA-033 --opened --gross 612 --label 1000 --core card-1kg --material PLA --price 24.90 --dry-run
buy PLA --count 2 --material PLA --colour sand --net 1kg
weigh PLA-02 500 && weigh PLA-02 400 --dry-run && recent && card PLA-02 && void --last && recent
weigh ASA-01 196 --empty && stock asa && card ASA-01
weigh PLA-10 700 && weigh PLA-11 --discarded && reconcile
consume gear-box PLA-02:part=82.4,purge=14.9,changes=12 --dry-run
consume bellows --failed --to-percent 10 && void --last --dry-run && statement pellam
queue add gear-box 0=PLA/black:412 1=PETG/:20 2=PLA-02+PLA-09:900 --due 2026-12-01 --client pellam --printer DOOR && check && quote gear-box && queue list && recent --all
queue add soft 0=TPU/:5 1=PLA/gold:8 --printer DOOR && check soft && quote soft && reorder
queue add early 0=PLA-06+PLA-08:430 && check early && quote early
queue add bendy 0=TPU-01:5 --printer WINDOW && check bendy && quote bendy
queue add owl --from branch-owl.gcode --load 'PLA-09 PLA-06+PLA-08 PLA/brick' && check owl && quote owl && machines --queue
queue drop mill-wheel --dry-run
move PLA-02 WINDOW/1 --dry-run
define material PLA-CF density=1.18 --dry-run
define setting purge_weight PLA-06=2
seal --through 2026-10-31 --dry-run
seal --through 2026-10-31 && verify && recent --all 1
seal --through 2026-10-31 && seal --through 2026-10-31
recent 3
recent --all
recent --all --spool PLA-06
recent --all --job mill-wheel
recent --all --job nothing-of-that-name
stock
stock --all
stock --printer DOOR
stock --flag 'no tare' --sort value
stock --as-of 2026-07-01
reconcile
check
check --from branch-owl.gcode --load 0=PLA-09 --load 1=PLA-08+PLA-06 --load 2=PLA/gold --printer STAIRS
check --from market-square.gcode --load 0=PLA-09 --load 1=PLA-03+PLA-06 --load 2=PLA-11 --printer WINDOW
card PLA-06
card ASA-01
waste
waste --by printer
waste --by material
waste --by colour
waste --by spool
waste --by lot
waste --by maker
waste --by job
waste --by month
waste --by job --client nobody-of-that-name
statement pellam
statement dorrow --unbilled
statement wendle --month 2026-09 --issue --again && statement --issued && statement wendle --bill 2026-001 && verify
statement pellam --month 2026-10 --issue --dry-run
statement pellam --to 2026-10-31 --issue 2026-X && statement --bill 2026-X && statement --issued
>> clients.csv guild,The guild,0,0,, && >> purchases.csv ,2026-10-30T09:00:00+01:00,GIFT-1,PLA,gold,,,,1.75,500,,100,,SEK,,,,,, && >> consumption.csv ,2026-11-01T09:00:00+01:00,tassel,guild,ATTIC,GIFT-1,1,2,3,4,,,,,,\n,2026-11-01T10:00:00+01:00,tassel,guild,ATTIC,GIFT-1,1,2,3,4,,failed,,,,\n,2026-11-01T10:00:00+01:00,fringe,,ATTIC,GIFT-1,1,,,,,,,,, && >> weighins.csv ,2026-11-02T09:00:00+01:00,GIFT-1,500,kitchen,loaded,\n,2026-11-03T09:00:00+01:00,GIFT-1,510,kitchen,loaded,\n,2026-11-05T09:00:00+01:00,GIFT-1,400,kitchen,discarded, && statement guild && statement --house && waste --by printer && verify
>> voids.csv ,2026-11-09T08:00:00+01:00,01ARZ3NDEKTSV4RRFFQ69G5FAV, && verify
statement --issued
statement --issued --from 2030-01-01
statement --house
statement --house --month 2026-10
toolpath branch-owl.gcode
toolpath branch-owl.gcode market-square.gcode --sequence
toolpath branch-owl.gcode --load 0=PLA-09 --load 1=PLA-08+PLA-06 --load 2=PLA/brick
toolpath branch-owl.gcode --density 1.24
> bare.gcode ; filament used [mm] = 5\nG1 E5\n && toolpath bare.gcode
plan branch-owl.gcode --load 'PLA-09 PLA-06 PLA/brick' --try-spools --base-time 2h48m
plan branch-owl.gcode --load 'PLA-09 TPU-01 PLA/gold' --printer DOOR --printer GARRET --as-it-lies
plan market-square.gcode --load 'PLA-09 PLA-06+PLA-08 PLA-11' --weight PLA-06=2
> printers.csv printer,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm,price,owned,hour_cost\nWINDOW,4,500,28,0,54,1450,,,3\nDOOR,1+4,170,22,8,46,1100,,,3\nSTAIRS,1+1+1+1,60,11,13,95,420,,,3\nGARRET,2+2,10,1,9,40,900,1390,0,1 && plan branch-owl.gcode --load 'PLA-09 PLA-06 PLA-11' && machines && machines --queue
plan branch-owl.gcode --load 'PLA-09 TPU-01 PLA-11' --printer WINDOW
machines
machines --prints --month 2026-10
machines --from 2030-01-01
quote market-square
quote --from branch-owl.gcode --load 'PLA-09 PLA-06 PLA/gold' --printer DOOR
reorder
reorder --window 14
reorder --as-of 2026-07-20
import --columns --as spools
import --columns --as weighins
import --columns --as jobs
import samples/sheets/jobs.csv --as jobs --map 'job=Print,at=Ended,spool=Spool,part_g=Model (g),purge_g="Purged, all (g)",outcome=Result' --set changes=4 --dry-run
import samples/sheets/jobs.csv --as jobs --map 'job=Print,at=Ended,spool=Spool,part_g=Model (g)' --dry-run
> last.csv spool,at,state\nPLA-12,2026-11-08 17:00,discarded && import last.csv --as weighins --dry-run
import samples/sheets/weighins.csv --as weighins --map 'spool=Spool,at=Day,gross_g=On the scale' --set scale=kitchen --dry-run
import samples/sheets/spools.csv --as spools --map 'spool=Nr,at=Gekauft,material=Sorte,colour=Farbe,net_g=Neu (g)' --set tare_g=150 --decimal comma --dry-run
import samples/sheets/spools.csv --as spools --map 'spool=Nr,at=Gekauft,material=Sorte,colour=Farbe,core=Kern,net_g=Neu (g),price=Preis'
verify
label --all
label PLA-12 ASA-01
`

// written carries out a step that begins with >> or > and writes to a file of the book.
func written(t *testing.T, dir, step string) bool {
	t.Helper()
	how, rest, _ := strings.Cut(step, " ")
	file, text, _ := strings.Cut(rest, " ")
	text = strings.ReplaceAll(text, `\n`, "\n")
	switch how {
	case ">>":
		appendLine(t, dir, file, text)
	case ">":
		if err := os.WriteFile(filepath.Join(dir, file), []byte(text+"\n"), 0o666); err != nil {
			t.Fatal(err)
		}
	default:
		return false
	}
	return true
}

// lines are the examples of all commands that answer JSON, and askedLines.
func lines(t *testing.T) (all []string) {
	t.Helper()
	for _, c := range commands {
		for _, example := range c.examples {
			if c.schema() == "" || strings.Contains(example, "--html") || strings.Contains(example, "--out") || strings.Contains(example, "--by-layer") || strings.Contains(example, "--format") {
				continue
			}
			if example = strings.Replace(example, "tarebook ", "", 1); strings.Contains(example, "void --last") {
				example = "move PLA-12 'shelf A' && " + example
			}
			all = append(all, example)
		}
	}
	return append(all, strings.Split(strings.Trim(askedLines, "\n"), "\n")...)
}

// TestAnswersAreDescribed runs the lines; what is in a schema and in no answer of them is too wide, or wants a line.
func TestAnswersAreDescribed(t *testing.T) {
	t.Parallel()
	a := newAnswers()
	for _, line := range lines(t) {
		dir := demo(t)
		if err := os.CopyFS(filepath.Join(dir, "samples", "sheets"), os.DirFS(filepath.Join("..", "..", "samples", "sheets"))); err != nil {
			t.Fatal(err)
		}
		for i, step := range strings.Split(line, " && ") {
			if written(t, dir, step) {
				continue
			}
			stdin := ""
			if printed, piped, ok := strings.Cut(step, " | "); ok {
				stdin, step = strings.ReplaceAll(shellWords(printed)[1], `\n`, "\n"), strings.TrimPrefix(piped, "tarebook ")
			}
			words := shellWords(step)
			if words[0] == "init" {
				words = append(words[:1], filepath.Join(t.TempDir(), "new"))
			}
			now := strings.Replace(samples.DemoAsOf, ":00:", fmt.Sprintf(":%02d:", i), 1) // else two commands would make one entry
			if err := a.ask(t, dir, now, stdin, words); err != nil {
				t.Errorf("%s: %v", step, err)
			}
		}
	}
	t.Log(a.String())
	_, schemas := described()
	for name := range schemas {
		if a.count[name] == 0 {
			t.Errorf("no line asks %s", name)
		}
	}
	for _, c := range commands {
		if c.schema() != "" {
			continue
		}
		if status, stdout, _ := inside(t, demo(t), samples.DemoAsOf, append(shellWords(c.examples[0])[1:], "--format", "json")...); status != 2 || stdout != "" {
			t.Errorf("%s has no schema, and does not refuse --format json", c.name)
		}
	}
	a.tooWide(t, schemas)
	a.mutants(t)
}

// tooWide fails on what a schema allows and no answer has shown.
func (a *answersOf) tooWide(t *testing.T, written map[string]any) {
	missing := map[string]bool{}
	for name := range written {
		for of, def := range written[name].(map[string]any)["$defs"].(map[string]any) {
			def := def.(map[string]any)
			for property, s := range def["properties"].(map[string]any) {
				can := []string{"something"}
				if types := fmt.Sprint(s.(map[string]any)["type"], s.(map[string]any)["anyOf"]); strings.Contains(types, "null") {
					can = append(can, "null")
				}
				if !slices.Contains(def["required"].([]any), any(property)) {
					can = append(can, "absent")
				}
				for _, what := range can {
					if key := of + "." + property + " " + what; !a.seen[key] {
						missing[key] = true
					}
				}
			}
		}
	}
	for _, key := range slices.Sorted(maps.Keys(missing)) {
		t.Errorf("no answer has %s; ask for one, or say that it can't be", key)
	}
}
