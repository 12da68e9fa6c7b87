package oracle

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/big"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"
)

// writePlanBook makes the book of a seed in dir: spools with a past, more
// printers than usual, purges by pair, costs of an hour, weights.
func writePlanBook(dir string, seed uint64) (*bookgen, error) {
	g := &bookgen{Rand: rand.New(rand.NewPCG(seed, 20261125)), rows: map[string][]map[string]string{}, ulids: map[string]bool{}}
	g.typed = []float64{0, 0.05, 0.3, 1}[g.pick(2, 4, 3, 1)]
	g.makeTables()
	g.makePlanPrinters()
	g.makeSpools()
	g.makeFewLeft()
	g.makeMoves()
	if g.chance(0.3) {
		g.makeMess()
		g.makeVoids()
	}
	if g.chance(0.6) { // else hardly a plan would have one currency and all prices
		for _, cells := range g.rows["purchases.csv"] {
			cells["price"] = cmp.Or(cells["price"], "24.90")
			cells["currency"] = g.orBlank(0.5, g.currencies[g.pick(20, 1)%len(g.currencies)])
		}
	}
	g.makePurges()
	if reach.on() {
		g.makeLimits()
		g.makeNozzles()
	}
	if g.chance(0.25) {
		words := []string{}
		for _, i := range g.Perm(len(g.spools))[:1+g.IntN(min(3, len(g.spools)))] {
			words = append(words, g.varyASCII(g.spools[i].id)+"="+one(g, []string{"10", "2.5", "0.3", "1", "100"}))
		}
		g.add("settings.csv", map[string]string{"setting": "purge_weight", "value": strings.Join(words, one(g, []string{" ", "  "}))})
	}
	return g, g.write(dir)
}

func (g *bookgen) makePlanPrinters() {
	names := []string{"North Bench", "kiln-2", "Östra", "Straße 4", "K"}
	g.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	g.printers = names[:1+g.IntN(4)]
	g.rows["printers.csv"] = nil
	hours := g.pick(4, 4, 2) // none, all, some
	for _, p := range g.printers {
		cells := g.add("printers.csv", map[string]string{
			"printer": p, "feeds": one(g, []string{"4", "1+4", "1+1+1+1", "1", "2+2", "1+1+2", "2+3", "3", "1+1", "4+4", "2+2+2+2", "6", "7+1", "1+2+3"}),
			"purge_mm3": g.orBlank(0.15, one(g, []string{"140", "60", "230.5", "100", "1000", "50"})), "prime_mm3": g.orBlank(0.15, one(g, []string{"30", "11", "22.25", "100", "25"})),
			"swap_s": g.orBlank(0.15, one(g, []string{"12", "13.5", "0", "54"})), "load_s": g.orBlank(0.15, one(g, []string{"95.5", "46", "54", "12"})),
			"tail_mm": g.orBlank(0.3, one(g, []string{"800", "1500.5", "0", "420"})), "note": g.note(),
		})
		if hours == 1 || hours == 2 && g.chance(0.5) {
			cells["hour_cost"] = one(g, []string{"0.8", "9", "25", "0", "3.333"})
		}
	}
	if reach.on() {
		for _, cells := range g.rows["printers.csv"] {
			if g.chance(0.12) {
				cells["owned"], cells["price"] = "0", "1290"
			} else {
				cells["owned"] = g.orBlank(0.7, "1")
			}
		}
	}
	if g.chance(0.15) && len(g.printers) > 1 { // alike but for the name: a tie
		rows := g.rows["printers.csv"]
		name := rows[1]["printer"]
		rows[1] = maps.Clone(rows[0])
		rows[1]["printer"] = name
	}
	if g.chance(0.05) {
		g.add("printers.csv", maps.Clone(one(g, g.rows["printers.csv"])))
	}
}

