package oracle

import (
	"encoding/json"
	"fmt"
	"math/big"
	"slices"
)

// hold lets the program's assignments be played: they need not be those found
// here, but must come to what is told of them, and be as good.
func (p *planner) hold(want []plan, got any, gotStatus int) []difference {
	var all []difference
	differ := func(path string, got, want any) { all = append(all, difference{path, got, want}) }
	answer, _ := got.(map[string]any)
	told, ok := answer["printers"].([]any)
	if !ok {
		return []difference{{"printers", got, "a list"}}
	}
	names := func() (list []string) {
		for _, one := range want {
			list = append(list, one.printer.get("printer"))
		}
		return list
	}()
	var toldNames []string
	record := map[string]map[string]any{}
	for _, item := range told {
		r, _ := item.(map[string]any)
		name, _ := r["printer"].(string)
		toldNames = append(toldNames, name)
		record[name] = r
	}
	if !slices.Equal(toldNames, names) {
		differ("printers order", toldNames, names)
	}
	for _, one := range want {
		name := one.printer.get("printer")
		if record[name] == nil {
			continue // told of above
		}
		for _, d := range p.holdPrinter(one, record[name]) {
			d.path = "printers[" + name + "]" + d.path
			all = append(all, d)
		}
	}
	status := 0
	if len(want) == 0 || !want[0].feasible {
		status = 1
		all = append(all, compare("best", answer["best"], nil)...)
	} else {
		all = append(all, compare("best", answer["best"], names[0])...)
		if len(want[0].best.short) > 0 {
			status = 1
		}
	}
	if p.conflicted {
		status = 1
	}
	if gotStatus != status {
		differ("status", gotStatus, status)
	}
	return all
}

func (p *planner) holdPrinter(want plan, got map[string]any) []difference {
	if all := compare(".feasible", got["feasible"], want.feasible); len(all) > 0 {
		return all
	}
	rows, ok := got["assignment"].([]any)
	if !ok {
		return []difference{{".assignment", got["assignment"], "a list"}}
	}
	if !want.feasible {
		if len(rows) > 0 {
			return []difference{{".assignment", got["assignment"], "none"}}
		}
		if why, _ := got["why"].(string); why == "" {
			return []difference{{".why", got["why"], "a reason"}}
		}
		return compare("", got, object{"shift": reach.then(nil)})
	}
	nozzles, all := p.readAssignment(rows)
	if len(all) > 0 {
		return all
	}
	if !p.fitsPrinter(want.printer, nozzles) {
		return []difference{{".assignment", fmt.Sprint(nozzles), "one within feeds and pins"}}
	}
	moved, possible := p.possible(want.printer, nozzles)
	if !possible {
		return []difference{{".assignment", fmt.Sprint(nozzles), "one within limits.csv and the nozzles' reach"}}
	}

	// What is told comes from the assignment as it is played.
	o := p.judge(want.printer, p.play(nozzles))
	o.shift = moved
	all = compare("", got, object{
		"shift":      reach.then(object{"x_mm": millimetres(moved.x), "y_mm": millimetres(moved.y)}),
		"loads":      o.loads,
		"swaps":      o.swaps,
		"purge_g":    exact{halfUp(o.purgeG, 3)},
		"prime_g":    exact{halfUp(o.primeG, 3)},
		"waste_cost": nil,
		"currency":   p.currency,
		"change_s":   exact{o.changeSeconds},
	})
	if o.cost != nil {
		all = slices.DeleteFunc(all, func(d difference) bool { return d.path == ".waste_cost" })
		all = append(all, compare(".waste_cost", got["waste_cost"], exact{halfUp(o.cost, minorDigits(p.currency))})...)
	}
	short, ok := got["short"].([]any)
	if !ok {
		all = append(all, difference{".short", got["short"], "a list"})
	}
	var gotShort, wantShort []string
	for _, s := range short {
		gotShort = append(gotShort, fold(fmt.Sprint(s)))
	}
	for _, s := range o.short {
		wantShort = append(wantShort, fold(s))
	}
	slices.Sort(gotShort)
	slices.Sort(wantShort)
	if !slices.Equal(gotShort, wantShort) {
		all = append(all, difference{".short", gotShort, wantShort})
	}

	// And nothing is better, level by level.
	switch best := want.best; {
	case len(o.short) != len(best.short):
		all = append(all, difference{".level 1 short", len(o.short), len(best.short)})
	case o.second.Cmp(best.second) != 0:
		all = append(all, difference{".level 2 waste", fmt.Sprint(nozzles, " ", o.second.FloatString(12)), fmt.Sprint(best.nozzles, " ", best.second.FloatString(12))})
	case o.changeSeconds.Cmp(best.changeSeconds) != 0:
		all = append(all, difference{".level 3 time", fmt.Sprint(nozzles, " ", o.changeSeconds.FloatString(3)), fmt.Sprint(best.nozzles, " ", best.changeSeconds.FloatString(3))})
	case o.shift.length().Cmp(best.shift.length()) != 0:
		all = append(all, difference{".level 4 shift", fmt.Sprint(nozzles, " ", o.shift.length().FloatString(4)), fmt.Sprint(best.nozzles, " ", best.shift.length().FloatString(4))})
	}
	return all
}

func millimetres(x *big.Rat) measure {
	f, _ := x.Float64()
	return measure(f)
}

// readAssignment gives nozzles from 0 by slot, -1 for one that is no number.
func (p *planner) readAssignment(rows []any) (nozzles []int, wrong []difference) {
	nozzles = make([]int, len(p.slots))
	seen := map[int]bool{}
	for _, item := range rows {
		r, _ := item.(map[string]any)
		name, _ := r["slot"].(string)
		i := slices.IndexFunc(p.slots, func(s planSlot) bool { return s.name == fold(name) })
		if i < 0 || seen[i] {
			return nil, []difference{{".assignment slot", r["slot"], "each slot once"}}
		}
		seen[i] = true
		nozzles[i] = -1
		if n, ok := r["nozzle"].(json.Number); ok {
			if x, ok := new(big.Rat).SetString(string(n)); ok && x.IsInt() && x.Num().IsInt64() {
				nozzles[i] = int(x.Num().Int64()) - 1
			}
		}
		var spool any
		if s := p.slots[i].spool; s != nil {
			spool = p.slots[i].spoolNames()
		}
		wrong = append(wrong, compare(".assignment["+name+"].spool", r["spool"], spool)...)
	}
	if len(seen) != len(p.slots) {
		wrong = append(wrong, difference{".assignment", fmt.Sprint(len(seen), " slots"), fmt.Sprint(len(p.slots), " slots")})
	}
	return nozzles, wrong
}
