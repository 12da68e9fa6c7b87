package oracle

import (
	"os"
	"slices"
	"strings"
)

// step is a part of the contract that the program takes at once.
type step string

const (
	// bench: opened spools, inheritance through winding off, water given back,
	// flags that clear, seals of numbers in their shortest form.
	bench step = "bench"
	// inTurn: several spools for one slot of the queue.
	inTurn step = "in-turn"
	// reach: plan within limits.csv and nozzles.csv, purge by material, candidates.
	reach step = "reach"
	// bills: statement by lines, waste rounded by kinds, keys, filters, bills.csv.
	bills step = "bills"
	// machines: what a period's prints would have wasted on each machine.
	machines step = "machines"
)

// pending lists the steps that the program has still to take. Delete a line and
// the program is held to that step: books hold its rows and answers are compared
// whole. The calculation itself knows no other contract than the new one.
var pending = map[step]bool{}

// on also heeds $ORACLE_STEPS, which names steps to try before their lines go,
// parted by commas; "all" is all of them.
func (s step) on() bool {
	tried := strings.Split(os.Getenv("ORACLE_STEPS"), ",")
	return !pending[s] || slices.Contains(tried, string(s)) || slices.Contains(tried, "all")
}

// then is what is expected once the program has taken the step; before that
// anything will do.
func (s step) then(want any) any {
	if s.on() {
		return want
	}
	return ignored{}
}