// makeFewLeft adds spools without a past, some with little on them.
func (g *bookgen) makeFewLeft() {
	for i := range 2 + g.IntN(5) {
		like := one(g, g.spools)
		s := &genSpool{id: "F" + strconv.Itoa(i+1), material: like.material, colour: one(g, g.spools).colour, labelG: one(g, []float64{1000, 500, 40, 12, 6})}
		s.leftG = s.labelG
		s.bought = g.add("purchases.csv", map[string]string{
			"entry": g.entry(), "at": g.at(bookBegins.Add(time.Hour)), "spool": g.varyASCII(s.id), "material": g.vary(s.material), "colour": g.vary(s.colour),
			"diameter_mm": one(g, []string{"1.75", "2.85", "1.75"}), "net_g": g.over0(s.labelG), "price": g.price(), "currency": g.orBlank(0.5, one(g, g.currencies)),
		})
		g.spools = append(g.spools, s)
		if s.labelG < 500 && g.chance(0.5) {
			trueG := s.labelG
			g.consume(s, bookBegins.Add(48*time.Hour), &trueG, 1)
		}
	}
}

func (g *bookgen) makePurges() {
	if !g.chance(0.45) {
		return
	}
	colours := map[string]bool{"mauve": true}
	for _, s := range g.spools {
		if s.colour != "" {
			colours[s.colour] = true
		}
	}
	names := slices.Sorted(maps.Keys(colours))
	star := func(name string, p float64) string {
		if g.chance(p) {
			return "*"
		}
		return g.vary(name)
	}
	used := map[string]bool{}
	for range 1 + g.IntN(12) {
		printer := star(one(g, append(slices.Clone(g.printers), "Lent Box")), 0.5)
		from, to := star(one(g, names), 0.45), star(one(g, names), 0.45)
		cells := map[string]string{"printer": printer, "from_colour": from, "to_colour": to, "purge_mm3": one(g, []string{"0", "40", "77.7", "180", "300", "620"})}
		if reach.on() && g.chance(0.7) {
			cells["from_material"], cells["to_material"] = star(one(g, g.materials), 0.5), star(one(g, g.materials), 0.5)
		}
		key := fold(printer) + ":" + fold(from) + ":" + fold(to) + ":" + fold(cmp.Or(cells["from_material"], "*")) + ":" + fold(cmp.Or(cells["to_material"], "*"))
		if !used[key] {
			used[key] = true
			g.add("purges.csv", cells)
		}
	}
}

func (g *bookgen) makeLimits() {
	if !g.chance(0.45) {
		return
	}
	used := map[string]bool{}
	for range 1 + g.IntN(4) {
		cells := map[string]string{"printer": "*", "nozzle": "*", "material": g.vary(one(g, g.materials)), "why": one(g, []string{"it buckles in the feeder", "it wears a soft nozzle, fast", "does not stick to it"})}
		if g.chance(0.6) {
			cells["printer"] = g.vary(one(g, g.printers))
		}
		if g.chance(0.7) {
			cells["nozzle"] = strconv.Itoa(1 + g.IntN(2))
		}
		if g.chance(0.5) {
			cells["beside"] = g.vary(one(g, g.materials))
		}
		key := fold(strings.Join([]string{cells["printer"], cells["nozzle"], cells["material"], cells["beside"]}, ":"))
		if fold(cells["material"]) != fold(cells["beside"]) && !used[key] {
			used[key] = true
			g.add("limits.csv", cells)
		}
	}
}

// makeNozzles says where nozzles reach, on a plate of about 200 by 200 by 120 mm.
func (g *bookgen) makeNozzles() {
	if !g.chance(0.6) {
		return
	}
	seen := map[string]bool{}
	for _, printer := range g.rows["printers.csv"] {
		if seen[printer["printer"]] {
			continue
		}
		seen[printer["printer"]] = true
		for n := range strings.Count(printer["feeds"], "+") + 1 {
			if g.chance(0.25) {
				continue
			}
			mm := func(blank, low, high float64) string {
				return g.orBlank(blank, strconv.FormatFloat(math.Round(g.between(low, high)*10)/10, 'f', -1, 64))
			}
			g.add("nozzles.csv", map[string]string{
				"printer": g.vary(printer["printer"]), "nozzle": strconv.Itoa(n + 1), "note": g.note(),
				"x_min_mm": mm(0.3, -30, 60), "x_max_mm": mm(0.3, 120, 220), "y_min_mm": mm(0.3, -30, 40), "y_max_mm": mm(0.3, 150, 220), "z_max_mm": mm(0.5, 1, 12),
			})
		}
	}
}

