package oracle

import (
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"slices"
	"strings"
	"time"
)

// The kinds of expected values say how closely the program must meet them.
type (
	object  map[string]any
	counted int64   // thousandths of a gram: exact
	guessed float64 // grams: 0.001
	measure float64 // 1e-6 relative, 1e-9 absolute
	odds    float64 // 1e-6 relative or 1e-9 absolute
	exact   struct{ *big.Rat }
	about   struct { // money reckoned from an estimate: a minor unit either way
		*big.Rat
		unit float64
	}
	roundly   float64  // 1e-6 relative, or rounded to one decimal
	flags     []string // in any order
	standing  []string // flags of a spool: those of its last weigh-in are new
	anyCase   string   // however it is cased
	ignored   struct{}
	instant   time.Time
	records   []object // in this order, told apart by identity
	unordered []object // in any order, told apart by identity
	textList  []string
)

// difference is one place where the program and this calculation part.
type difference struct {
	path      string
	got, want any
}

func (d difference) String() string {
	return fmt.Sprintf("%s: got %s, want %s", d.path, show(d.got), show(d.want))
}

func show(v any) string {
	switch v := v.(type) {
	case counted:
		return fmt.Sprintf("%.3f", float64(v)/1000)
	case exact:
		return v.FloatString(12)
	case about:
		return "about " + v.FloatString(6)
	case instant:
		return time.Time(v).Format(time.RFC3339Nano)
	case object, records:
		return "a record"
	case map[string]any:
		return "a record"
	case string:
		return fmt.Sprintf("%q", v)
	}
	return fmt.Sprint(v)
}

// compare holds what the program said (decoded with numbers kept as text)
// against what was expected. Fields that nobody expected are let pass.
func compare(path string, got, want any) []difference {
	wrong := []difference{{path, got, want}}
	number := func() *big.Rat {
		text, ok := got.(json.Number)
		if !ok {
			return nil
		}
		r, _ := new(big.Rat).SetString(string(text))
		return r
	}
	near := func(x, relative, absolute float64) []difference {
		n := number()
		if n == nil {
			return wrong
		}
		f, _ := n.Float64()
		if math.Abs(f-x) <= max(absolute, relative*math.Abs(x)) {
			return nil
		}
		return wrong
	}
	switch want := want.(type) {
	case ignored:
		return nil
	case nil:
		if got == nil {
			return nil
		}
		return wrong
	case string:
		if text, ok := got.(string); ok && text == want {
			return nil
		}
		return wrong
	case anyCase:
		if text, ok := got.(string); ok && fold(text) == fold(string(want)) {
			return nil
		}
		return wrong
	case bool:
		if b, ok := got.(bool); ok && b == want {
			return nil
		}
		return wrong
	case int:
		if n := number(); n != nil && n.Cmp(big.NewRat(int64(want), 1)) == 0 {
			return nil
		}
		return wrong
	case counted:
		if n := number(); n != nil && n.Cmp(big.NewRat(int64(want), 1000)) == 0 {
			return nil
		}
		return wrong
	case exact:
		if n := number(); n != nil && n.Cmp(want.Rat) == 0 {
			return nil
		}
		return wrong
	case about:
		x, _ := want.Float64()
		return near(x, 0, want.unit*(1+1e-6))
	case guessed:
		return near(float64(want), 1e-9, 0.001)
	case measure:
		return near(float64(want), 1e-6, 1e-9)
	case roundly:
		return near(float64(want), 1e-6, 0.05*(1+1e-6))
	case odds:
		return near(float64(want), 1e-6, 1e-9)
	case instant:
		if text, ok := got.(string); ok {
			if t, err := time.Parse(time.RFC3339Nano, text); err == nil && t.Equal(time.Time(want)) {
				return nil
			}
		}
		return wrong
	case flags:
		return compareFlags(path, got, want)
	case standing:
		all := compareFlags(path, got, flags(want))
		return slices.DeleteFunc(all, func(d difference) bool {
			return !bench.on() && (d.path == path+"[outside]" || d.path == path+"[heavier than bought]")
		})
	case textList:
		items, ok := got.([]any)
		if !ok || len(items) != len(want) {
			return wrong
		}
		for i, item := range items {
			if item != want[i] {
				return wrong
			}
		}
		return nil
	case object:
		fields, ok := got.(map[string]any)
		if !ok {
			return wrong
		}
		var all []difference
		for _, key := range sortedKeys(want) {
			field, present := fields[key]
			if _, skip := want[key].(ignored); !present && !skip {
				all = append(all, difference{path + "." + key, "no such field", want[key]})
				continue
			}
			all = append(all, compare(path+"."+key, field, want[key])...)
		}
		return all
	case records:
		return compareRecords(path, got, want)
	case unordered:
		if items, ok := got.([]any); ok {
			items = slices.Clone(items)
			slices.SortStableFunc(items, func(a, b any) int { return strings.Compare(identifyAny(a), identifyAny(b)) })
			got = items
		}
		want = slices.Clone(want)
		slices.SortStableFunc(want, func(a, b object) int {
			return strings.Compare(identifyAny(map[string]any(a)), identifyAny(map[string]any(b)))
		})
		return compareRecords(path, got, records(want))
	}
	panic(fmt.Sprintf("no way to compare %T", want))
}

