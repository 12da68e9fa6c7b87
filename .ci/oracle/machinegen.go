package oracle

import (
	"cmp"
	"fmt"
	"math/big"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"time"
)

// writeMachineBook makes the book of a seed in dir: machines that are owned and
// others, and prints of sliced files that the book knows, as a rule.
func writeMachineBook(dir string, seed uint64) (*bookgen, error) {
	g := &bookgen{Rand: rand.New(rand.NewPCG(seed, 20261126)), rows: map[string][]map[string]string{}, ulids: map[string]bool{}}
	g.typed = []float64{0, 0.3, 1}[g.pick(4, 3, 1)]
	g.makeTables()
	g.makePlanPrinters()
	for _, cells := range g.rows["printers.csv"] {
		cells["owned"], cells["price"] = g.orBlank(0.5, "1"), g.orBlank(0.6, "899.50")
		if g.chance(0.35) {
			cells["owned"], cells["price"] = "0", g.orBlank(0.2, one(g, []string{"1290", "349.99", "0.5"}))
		}
	}
	if len(g.printers) > 1 && g.rows["printers.csv"][0]["feeds"] == g.rows["printers.csv"][1]["feeds"] {
		g.rows["printers.csv"][1]["owned"] = g.rows["printers.csv"][0]["owned"] // alike but for the name: a tie
	}
	for i, cells := range g.rows["printers.csv"] {
		for _, first := range g.rows["printers.csv"][:i] {
			if first["printer"] == cells["printer"] { // a key that stands twice says the same twice
				cells["owned"], cells["price"] = first["owned"], first["price"]
			}
		}
	}
	g.makeSpools()
	g.makeFewLeft()
	g.makeMoves()
	for _, cells := range g.rows["purchases.csv"] {
		if g.chance(0.9) {
			cells["price"] = cmp.Or(cells["price"], "24.90")
		}
		cells["currency"] = g.orBlank(0.5, g.currencies[g.pick(20, 1)%len(g.currencies)])
	}
	g.makePurges()
	if g.chance(0.5) {
		g.makeLimits()
	}
	if g.chance(0.5) {
		g.makeNozzles()
	}
	g.makePrints()
	if g.chance(0.3) {
		g.makeMess()
		g.makeVoids()
	}
	return g, g.write(dir)
}

// genFile is a sliced file: its name as rows have it, and its tools.
type genFile struct {
	file, sequence, boxes string
	tools                 []string
}

