package oracle

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

func (g *bookgen) place() string {
	if len(g.printers) > 0 && g.chance(0.6) {
		return g.vary(one(g, g.printers)) + "/" + g.slot()
	}
	return one(g, []string{"shelf 2", "dry box", "bench, left", "rack/top"})
}

func (g *bookgen) slot() string { return one(g, []string{"0", "1", "2", "left"}) }

func (g *bookgen) makeQueue() {
	for range 3 {
		g.dues = append(g.dues, g.anytime().Truncate(time.Hour))
	}
	for range g.IntN(9) {
		job := one(g, g.jobs)
		if g.chance(0.6) {
			job = "Auftrag " + strconv.Itoa(1+g.IntN(6)) // in no ledger but the queue
		}
		due := ""
		if g.chance(0.5) {
			due = g.stamp(one(g, g.dues))
		}
		client, printer := g.known(0.15, g.clients), g.known(0.15, g.printers)
		clock := g.anytime()
		for n := range 1 + g.IntN(4) {
			slot := g.orBlank(0.08, g.slot())
			cells := g.add("queue.csv", g.queued(job, client, printer, slot, due, clock.Add(time.Duration(n)*time.Minute)))
			if before := g.rows["queue.csv"]; n > 0 && g.chance(0.06) {
				cells["spool"] = before[len(before)-2]["spool"] // perhaps one spool for two slots
			}
			if g.chance(0.1) {
				again := g.add("queue.csv", g.queued(job, g.known(0.15, g.clients), printer, slot, due, clock.Add(time.Duration(g.IntN(90))*time.Minute)))
				if g.chance(0.3) {
					again["at"] = cells["at"]
				}
				if g.chance(0.5) {
					again["spool"], again["material"], again["colour"] = cells["spool"], cells["material"], cells["colour"]
				}
			}
		}
	}
}

func (g *bookgen) queued(job, client, printer, slot, due string, at time.Time) map[string]string {
	s := one(g, g.spools)
	size := []float64{20, 60, 300, 1200}[g.pick(6, 4, 2, 1)]
	part := g.between(0, size)
	if g.chance(0.25) {
		part = s.leftG * g.between(0.9, 1.03) // a close thing
	}
	if inTurn.on() && g.chance(0.1) {
		part = s.leftG * g.between(1, 2.5) // two or three would do
	}
	cells := map[string]string{
		"entry": g.entry(), "at": g.at(at), "job": g.vary(job), "client": client, "printer": printer, "slot": slot,
		"part_g": g.orBlank(0.05, g.grams(part)), "support_g": g.orBlank(0.6, g.grams(g.between(0, 9))),
		"prime_g": g.orBlank(0.6, g.grams(g.between(0, 4))), "purge_g": g.orBlank(0.5, g.grams(g.between(0, 22))),
		"changes": g.orBlank(0.5, strconv.Itoa(g.IntN(40))), "due": g.orBlank(0.2, due),
		"basis": one(g, []string{"sliced", "", "path"}), "file": g.orBlank(0.8, "a.gcode 1200 "+strings.Repeat("ab", 32)), "note": g.note(),
	}
	switch g.pick(4, 5, 2) {
	case 0:
		cells["spool"] = g.varyASCII(s.id)
		if g.chance(0.3) {
			cells["material"] = g.vary(s.material)
			cells["colour"] = g.orBlank(0.5, g.vary(s.colour))
		}
		if inTurn.on() && g.chance(0.5) {
			more := g.others(s)
			cells["spool"] = strings.Join(append([]string{cells["spool"]}, more...), "+")
			if g.chance(0.6) {
				cells["part_g"] = g.grams(g.between(0, s.leftG*2))
			}
		}
	case 1:
		cells["material"], cells["colour"] = g.vary(s.material), g.orBlank(0.3, g.vary(s.colour))
		if slot != "" && printer != "" && g.chance(0.3) {
			g.add("moves.csv", map[string]string{
				"entry": g.entry(), "at": g.at(g.anytime()), "spool": g.varyASCII(s.id), "place": g.vary(printer) + "/" + g.vary(slot), "note": g.note(),
			})
		}
	case 2:
		cells["material"] = g.vary(one(g, g.materials))
		cells["colour"] = g.orBlank(0.8, "mauve")
	}
	return cells
}

// makeTurns queues jobs that use spools up, one after another, and jobs behind
// them on the same spools.
func (g *bookgen) makeTurns() {
	for n := range 1 + g.IntN(4) {
		first := one(g, g.spools)
		ids := append([]string{first.id}, g.others(first)...)
		g.Shuffle(len(ids), func(i, j int) { ids[i], ids[j] = ids[j], ids[i] })
		left := 0.0
		for _, s := range g.spools {
			if slices.Contains(ids, s.id) {
				left += s.leftG
			}
		}
		due := ""
		if g.chance(0.7) {
			due = g.stamp(one(g, g.dues))
		}
		printer := g.known(0.4, g.printers)
		for m := range 1 + g.IntN(4) {
			cells := g.add("queue.csv", g.queued(fmt.Sprint("turn ", n, " ", m), "", printer, g.orBlank(0.3, g.slot()), due, g.anytime()))
			cells["part_g"], cells["purge_g"] = g.grams(left*g.between(0.1, 0.9)), g.orBlank(0.5, "3.5")
			names := ids
			if m > 0 && g.chance(0.7) {
				g.Shuffle(len(ids), func(i, j int) { ids[i], ids[j] = ids[j], ids[i] })
				names = ids[:1+g.IntN(len(ids))]
				cells["part_g"] = g.grams(left * g.between(0, 0.3))
			}
			cells["spool"] = strings.Join(names, "+")
			if g.chance(0.03) {
				for _, column := range []string{"part_g", "support_g", "prime_g", "purge_g"} {
					cells[column] = ""
				}
			}
		}
	}
}

// others names spools to follow one, as a rule of its material and colour.
func (g *bookgen) others(first *genSpool) (ids []string) {
	want := 1 + g.pick(6, 3, 1)
	strict := g.chance(0.8)
	for _, i := range g.Perm(len(g.spools)) {
		s := g.spools[i]
		if s.id != first.id && len(ids) < want && (!strict || s.material == first.material && s.colour == first.colour) {
			ids = append(ids, g.varyASCII(s.id))
		}
	}
	return ids
}

func (g *bookgen) makeMoves() {
	for range g.IntN(10) {
		move := g.add("moves.csv", map[string]string{
			"entry": g.entry(), "at": g.at(g.anytime()), "spool": g.varyASCII(one(g, g.spools).id), "place": g.place(), "note": g.note(),
		})
		if g.chance(0.15) {
			g.add("moves.csv", map[string]string{"entry": g.entry(), "at": move["at"], "spool": move["spool"], "place": g.place()})
		}
	}
}