// askPlan thinks of a print for the book as it stands.
func (g *bookgen) askPlan(f folder) (planQuestion, bool) {
	q := planQuestion{sliced: g.chance(0.3) || reach.on() && g.chance(0.3)}
	if g.chance(0.15) {
		text := one(g, g.rows["purchases.csv"])["at"]
		if len(g.rows["consumption.csv"]) > 0 && g.chance(0.7) {
			text = one(g, g.rows["consumption.csv"])["at"]
		}
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			panic(err)
		}
		q.asOf, q.asOfText = &at, text
	}
	spools := buildSpools(f, liveLedgers(f, q.asOf))
	var able []*spool
	for _, key := range slices.Sorted(maps.Keys(spools)) {
		if !spools[key].ended {
			able = append(able, spools[key])
		}
	}
	if len(able) == 0 {
		return q, false
	}
	g.Shuffle(len(able), func(i, j int) { able[i], able[j] = able[j], able[i] })

	if g.chance(0.4) {
		for _, i := range g.Perm(len(g.printers))[:1+g.IntN(len(g.printers))] {
			q.printers = append(q.printers, g.vary(g.printers[i]))
		}
	}
	slots := 1 + g.pick(2, 6, 10, 10, 8, 3, 1)
	names := []string{"body", "Rim", "größe", "0", "7", "12", "face"}
	if q.sliced {
		names = []string{"0", "1", "2", "3", "5", "10", "4"}
	}
	g.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	names = names[:slots]

	sequence := g.order(slots)
	tight := g.chance(0.45) // what is left decides
	amounts := make([]int64, slots)
	for i, name := range names {
		load := planLoad{slot: name}
		var s *spool
		s = able[min(i, len(able)-1)]
		if i < len(able) && g.chance(0.75) {
			load.filament = g.varyASCII(s.name)
			if reach.on() && i == slots-1 && g.chance(0.4) { // the others stand on no slot
				for _, next := range able[i+1:] {
					if fold(next.buy.get("material")) == fold(s.buy.get("material")) && next.diameter == s.diameter && g.chance(0.6) && strings.Count(load.filament, "+") < 3 {
						load.filament += "+" + g.varyASCII(next.name)
					}
				}
			}
		} else {
			if !q.sliced {
				s = one(g, able)
			}
			colour := g.orBlank(0.3, s.buy.get("colour"))
			if g.chance(0.08) {
				colour = "mauve"
			}
			load.filament = g.vary(s.buy.get("material")) + "/" + g.vary(colour)
		}
		q.loads = append(q.loads, load)
		amount := g.between(0, min(20, max(0, s.likely())))
		switch _, _, asked := cutLast(load.filament, "/"); {
		case tight && asked && g.chance(0.6):
			amount = g.barelyEnough(f, s, changesTo(i, sequence))
		case tight && g.chance(0.6):
			amount = g.closeThing(s, changesTo(i, sequence))
		}
		amount = min(amount, 10000) // a small k makes much of little: no file takes kilometres at once
		if q.sliced {
			amount *= 1000 / (s.area() * s.density) // mm
		}
		amounts[i] = int64(max(0, amount)*1000 + 0.5)
	}
	for _, i := range sequence {
		u := planUse{slot: names[i]}
		if !q.sliced {
			u.slot = g.vary(u.slot)
		}
		q.uses = append(q.uses, u)
	}
	g.spread(&q, sequence, amounts)

	if g.chance(0.12) {
		q.pins = map[string]int{}
		for _, i := range g.Perm(slots)[:1+g.IntN(min(2, slots))] {
			q.pins[names[i]] = 1 + g.pick(5, 5, 2, 1)
		}
	}
	if reach.on() {
		q.asItLies = g.chance(0.2)
		if q.sliced {
			q.boxes = map[string]*box{}
			for _, name := range names {
				q.boxes[name] = g.somewhere(f)
			}
			for n, u := range q.uses { // layers of 0.2 mm
				q.boxes[u.slot].zMax = big.NewRat(int64(n+1), 5)
			}
		}
	}
	if g.chance(0.12) {
		q.weights = map[string]string{g.varyASCII(able[0].name): one(g, []string{"7", "0.5", "30"})}
	}
	return q, true
}