func (g *bookgen) makePrints() {
	var files []genFile
	for n := range 1 + g.IntN(4) {
		sum := strings.Repeat(fmt.Sprintf("%x", 10+n), 64)
		file := genFile{file: fmt.Sprint("print-", n, ".gcode ", 1000+n, " ", sum)}
		file.sequence = g.folded(1+g.IntN(4), 2)
		for _, tool := range unfold(file.sequence) {
			if !slices.Contains(file.tools, tool) {
				file.tools = append(file.tools, tool)
			}
		}
		if g.chance(0.5) {
			file.boxes = g.boxesText(file.tools)
		}
		files = append(files, file)
		if g.chance(0.06) {
			continue // the book does not know it
		}
		if g.chance(0.15) { // read once more, the last counts
			g.add("sliced.csv", map[string]string{"entry": g.entry(), "at": g.at(bookBegins), "file": file.file, "layers": "9", "sequence": "0 7 0 7", "boxes": ""})
		}
		g.add("sliced.csv", map[string]string{"entry": g.entry(), "at": g.at(bookBegins.Add(time.Hour)), "file": "other-name.gcode 77 " + strings.ToUpper(sum)[:60] + sum[60:], "layers": "12", "sequence": file.sequence, "boxes": file.boxes, "note": g.note()})
	}
	for n := range 4 + g.IntN(10) {
		file := one(g, files)
		job, printer, at := fmt.Sprint("print ", n), g.known(0.03, g.printers), g.at(g.anytime())
		outcome := g.orBlank(0.5, "finished")
		if g.chance(0.05) {
			outcome = "failed"
		}
		spoil := g.IntN(14)
		perm := g.Perm(len(g.spools))
		for i, tool := range file.tools {
			if spoil == 0 && i == 0 && len(file.tools) > 1 {
				continue // a tool without a row
			}
			cells := map[string]string{
				"entry": g.entry(), "at": at, "job": g.vary(job), "printer": g.vary(printer), "spool": g.varyASCII(g.spools[perm[i%len(perm)]].id), "outcome": outcome,
				"part_g": g.grams(g.between(1, 9)), "purge_g": g.orBlank(0.5, "2.5"), "slot": tool, "file": file.file, "client": g.known(0.5, g.clients),
			}
			switch {
			case spoil == 1 && i == 0:
				cells["slot"] = ""
			case spoil == 2 && i == 0:
				cells["file"] = ""
			case spoil == 3 && i > 0:
				cells["spool"] = g.spools[perm[0]].id // one spool for two slots
			}
			g.add("consumption.csv", cells)
			if spoil == 4 { // the slot goes on, on another spool or on the same
				more := g.add("consumption.csv", mapsWith(cells, "entry", g.entry()))
				more["spool"] = g.spools[perm[(i+g.IntN(2))%len(perm)]].id
				more["part_g"] = "0.75"
			}
		}
		if spoil == 5 { // of a tool that the sequence lacks
			g.add("consumption.csv", map[string]string{"entry": g.entry(), "at": at, "job": job, "printer": printer, "spool": g.spools[perm[0]].id, "outcome": outcome, "part_g": "1", "slot": "99", "file": file.file})
		}
	}
	for n := range g.IntN(6) {
		file := one(g, files)
		printer := g.known(0.05, g.printers)
		perm := g.Perm(len(g.spools))
		for i, tool := range file.tools {
			s := g.spools[perm[i%len(perm)]]
			cells := g.add("queue.csv", map[string]string{
				"entry": g.entry(), "at": g.at(g.anytime()), "job": fmt.Sprint("next ", n), "printer": printer, "slot": tool, "part_g": g.grams(g.between(1, 9)), "file": file.file,
			})
			if g.chance(0.5) {
				cells["spool"] = s.id
			} else {
				cells["material"], cells["colour"] = g.vary(s.material), g.orBlank(0.5, g.vary(s.colour))
			}
		}
	}
}

func mapsWith(cells map[string]string, column, text string) map[string]string {
	other := map[string]string{}
	for c, x := range cells {
		other[c] = x
	}
	other[column] = text
	return other
}

// folded writes a sequence of tools from 0 with parts that come more than once.
func (g *bookgen) folded(tools, depth int) string {
	var parts []string
	for range 1 + g.IntN(4) {
		if depth > 0 && g.chance(0.4) {
			parts = append(parts, "("+g.folded(tools, depth-1)+")x"+strconv.Itoa(1+g.IntN(4)))
		} else {
			parts = append(parts, strconv.Itoa(g.IntN(tools)))
		}
	}
	return strings.Join(parts, " ")
}

func (g *bookgen) boxesText(tools []string) string {
	var parts []string
	mm := func(low, high float64) string {
		return big.NewRat(int64(g.between(low, high)*100), 100).FloatString(2)
	}
	for _, tool := range tools {
		if !g.chance(0.1) { // else only towers
			parts = append(parts, strings.Join([]string{tool, mm(-8, 90), mm(90, 180), mm(-8, 90), mm(90, 180), mm(0.2, 8)}, " "))
		}
	}
	return strings.Join(parts, "; ")
}

// machineQuestions asks for a month, between days, for all and of the queue, each
// as of some instant: today bounds the days.
func machineQuestions(g *bookgen) []question {
	month := fmt.Sprintf("2026-%02d", 6+g.IntN(5))
	var list []question
	for _, q := range []question{{month: month}, {from: month + "-04", to: month + "-28"}, {from: month + "-10"}, {}, {queued: true}} {
		at := bookBegins.Add(bookSpan)
		if g.chance(0.3) {
			at = g.anytime()
			if day := at.Format(time.DateOnly); q.month != "" && day[:7] <= q.month || q.from > day {
				at = bookBegins.Add(bookSpan) // a period that has not begun has no days
			}
		}
		q.command = "machines"
		q.asOf, q.asOfText = &at, at.Format(time.RFC3339Nano)
		list = append(list, q)
	}
	return list
}