// compareFlags names each flag, so that a habit shows.
func compareFlags(path string, got any, want flags) []difference {
	items, ok := got.([]any)
	if !ok {
		return []difference{{path, got, want}}
	}
	var all []difference
	seen := map[string]bool{}
	for _, item := range items {
		name := fmt.Sprint(item)
		if seen[name] {
			all = append(all, difference{path + "[" + name + "]", "twice", "once"})
		}
		seen[name] = true
		if !slices.Contains(want, name) {
			all = append(all, difference{path + "[" + name + "]", true, false})
		}
	}
	for _, name := range want {
		if !seen[name] {
			all = append(all, difference{path + "[" + name + "]", false, true})
		}
	}
	return all
}

// identity are the fields that tell records of one list apart.
var identity = []string{"machine", "spool", "entry", "job", "slot", "key", "currency"}

func identify(field func(string) any) string {
	id := ""
	for _, name := range identity {
		if text, ok := field(name).(string); ok && (name != "spool" || id == "") {
			id += name + "=" + text + " "
		}
	}
	return id
}

func identifyAny(item any) string {
	fields, _ := item.(map[string]any)
	return identify(func(name string) any { return fields[name] })
}

func compareRecords(path string, got any, want records) []difference {
	items, ok := got.([]any)
	if !ok {
		return []difference{{path, got, want}}
	}
	ids := func(n int, item func(int) func(string) any) []string {
		list := make([]string, n)
		for i := range n {
			list[i] = identify(item(i))
		}
		return list
	}
	gotIDs := ids(len(items), func(i int) func(string) any {
		fields, _ := items[i].(map[string]any)
		return func(name string) any { return fields[name] }
	})
	wantIDs := ids(len(want), func(i int) func(string) any {
		return func(name string) any { return want[i][name] }
	})
	var all []difference
	if len(items) != len(want) {
		return []difference{{path, fmt.Sprint(len(items), gotIDs), fmt.Sprint(len(want), wantIDs)}}
	}
	for i := range want {
		all = append(all, compare(fmt.Sprintf("%s[%d]", path, i), items[i], want[i])...)
	}
	if len(all) > 0 && !slices.Equal(gotIDs, wantIDs) {
		// The order alone may be what differs: say so in one line.
		a, b := slices.Sorted(slices.Values(gotIDs)), slices.Sorted(slices.Values(wantIDs))
		if slices.Equal(a, b) {
			return []difference{{path + " order", gotIDs, wantIDs}}
		}
	}
	return all
}

func sortedKeys(m object) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