// somewhere is a place on the plate; now and then just at the end of a reach, half
// a thousandth beyond it, or two thousandths.
func (g *bookgen) somewhere(f folder) *box {
	rat := func(low, high float64) *big.Rat { return big.NewRat(int64(g.between(low, high)*100), 100) }
	b := &box{xMin: rat(0, 90), yMin: rat(0, 90)}
	b.xMax, b.yMax = ratSum(b.xMin, rat(1, 120)), ratSum(b.yMin, rat(1, 120))
	if rows := f["nozzles.csv"]; len(rows) > 0 && g.chance(0.4) {
		r, beyond := one(g, rows), one(g, []*big.Rat{new(big.Rat), big.NewRat(1, 2000), big.NewRat(2, 1000)})
		if text := r.get("x_max_mm"); text != "" {
			b.xMax = ratSum(rational(text), beyond)
		}
		if text := r.get("y_min_mm"); text != "" && !strings.HasPrefix(text, "-") {
			if low := ratSum(rational(text), new(big.Rat).Neg(beyond)); low.Sign() > 0 && low.Cmp(b.yMax) < 0 {
				b.yMin = low
			}
		}
	}
	return b
}

// order is a sequence in which each slot is used at least once.
func (g *bookgen) order(slots int) []int {
	list := g.Perm(slots)
	switch g.pick(3, 3, 2) {
	case 0: // any after any
		for range g.IntN(30) {
			list = append(list, g.IntN(slots))
		}
	case 1: // layer by layer
		for range g.IntN(8) {
			round := g.Perm(slots)[:1+g.IntN(slots)]
			if g.chance(0.5) {
				slices.Sort(round)
			}
			list = append(list, round...)
		}
	case 2: // two slots that alternate, and now and then another
		a, b := g.IntN(slots), g.IntN(slots)
		for range g.IntN(14) {
			list = append(list, a, b)
			if g.chance(0.2) {
				list = append(list, g.IntN(slots))
			}
		}
	}
	return list
}

func changesTo(slot int, sequence []int) (changes int) {
	for i, other := range sequence {
		if i > 0 && other == slot && sequence[i-1] != slot {
			changes++
		}
	}
	return changes
}

// barelyEnough is about the most that a spool is chosen for, less some prime.
func (g *bookgen) barelyEnough(f folder, s *spool, changes int) float64 {
	low, high := 0.0, max(0, s.likely())
	for range 40 {
		middle := (low + high) / 2
		if enough, _ := s.isEnough(f, new(big.Rat).SetFloat64(middle)); enough {
			low = middle
		} else {
			high = middle
		}
	}
	prime := number(one(g, g.rows["printers.csv"])["prime_mm3"], 0) * s.density / 1000
	return low - g.between(-0.2, 1.3)*prime*float64(changes)
}

// closeThing leaves a spool about what some number of changes on some printer
// will take; now and then exactly that.
func (g *bookgen) closeThing(s *spool, changes int) float64 {
	printer := one(g, g.rows["printers.csv"])
	loads := float64(g.IntN(changes + 1))
	wasteMM3 := loads*number(printer["purge_mm3"], 0) + float64(changes)*number(printer["prime_mm3"], 0)
	left := (s.likely() - number(printer["tail_mm"], 0)*s.area()*s.density/1000) / s.estimate.k
	if g.chance(0.7) {
		left += g.NormFloat64() * 0.3
	}
	return left - wasteMM3*s.density/1000
}

// spread divides each slot's amount among its uses.
func (g *bookgen) spread(q *planQuestion, sequence []int, amounts []int64) {
	last := map[int]int{}
	for n, i := range sequence {
		last[i] = n
	}
	for n, i := range sequence {
		part := amounts[i]
		if last[i] != n {
			part = g.Int64N(part/2 + 1)
		}
		amounts[i] -= part
		if q.sliced && g.chance(0.3) {
			q.uses[n].support = g.Int64N(part + 1)
		}
		q.uses[n].part = part - q.uses[n].support
		if q.sliced && q.uses[n].part == 0 {
			q.uses[n].part = 1 // a tool that lays nothing may be no use
		}
	}
}

