package crash

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Result is what went on in the search for a violation.
type Result struct {
	States     int // made, some more than once
	Distinct   int // of them opened, each for the first time
	Violations []Violation
}

// Add adds what another search has found.
func (r *Result) Add(more Result) {
	r.States += more.States
	r.Distinct += more.Distinct
	r.Violations = append(r.Violations, more.Violations...)
}

// enough is how many violations of a history are worth reading.
const enough = 3

// Violation is a state in which a promise is broken.
type Violation struct {
	What  string
	Log   []Op // until the crash
	State Tree // what the crash has left
	start Tree
}

func (v Violation) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\nafter:\n", v.What)
	for i, op := range v.Log {
		if op.Kind != Nothing && i >= len(v.Log)-40 {
			fmt.Fprintf(&b, "\t%s\n", op)
		}
	}
	b.WriteString("the crash leaves, other than at the beginning:\n")
	names := maps.Clone(v.start)
	maps.Copy(names, v.State)
	for _, name := range slices.Sorted(maps.Keys(names)) {
		before, was := v.start[name]
		now, is := v.State[name]
		switch {
		case was && !is:
			fmt.Fprintf(&b, "\t%s gone\n", name)
		case was && now == before:
		case was && strings.HasPrefix(now, before):
			fmt.Fprintf(&b, "\t%s + %s\n", name, shown(now[len(before):]))
		default:
			fmt.Fprintf(&b, "\t%s = %s\n", name, shown(now))
		}
	}
	return b.String()
}

// shown returns a content as it is shown.
func shown(content string) string {
	if len(content) > 120 {
		return fmt.Sprintf("%q... (%d bytes)", content[:100], len(content))
	}
	return fmt.Sprintf("%q", content)
}