// writePrint puts the print down beside the book and gives the command.
func (g *bookgen) writePrint(path string, q planQuestion) ([]string, error) {
	var text string
	args := []string{"plan"}
	if q.asOf != nil {
		args = append([]string{"--as-of", q.asOfText}, args...)
	}
	if q.sliced {
		text = g.gcode(q)
		path += ".gcode"
		args = append(args, path)
	} else {
		text = g.sequenceCSV(q)
		path += ".csv"
		args = append(args, "--sequence-file", path)
	}
	loads := slices.Clone(q.loads)
	g.Shuffle(len(loads), func(i, j int) { loads[i], loads[j] = loads[j], loads[i] })
	for _, load := range loads {
		args = append(args, "--load", load.slot+"="+load.filament)
	}
	for _, printer := range q.printers {
		args = append(args, "--printer", printer)
	}
	if q.asItLies {
		args = append(args, "--as-it-lies")
	}
	for _, slot := range slices.Sorted(maps.Keys(q.pins)) {
		args = append(args, "--pin", slot+"="+strconv.Itoa(q.pins[slot]))
	}
	for _, spool := range slices.Sorted(maps.Keys(q.weights)) {
		args = append(args, "--weight", spool+"="+q.weights[spool])
	}
	return args, os.WriteFile(path, []byte(text), 0o644)
}

// sequenceCSV is written as untidily as the book's own files.
func (g *bookgen) sequenceCSV(q planQuestion) string {
	messy := 0.0
	if g.chance(0.3) {
		messy = 0.1
	}
	header := []string{"slot", "grams"}
	if g.chance(0.3) {
		header = append(header, "remark")
	}
	g.Shuffle(len(header), func(i, j int) { header[i], header[j] = header[j], header[i] })
	lines := []string{strings.Join(header, ",")}
	for _, u := range q.uses {
		cells := map[string]string{"slot": u.slot, "grams": fmt.Sprintf("%d.%03d", u.part/1000, u.part%1000), "remark": g.note()}
		var fields []string
		for _, column := range header {
			fields = append(fields, g.field(cells[column], messy))
		}
		if g.chance(messy) {
			lines = append(lines, "")
		}
		lines = append(lines, strings.Join(fields, ","))
	}
	text := strings.Join(lines, "\n")
	if g.chance(0.8) {
		text += "\n"
	}
	if g.chance(0.2) {
		text = strings.ReplaceAll(text, "\n", "\r\n")
	}
	if g.chance(0.15) {
		text = "\ufeff" + text
	}
	return text
}

// gcode lays the uses one after another, with purge and prime that a plan sets
// aside.
func (g *bookgen) gcode(q planQuestion) string {
	var b strings.Builder
	mm := func(um int64) string { return fmt.Sprintf("%d.%03d", um/1000, um%1000) }
	b.WriteString("G21\nM83\n")
	x := 0
	move := func(um int64) { // towers and lines, wherever they are
		x = 1 - x
		fmt.Fprintf(&b, "G1 X%d Y5 E%s\n", 400*x-50, mm(um))
	}
	fmt.Fprintf(&b, "G0 X0 Y0 Z0.2\n")
	for i, u := range q.uses {
		if i == 0 || q.uses[i-1].slot != u.slot || g.chance(0.2) {
			fmt.Fprintf(&b, "T%s\n", u.slot)
			if g.chance(0.5) && (i == 0 || q.uses[i-1].slot != u.slot) {
				fmt.Fprintf(&b, "G1 E%s\n", mm(g.Int64N(60000)+1)) // standing still after a change: purge
			}
			if g.chance(0.5) {
				b.WriteString("; type: prime\n")
				move(g.Int64N(9000) + 1)
			}
		}
		at := q.boxes[u.slot]
		if at == nil {
			at = &box{xMin: count(10), xMax: count(60), yMin: count(5), yMax: count(6)}
		}
		where := func(x, y *big.Rat) string { return "X" + x.FloatString(4) + " Y" + y.FloatString(4) }
		fmt.Fprintf(&b, "; type: travel\nG0 %s Z%s\n; type: wall\nG1 %s E%s\n", where(at.xMin, at.yMin), big.NewRat(int64(i+1), 5).FloatString(1), where(at.xMax, at.yMax), mm(u.part))
		if u.support > 0 {
			fmt.Fprintf(&b, "; type: support\nG1 %s E%s\n", where(at.xMin, at.yMin), mm(u.support))
		}
	}
	return b.String()
}
